"""Which recipe comes first and which addition is called what, by the sums that the documents write down, on invented figures."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from hidewright.colour.cups.adjust import Addition, AdjustProblem, _picked
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.recipes.match import MatchProblem, _ranked
from hidewright.colour.recipes.recipe import Part, Recipe, judge
from own_films import KNOWN

LIGHTS = ("D65", "A", "FL11")
TARGET, OLD = np.linspace(0.2, 0.4, 31), np.linspace(0.15, 0.3, 31)
OWN = [KNOWN["PW6"], KNOWN["PBr7"]]


def made(rng: np.random.Generator) -> Recipe:
    """A recipe of invented figures."""
    keys = rng.choice(["PW6", "PBr7", "PY42", "PR101", "PBk7"], int(rng.integers(1, 5)), replace=False)
    parts = [Part(str(key), str(key), 10.0, 12.0) for key in keys]
    one = judge({"PW6": 120.0}, 850.0, MatchProblem(TARGET, OWN).setting)
    return replace(
        one,
        parts=(*parts, one.parts[-1]),
        delta_e={light: float(rng.uniform(0, 1.5)) for light in LIGHTS},
        coats=None if rng.random() < 0.2 else int(rng.integers(1, 13)),
        drop=float(rng.uniform(0, 3)),
        cost=Decimal(str(round(rng.uniform(1, 60), 2))),
    )


@pytest.mark.parametrize("over", [False, True])
def test_recipes_stand_in_the_order_of_the_sum_that_is_written_down(over: bool) -> None:
    """docs/science/match-and-adjust.md: 2·(ΔE00 − .1) + .5·worst other light + .15·coats + .3·a drop + .2·cost of the dearest + .1·pigments, and a step back for what is much like one before: three
    tenths of what they share above a half. No number of coats hides: thirteen; no old colour: none counts."""
    asked = MatchProblem(TARGET, OWN, old=OLD) if over else MatchProblem(TARGET, OWN)
    every = [made(np.random.default_rng(seed)) for seed in range(25)]
    every = every if over else [replace(r, coats=None) for r in every]
    dearest = max(float(r.cost) for r in every)

    def merit(r: Recipe) -> float:
        coats = 0 if not over else 13 if r.coats is None else r.coats
        found = 2 * max(r.delta_e["D65"] - 0.1, 0) + 0.5 * max(r.delta_e["A"], r.delta_e["FL11"])
        return found + 0.15 * coats + 0.3 * r.drop + 0.2 * float(r.cost) / dearest + 0.1 * len(r.pigments)

    left, told = list(every), list[Recipe]()
    while left:

        def stands(r: Recipe) -> float:
            mine = {p.key for p in r.pigments}
            alike = [len(mine & o) / len(mine | o) for o in ({p.key for p in t.pigments} for t in told)]
            return merit(r) + 0.3 * max(max(alike, default=0.0) - 0.5, 0.0)

        best = min(left, key=stands)
        told.append(best)
        left.remove(best)
    assert [every.index(r) for r in _ranked(asked, every)] == [every.index(r) for r in told]


def addition(
    delta: float, growth: float, spread: float = 0.0, pourings: int = 1, drop: float = 0.0
) -> Addition:
    return Addition(
        "", dict.fromkeys("abcd"[:pourings], 1.0), delta, growth, 0.18, spread, drop, (delta,), OLD
    )


def named(*some: Addition) -> dict[str, int]:
    """Which of these is the least, the fewest and the safest."""
    held = AdjustProblem(Contents({"PW6": 10.0}, 40.0), TARGET, [KNOWN["PW6"]], tolerance=1.0)
    return {
        why: some.index(next(o for o in some if o.growth == a.growth))
        for a in _picked(held, some)
        for why in a.why.split(", ")
    }


@pytest.mark.parametrize(("growth", "inside_wins"), [(0.49, True), (0.51, False)])
def test_an_addition_that_stays_outside_counts_as_half_a_cup_more(growth: float, inside_wins: bool) -> None:
    """Two of one risk, one just inside of the tolerance and one just outside."""
    inside, outside = addition(0.999, 0.01 + growth, drop=0.008), addition(1.001, 0.01)
    assert (named(inside, outside)["least volume"] == 0) is inside_wins


def test_the_least_the_fewest_and_the_safest_are_what_they_are_called() -> None:
    """Those whose rest and spread lie within .65 of the tolerance are enough: of them the least volume, then the fewest pourings; the safest leaves least to expect, a whole cup more for half a unit."""
    least = addition(0.3, 0.05, spread=0.5, pourings=3)
    fewest = addition(0.3, 0.2, spread=0.57, pourings=1)
    unsure = addition(0.3, 0.06, spread=0.6, pourings=1)
    safest = addition(0.1, 0.3, spread=0.1, pourings=4)
    assert np.hypot(0.3, 0.57) < 0.65 < np.hypot(0.3, 0.6)
    assert named(least, fewest, unsure, safest) == {"least volume": 0, "fewest pourings": 1, "safest": 3}
    dear = replace(safest, growth=0.3 + 2 * (np.hypot(0.3, 0.5) - np.hypot(0.1, 0.1)))
    assert named(least, fewest, unsure, dear)["safest"] == 0
    slips = replace(least, drop=4.0, growth=0.051)
    assert named(slips, fewest)["fewest pourings"] == 1
    assert named(addition(0.6, 0.1, drop=0.19), addition(0.6, 0.2, drop=0.21))["least volume"] == 0
