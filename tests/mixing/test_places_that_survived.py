"""Places at which a fault put in was noticed by no test: each has its own now."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.mixing import acts
from hidewright.mixing.grain import BALANCE_STEPS, balance_grains, too_small
from hidewright.mixing.guide import Measure, poured
from hidewright.mixing.ledger import Entry, Ledger, Move, volume
from hidewright.mixing.portions import gun_loads
from hidewright.mixing.recipe import recipe_of
from hidewright.refusals import Refusal
from hidewright.safety.finish import Check, compare
from hidewright.takeoff.together import shared, together
from mixing.bench import ML, bench


class Part:
    """A part as the colour stage writes it."""

    def __init__(self, key: str, volume: float) -> None:
        self.key, self.name, self.volume, self.density = key, key.title(), volume, 1.0


def test_a_full_vessel_that_gives_back_needs_no_room_of_its_own() -> None:
    """One entry fills two vessels to the brim; taking it back empties both, whatever each of them holds."""
    ledger = bench(cup=100, other=50, gun=50)
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 100 * ML))
    moves = tuple(Move("cup", place, "base", 50 * ML) for place in ("other", "gun"))
    made = Entry(ledger.next_number, acts.split(ledger, "cup", "gun", ML).act, moves)
    after: Ledger = ledger.added(made)
    assert (volume(after, "other"), volume(after, "gun"), volume(after, "cup")) == (50 * ML, 50 * ML, 0)
    back = after.added(acts.counter(after, made.number))
    assert (volume(back, "other"), volume(back, "gun"), volume(back, "cup")) == (0, 0, 100 * ML)


def test_drops_of_a_bottle_that_was_not_calibrated_are_twenty_a_millilitre() -> None:
    assert poured(20, Measure.DROPS, density=1.2) == 1000
    assert poured(20, Measure.DROPS, density=1.2, drop=0.04) == 800


@given(
    st.integers(1, 40),
    st.floats(80, 1200),
    st.floats(0.0, 0.5),
    st.floats(5, 90),
    st.none() | st.floats(20, 400),
)
def test_what_fills_so_many_loads_exactly_is_split_into_so_many(
    count: int, cup: float, ratio: float, pace: float, pot_life: float | None
) -> None:
    """The load of one is the biggest there is: a rounding in the last digit makes no further, empty-handed load."""
    limits = {"gun_cup": cup, "ml_per_minute": pace, "ratio": ratio, "pot_life": pot_life}
    room = cup / (1 + ratio)
    biggest = room if pot_life is None else min(room, pot_life * 0.75 * pace)
    loads = gun_loads(count * biggest, **limits)  # type: ignore[arg-type]
    assert len(loads) == count
    assert sum(load.colour for load in loads) == pytest.approx(count * biggest)
    assert len(gun_loads(count * biggest * 1.001, **limits)) == count + 1  # type: ignore[arg-type]


def test_the_base_is_the_one_that_is_named() -> None:
    parts = [Part("milk", 700), Part("tan", 250), Part("black", 50)]
    assert [p.key for p in recipe_of("Tan", parts, base="milk").parts] == ["milk", "tan", "black"]
    assert [p.key for p in recipe_of("Tan", parts, base="tan").parts] == ["tan", "milk", "black"]
    assert [p.key for p in recipe_of("Tan", parts).parts] == ["black", "milk", "tan"]


@pytest.mark.parametrize(
    ("units", "bands"),
    [
        (0, "flat or matt"), (5, "flat or matt"), (5.1, "matt"), (9.9, "matt"), (10, "matt or eggshell"), (10.1, "eggshell"), (19.9, "eggshell"),
        (20, "eggshell or satin"), (25, "eggshell or satin"), (25.1, "satin"), (34.9, "satin"), (35, "satin or semi-gloss"), (35.1, "semi-gloss"),
        (69.9, "semi-gloss"), (70, "semi-gloss or gloss"), (70.1, "gloss"), (100, "gloss"),
    ],
)  # fmt: skip
def test_every_band_of_gloss_ends_where_the_trade_has_it_end(units: float, bands: str) -> None:
    """Common practice, no source; the bands overlap on purpose."""
    assert compare(Check.GLOSS, f"{units}").words == f"{units:g} units: {bands}"


def test_no_colour_is_no_forecast() -> None:
    with pytest.raises(Refusal, match="no colour"):
        together([], None)  # type: ignore[arg-type]


def test_the_entry_to_take_back_first_is_the_last_one_that_drew_from_the_cup_and_still_counts() -> None:
    """Neither one that went elsewhere, nor one that was taken back itself, nor the taking back, is named."""
    ledger = bench()
    for entry in (
        lambda now: acts.pour(now, "cup", "base", 50 * ML),  # 1
        lambda now: acts.pour(now, "other", "base", 50 * ML),  # 2
        lambda now: acts.use(now, "cup", 40 * ML),  # 3, the one that matters
        lambda now: acts.pour(now, "cup", "tan", 5 * ML),  # 4
        lambda now: acts.counter(now, 4),  # 5 takes the tan out of the cup again
        lambda now: acts.use(now, "other", 10 * ML),  # 6 draws from another cup
    ):
        ledger = ledger.added(entry(ledger))
    with pytest.raises(Refusal) as refused:
        acts.counter(ledger, 1)
    assert refused.value.remedy == "Take back entry 3 first."


def test_a_part_of_which_nothing_can_be_measured_may_end_wholly_off() -> None:
    parts = [Part("milk", 9999), Part("black", 1)]
    recipe = recipe_of("Tan", parts, base="milk")
    grains = balance_grains(recipe, 0.1)
    words, least = too_small(recipe, 2, grains)  # type: ignore[misc]
    assert words.startswith("Black comes to only 0.0 ×")
    assert words.endswith("100 % off.")
    assert too_small(recipe, int(least * ML) + 1, grains) is None


def test_the_steps_of_balances_that_are_sold_go_one_two_five() -> None:
    """Common practice, no source: the digits of a balance are 1, 2 or 5 of a power of ten."""
    wanted = [digit * 10**power for power in (-2, -1, 0) for digit in (1, 2, 5)]
    assert pytest.approx(wanted) == BALANCE_STEPS


def test_parts_of_nothing_have_equal_shares() -> None:
    assert shared([(0.0, {"a": 1.0}), (0.0, {"b": 1.0})]) == {"a": 0.5, "b": 0.5}
    assert shared([(300.0, {"a": 0.5, "b": 0.5}), (100.0, {"b": 1.0})]) == pytest.approx(
        {"a": 0.375, "b": 0.625}
    )
