"""Advice in whole steps of what the shop has, the smallest cup that is not too small, and boxing that never runs over."""

from math import isclose

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from hidewright.mixing import MixPart, MixRecipe
from hidewright.mixing.grain import (
    BALANCE_STEPS,
    HONEST,
    Grain,
    balance_grains,
    drop_grains,
    ends_off,
    smallest_cup,
    too_small,
    volume_grains,
)
from hidewright.mixing.guide import steps
from hidewright.mixing.needed import still_needed
from hidewright.mixing.vessels import Pot, Way, pot_for, size_for, ways_to_box
from hidewright.refusals import Refusal

TAN = MixRecipe(
    "Tan",
    (
        MixPart("base", "Clear base", 0.85, 1.0),
        MixPart("white", "White", 0.1, 2.0),
        MixPart("ochre", "Ochre", 0.045, 1.5),
        MixPart("black", "Black", 0.005, 1.25),
    ),
)


@st.composite
def recipes(draw: st.DrawFn) -> MixRecipe:
    """Two to five parts in any proportion."""
    weights = draw(st.lists(st.integers(1, 1000), min_size=2, max_size=5))
    densities = draw(st.lists(st.floats(0.8, 4.0), min_size=len(weights), max_size=len(weights)))
    whole = sum(weights)
    return MixRecipe(
        "drawn",
        tuple(
            MixPart(f"p{n}", f"Part {n}", weight / whole, density)
            for n, (weight, density) in enumerate(zip(weights, densities, strict=True))
        ),
    )


@given(
    recipes(),
    st.integers(2_000, 4_000_000),
    st.sampled_from(BALANCE_STEPS),
    st.lists(st.floats(0, 1.3), min_size=5, max_size=5),
)
def test_no_advice_is_below_a_step_and_each_is_whole(
    recipe: MixRecipe, aim: int, step: float, part_way: list[float]
) -> None:
    """From any state of the cup, what is still to pour is a whole number of the balance's steps, one at least."""
    grains = balance_grains(recipe, step)
    wanted = recipe.amounts(aim)
    have = {part.key: round(wanted[part.key] * f) for part, f in zip(recipe.parts, part_way, strict=False)}
    need = still_needed(recipe, aim, have, slack={key: g.slack for key, g in grains.items()})
    for pour in steps(need, grains=grains):
        if not pour.done:
            count = pour.grams / step
            half_a_microlitre = 0.0005 * recipe.part(pour.key).density / step + 1e-9
            assert count >= 1 - half_a_microlitre
            assert abs(count - round(count)) <= half_a_microlitre


@example(
    MixRecipe(
        "half a step", (MixPart("p0", "Part 0", 1 / 364, 1.0), MixPart("p1", "Part 1", 363 / 364, 1.0))
    ),
    2000,
    0.01,
)
@given(recipes(), st.integers(2_000, 4_000_000), st.sampled_from(BALANCE_STEPS))
def test_a_cup_poured_as_advised_is_finished_and_nobody_is_blamed(
    recipe: MixRecipe, aim: int, step: float
) -> None:
    """Pouring each advised amount as shown, in turn, ends with nothing left to pour and no part said to have gone over."""
    grains = balance_grains(recipe, step)
    slack = {key: g.slack for key, g in grains.items()}
    have: dict[str, int] = {}
    for part in recipe.parts:
        need = still_needed(recipe, aim, have, slack=slack)
        pour = next(p for p in steps(need, grains=grains) if p.key == part.key)
        have[part.key] = have.get(part.key, 0) + round(1000 * pour.volume)
    end = still_needed(recipe, aim, have, slack=slack)
    assert end.over is None
    assert all(p.done for p in steps(end, grains=grains))


@given(
    recipes(),
    st.integers(20_000, 2_000_000),
    st.sampled_from((0.01, 0.1, 1.0)),
    st.integers(0, 4),
    st.floats(1.02, 1.6),
)
def test_a_cup_that_went_over_is_finished_in_one_more_round(
    recipe: MixRecipe, aim: int, step: float, which: int, by: float
) -> None:
    """One part goes over by up to six tenths; each part is then poured as shown once more at the most, and the cup is finished."""
    grains = balance_grains(recipe, step)
    slack = {key: g.slack for key, g in grains.items()}
    over = recipe.parts[which % len(recipe.parts)].key
    have = {over: round(recipe.amounts(aim)[over] * by)}
    for _ in range(2):
        for part in recipe.parts:
            need = still_needed(recipe, aim, have, slack=slack)
            pour = next(p for p in steps(need, grains=grains) if p.key == part.key)
            have[part.key] = have.get(part.key, 0) + round(1000 * pour.volume)
    end = still_needed(recipe, aim, have, slack=slack)
    assert all(p.done for p in steps(end, grains=grains))


def test_the_smallest_cup_keeps_every_part_within_a_twentieth_of_itself() -> None:
    """By hand: black is 0.5 % of the mix, 1.25 g/mL. Ten steps of 0.1 g are 1 g = 0.8 mL of black, so 160 mL of mix."""
    grains = balance_grains(TAN, 0.1)
    assert isclose(smallest_cup(TAN, grains), 160.0)
    assert too_small(TAN, 160_000, grains) is None
    found = too_small(TAN, 60_000, grains)
    assert found is not None
    words, least = found
    assert words == "Black comes to only 3.8 × 0.1 g: it may end 13 % off."
    assert isclose(least, 160.0)


@given(recipes(), st.sampled_from(BALANCE_STEPS), st.floats(1.0, 50.0))
def test_a_cup_that_is_large_enough_ends_within_what_is_promised(
    recipe: MixRecipe, step: float, times: float
) -> None:
    """From the smallest honest cup on, no part ends further off than the share that is promised (twice it for a part against the rest)."""
    grains = balance_grains(recipe, step)
    aim = round(1000 * smallest_cup(recipe, grains) * times) + 1
    off = ends_off(recipe, still_needed(recipe, aim, {}), grains)
    assert abs(off.share) <= 2.2 * HONEST


def test_drops_and_millilitres_have_their_own_grain() -> None:
    assert drop_grains(TAN, {"black": 0.04}, 0.05)["black"] == Grain(40, "1 drop")
    assert drop_grains(TAN, {}, 0.05)["white"].volume == 50
    assert volume_grains(TAN)["white"] == Grain(100, "0.1 mL")
    with pytest.raises(Refusal, match="no use here"):
        balance_grains(TAN, 0)


POTS = (
    Pot("a", "Quarter", 250_000),
    Pot("b", "Half", 500_000),
    Pot("c", "Quart", 946_353),
    Pot("d", "Bucket", 5_000_000),
)


def test_the_pot_is_the_smallest_that_leaves_room_to_stir() -> None:
    assert pot_for(POTS, 225_000) is POTS[0]
    assert pot_for(POTS, 226_000) is POTS[1]
    assert pot_for(POTS, 4_900_000) is POTS[3]
    assert pot_for(POTS, 6_000_000) is None
    assert size_for(POTS, 6_000_000) == 6_666_667


@given(
    st.integers(1_000, 2_000_000),
    st.floats(0, 1),
    st.integers(1_000, 2_000_000),
    st.floats(0, 1),
    st.sets(st.sampled_from(POTS)),
)
def test_every_way_to_box_that_is_offered_holds_both(
    cap_here: int, full_here: float, cap_there: int, full_there: float, pots: set[Pot]
) -> None:
    """There is always a way, and no way runs over."""
    here, there = (int(cap_here * full_here), cap_here), (int(cap_there * full_there), cap_there)
    ways = ways_to_box(here, there, tuple(pots))
    assert ways
    assert all(here[0] + there[0] <= way.capacity for way in ways)
    assert ways[-1].way is Way.NEW


def test_the_smaller_goes_into_the_larger_when_both_ways_fit() -> None:
    assert ways_to_box((100_000, 900_000), (400_000, 900_000), ())[0].way is Way.THERE
    assert ways_to_box((400_000, 900_000), (100_000, 900_000), ())[0].way is Way.HERE
