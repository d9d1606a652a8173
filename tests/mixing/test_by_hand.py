"""Mixing by hand: figures that anybody can work out on paper, and what is refused."""

import math

import pytest

from hidewright.mixing import MixPart, MixRecipe, acts
from hidewright.mixing.again import Again
from hidewright.mixing.amounts import microlitres_of_mass, millilitres, share_out
from hidewright.mixing.grain import EndsOff, balance_grains, ends_off, smallest_cup, too_small
from hidewright.mixing.ledger import volume
from hidewright.mixing.needed import still_needed
from hidewright.mixing.portions import gun_loads
from hidewright.mixing.recipe import recipe_of
from hidewright.mixing.topup import Part, plan_top_up, runs_short
from hidewright.refusals import Refusal
from mixing.bench import bench

ML = 1000


class Made:
    """A part as the colour stage writes it."""

    def __init__(self, key: str, volume: float, density: float = 1.0) -> None:
        self.key, self.name, self.volume, self.density = key, key.title(), volume, density


def recipe(**volumes: float) -> MixRecipe:
    return recipe_of("Tan", [Made(key, volume) for key, volume in volumes.items()], base="milk")


@pytest.mark.parametrize(
    ("factors", "corrected"),
    [({"a": 1.0}, False), ({"a": 0.9}, True), ({"a": 1.1}, True), ({"a": 1.0, "b": 0.5}, True), ({}, False)],
)
def test_less_of_a_lot_is_a_correction_as_more_is(factors: dict[str, float], corrected: bool) -> None:
    assert Again({}, factors, 1.0, 0.5).corrected is corrected


def test_nothing_is_shared_out_by_a_weight_below_nothing() -> None:
    assert share_out(10, {"a": 2, "b": 3}) == {"a": 4, "b": 6}
    assert share_out(0, {"a": 2, "b": 0}) == {"a": 0, "b": 0}
    assert sum(share_out(7, {"a": 1, "b": 1, "c": 1}).values()) == 7
    for total, weights in ((10, {"a": 5, "b": -1}), (-1, {"a": 1}), (10, {"a": 0}), (10, {})):
        with pytest.raises(Refusal, match="nothing to share"):
            share_out(total, weights)


def test_what_is_in_the_cup_counts_in_how_far_off_it_ends() -> None:
    """70 mL of milk are there, 30.05 mL of tan are wanted in steps of 0.1 g of 1 g/mL: 30.0 or 30.1 mL is poured."""
    made = recipe(milk=70, tan=30.05)
    grains = balance_grains(made, 0.1)
    needed = still_needed(made, 100 * ML + 50, {"milk": 70 * ML})
    poured = {part.key: part.have + grains[part.key].whole(part.need) * 100 for part in needed.parts}
    assert poured["milk"] == 70 * ML
    total = sum(poured.values())
    off = {part.key: poured[part.key] / (part.share * total) - 1 for part in made.parts}
    worst = max(off, key=lambda key: abs(off[key]))
    found = ends_off(made, needed, grains)
    assert (found.name, found.share) == (worst.title(), pytest.approx(off[worst]))
    assert abs(found.share) < 0.002


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.0, ""), (0.0009, ""), (-0.0009, ""), (0.001, "Black ends 0.1 % too high"), (-0.25, "Black ends 25.0 % too low")],
)  # fmt: skip
def test_what_nobody_could_measure_is_not_spoken_of(share: float, words: str) -> None:
    assert EndsOff("Black", share).words == words


@pytest.mark.parametrize("black", [1.0, 3.0, 7.0, 9.7, 11.3, 13.0, 0.37])
def test_the_smallest_cup_that_is_named_is_taken(black: float) -> None:
    """The size that the page advises, to the µL, is not refused by the same page for a rounding in the last digit."""
    made = recipe(milk=100 - black, black=black)
    for step in (0.01, 0.05, 0.1, 0.3):
        grains = balance_grains(made, step)
        least = smallest_cup(made, grains)
        aim = round(least * ML)
        nearest = aim if millilitres(aim) >= least * (1 - 1e-9) else aim + 1
        assert too_small(made, nearest, grains) is None
        assert too_small(made, nearest - 2, grains) is not None


def test_an_empty_cup_has_nothing_of_anything() -> None:
    needed = still_needed(recipe(milk=90, black=10), 1000, {})
    assert [(part.have, part.need) for part in needed.parts] == [(0, 900), (0, 100)]
    assert (needed.total, needed.left, needed.foreign, needed.over) == (1000, 1000, 0, None)
    assert still_needed(recipe(milk=90, black=10), 1, {}).total == 1
    with pytest.raises(Refusal, match="must hold something"):
        still_needed(recipe(milk=90, black=10), 0, {})


@pytest.mark.parametrize(
    ("wanted", "cup", "pace"), [(0, 500, 40), (-1, 500, 40), (100, 0, 40), (100, -5, 40), (100, 500, 0), (100, 500, -1)]
)  # fmt: skip
def test_a_session_of_nothing_has_no_loads(wanted: float, cup: float, pace: float) -> None:
    for pot_life in (None, 120.0):
        with pytest.raises(Refusal, match="more than nothing"):
            gun_loads(wanted, gun_cup=cup, ml_per_minute=pace, pot_life=pot_life)


def test_what_is_there_to_the_last_digit_does() -> None:
    """Three tenths of a millilitre are enough for three pieces of a tenth, though their sum in binary digits is above it."""
    parts = [Part(f"{n}", f"Piece {n}", "", 0.1) for n in range(3)]
    assert sum(part.colour for part in parts) > 0.3
    assert runs_short(parts, 0.3) is None
    short = runs_short(parts, 0.29)
    assert short is not None
    assert (short.part.key, short.index) == ("2", 2)
    assert short.missing == pytest.approx(0.01)


def test_without_a_piece_there_is_nothing_to_top_up() -> None:
    made = MixRecipe("Tan", (MixPart("milk", "Milk", 1.0, 1.0),))
    assert plan_top_up(made, [], 0.0) is None
    assert plan_top_up(made, [], 0.0, mix=50.0) is None
    assert plan_top_up(made, [Part("p", "P", "", 100.0)], 0.0, mix=50.0) is not None


@pytest.mark.parametrize("grams", [math.nan, math.inf, -math.inf, -0.001])
def test_grams_that_no_balance_shows_are_not_weighed(grams: float) -> None:
    assert microlitres_of_mass(12.0, 1.2) == 10 * ML
    with pytest.raises(Refusal, match="cannot be weighed"):
        microlitres_of_mass(grams, 1.2)


def test_no_more_is_drawn_off_than_is_there() -> None:
    ledger = bench()
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 50 * ML))
    assert volume(ledger.added(acts.split(ledger, "cup", "gun", 50 * ML)), "gun") == 50 * ML
    for too_much in (50 * ML + 1, 200 * ML):
        with pytest.raises(Refusal):
            acts.split(ledger, "cup", "gun", too_much)
