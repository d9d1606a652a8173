"""What is still needed, the overshoot, the guided steps and how pours are read."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.colour.recipes.recipe import Part
from hidewright.mixing import MixPart, MixRecipe
from hidewright.mixing.amounts import microlitres, microlitres_of_mass, share_out
from hidewright.mixing.guide import Measure, drop_volume, poured, steps
from hidewright.mixing.needed import poured_over, still_needed
from hidewright.mixing.recipe import recipe_of
from hidewright.refusals import Refusal

RECIPE = MixRecipe(
    "Saddle",
    (
        MixPart("base", "Clear base", 0.82, 1.03),
        MixPart("white", "White", 0.09, 1.95),
        MixPart("umber", "Umber", 0.06, 1.45),
        MixPart("oxide", "Red oxide", 0.03, 1.6),
    ),
)


def test_an_empty_cup_wants_the_whole_recipe_to_the_microlitre() -> None:
    need = still_needed(RECIPE, 500_000, {})
    assert {p.key: p.need for p in need.parts} == {
        "base": 410_000, "white": 45_000, "umber": 30_000, "oxide": 15_000,
    }  # fmt: skip
    assert need.left == 500_000


def test_an_overshoot_is_taken_as_it_is_and_the_rest_solved_again() -> None:
    """White 54 instead of 45 mL: the cup grows by a fifth, and every other part with it."""
    need = still_needed(RECIPE, 500_000, {"base": 410_000, "white": 54_000})
    assert need.over == "white"
    assert need.total == 600_000
    assert need.grown == 100_000
    assert {p.key: p.need for p in need.parts} == {
        "base": 82_000, "white": 0, "umber": 36_000, "oxide": 18_000,
    }  # fmt: skip


def test_an_overshoot_that_does_not_fit_is_refused_with_by_how_much_and_what_to_do() -> None:
    with pytest.raises(
        Refusal, match=r"Too much White by 9\.00 mL.*600\.0 mL, 50\.0 mL more.*at least 600 mL"
    ):
        still_needed(RECIPE, 500_000, {"white": 54_000}, capacity=550_000)


def test_an_aim_that_does_not_fit_is_refused() -> None:
    with pytest.raises(Refusal, match=r"100\.0 mL too many.*bigger vessel"):
        still_needed(RECIPE, 500_000, {}, capacity=400_000)


def test_what_the_balance_cannot_tell_is_no_overshoot_and_no_shortfall() -> None:
    need = still_needed(RECIPE, 500_000, {"white": 45_020, "oxide": 14_990}, slack=30)
    assert need.over is None
    assert need.total == 500_000
    assert {p.key: p.need for p in need.parts}["oxide"] == 0


def test_strange_things_in_the_cup_are_named_and_take_room() -> None:
    need = still_needed(RECIPE, 500_000, {"violet": 2_000})
    assert need.foreign == 2_000
    with pytest.raises(Refusal):
        still_needed(RECIPE, 500_000, {"violet": 2_000}, capacity=501_000)


@given(
    st.lists(st.integers(0, 300_000), min_size=4, max_size=4),
    st.integers(10_000, 2_000_000),
)
def test_poured_to_the_end_the_cup_has_the_recipe(amounts: list[int], aim: int) -> None:
    have = dict(zip((p.key for p in RECIPE.parts), amounts, strict=True))
    need = still_needed(RECIPE, aim, have)
    final = {p.key: p.have + p.need for p in need.parts}
    assert sum(final.values()) <= need.total + len(RECIPE.parts)
    assert need.total >= aim
    for part in RECIPE.parts:
        assert final[part.key] == pytest.approx(part.share * need.total, abs=2)


@given(st.integers(0, 10**7), st.dictionaries(st.text(max_size=3), st.integers(0, 10**9), min_size=1))
def test_shares_add_up_and_take_no_more_than_there_is(total: int, weights: dict[str, int]) -> None:
    whole = sum(weights.values())
    if whole == 0:
        return
    shares = share_out(min(total, whole), weights)
    assert sum(shares.values()) == min(total, whole)
    assert all(0 <= shares[key] <= weights[key] for key in weights)


def test_steps_tell_grams_the_running_balance_and_drops() -> None:
    need = still_needed(RECIPE, 100_000, {"base": 82_000})
    told = steps(need, tare=20.0, drops={"oxide": 0.05})
    assert [s.key for s in told] == ["base", "white", "umber", "oxide"]
    assert told[0].done
    assert told[0].shows == pytest.approx(20 + 82 * 1.03)
    assert told[1].grams == pytest.approx(9 * 1.95)
    assert told[3].shows == pytest.approx(20 + 100 * RECIPE.density)
    assert told[3].drops == 60
    assert told[1].drops is None


def test_pours_are_read_as_they_are_measured() -> None:
    assert poured(12.5, Measure.VOLUME, density=1.5) == 12_500
    assert poured(15.0, Measure.BALANCE, density=1.5) == 10_000
    assert poured(115.0, Measure.BALANCE, density=1.5, shown_before=100.0) == 10_000
    assert poured(40, Measure.DROPS, density=1.5, drop=0.04) == 1_600
    with pytest.raises(Refusal, match="is less"):
        poured(99.0, Measure.BALANCE, density=1.5, shown_before=100.0)


def test_a_drop_is_calibrated_by_weighing_twenty() -> None:
    assert drop_volume(20, 1.2, 1.2) == pytest.approx(0.05)
    with pytest.raises(Refusal):
        drop_volume(3, 0.2, 1.2)
    with pytest.raises(Refusal):
        drop_volume(20, 300, 1.2)


def test_recipes_of_the_colour_stage_pour_the_base_first() -> None:
    parts = (
        Part("PBr7", "Umber", 60, 87),
        Part("PW6", "White", 120, 234),
        Part("base", "Clear base", 820, 844.6),
    )
    recipe = recipe_of("Saddle", parts)
    assert [p.key for p in recipe.parts] == ["base", "PW6", "PBr7"]
    assert sum(recipe.amounts(1_000_001).values()) == 1_000_001


def test_no_volume_is_no_volume() -> None:
    for bad in (-1.0, float("nan"), float("inf"), 2e6):
        with pytest.raises(Refusal):
            microlitres(bad)
    with pytest.raises(Refusal):
        microlitres_of_mass(5, 0)
    with pytest.raises(Refusal):
        MixRecipe("Off", (MixPart("a", "A", 0.5, 1.0),))


def test_who_went_over_is_told_by_the_order_of_the_pours() -> None:
    """White went over; what is poured afterwards to match it went over nothing, though it too stands above the first aim."""
    pours = [{"base": 410_000}, {"white": 54_000}, {"base": 82_000}, {"umber": 36_000}, {"oxide": 18_000}]
    have = {"base": 492_000, "white": 54_000, "umber": 36_000, "oxide": 18_000}
    assert still_needed(RECIPE, 500_000, have).over == "base", "the state alone cannot tell"
    assert poured_over(RECIPE, 500_000, pours) == "white"
    assert poured_over(RECIPE, 500_000, [*pours, {"umber": 6_000}]) == "umber"
    assert poured_over(RECIPE, 500_000, pours[:1]) is None
    assert poured_over(RECIPE, 500_000, [{"white": 54_000}, {"white": -9_000}]) is None
    assert poured_over(RECIPE, 500_000, [{"white": 54_000, "violet": 10}]) == "white"
