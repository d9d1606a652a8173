"""The illustrative pigments of a new shop: what they are, that they say so, and that cups put them right."""

from dataclasses import replace

import numpy as np
import pytest

from hidewright.colour.learning.learn import Knowledge, learn
from hidewright.colour.learning.lots import USUAL as BOTTLES
from hidewright.colour.learning.lots import Lot, Stock
from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.generic import SPREAD, generic_set
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.recipes.match import MatchProblem, match
from hidewright.colour.simulate import USUAL, Shop
from hidewright.refusals import Refusal

from .test_learn_and_adjust import cups_of

PUBLISHED = {"PW6", "PBk7", "PBk11", "PR101", "PR101D"}


def masstone(key: str) -> np.ndarray:
    """Lab of the pigment alone, opaque."""
    p = next(g.pigment for g in generic_set() if g.pigment.key == key)
    return lab(seen(opaque(p.k, p.s), Surface()))


def test_each_says_that_it_is_illustrative_and_where_it_comes_from() -> None:
    assert {g.pigment.key for g in generic_set() if g.published} == PUBLISHED
    for one in generic_set():
        assert one.pigment.illustrative
        assert one.words.startswith("Generic, of no maker. ")
        assert ("nvented" in one.source) != one.published
        assert len(one.words) <= 200


def test_they_look_like_what_they_are_called() -> None:
    """Order of lightness and direction of hue only: the sizes are from memory."""
    assert masstone("PW6")[0] > 93
    assert masstone("PBk7")[0] < 27
    assert 0 < np.arctan2(*masstone("PR101")[[2, 1]]) < np.pi / 3
    assert np.arctan2(*masstone("PY42")[[2, 1]]) > np.arctan2(*masstone("PR101")[[2, 1]]) + 0.3
    assert masstone("PR101D")[0] < masstone("PR101")[0]


def test_a_tan_leather_is_in_reach() -> None:
    """A mix of the set with a bent spectrum, so that it is no exact answer."""
    known = [g.pigment for g in generic_set()]
    grams = {"PW6": 6.0, "PY42": 5.0, "PR101": 2.0, "PBk7": 0.5}
    parts = {p.key: p for p in known}
    k = sum(g * parts[key].k for key, g in grams.items())
    s = sum(g * parts[key].s for key, g in grams.items())
    wave = 1 + 0.03 * np.sin(np.arange(31) / 5)
    found = match(MatchProblem(seen(opaque(k * wave, s), Surface()), known, most=4))
    assert found.reachable
    assert min(r.delta_e["D65"] for r in found.recipes) < 0.3


def far_off(library: list[Pigment]) -> Shop:
    """A shop whose bottles are 1.6 times as strong as the list says, or as weak, by turns."""
    shop = Shop(USUAL, library, 21)
    shop.truth = {
        key: replace(p, k=p.k * 1.6 ** (-1) ** i, s=p.s * 1.6 ** (-1) ** i)
        for i, (key, p) in enumerate(shop.truth.items())
    }
    return shop


def test_cups_put_an_illustrative_pigment_right(pigments: dict[str, Pigment]) -> None:
    """Forecasts are honest from the first cup on and near after a dozen; with the spread of a drawn-down pigment they would promise far too much."""
    library = list(pigments.values())
    shop = far_off(library)
    cups = cups_of(shop, 18)

    def told(times: float, count: int) -> tuple[Knowledge, float, float]:
        """What was learned from so many cups; mean ΔE00 and the share of 90 % intervals that hold, over six later cups."""
        stock = Stock(tuple(Lot(p.key, p, times) for p in library), Base(), BOTTLES, Surface())
        known = learn(stock, cups[:count])
        off, held = [], []
        for cup in cups[12:]:
            look, real = known.forecast(cup.grams), lab(cup.sights[0].values)
            low, high = look.interval90()
            off.append(float(delta_e00(look.lab(), real)))
            held.append(np.mean((low <= real) & (real <= high)))
        return known, float(np.mean(off)), float(np.mean(held))

    for count in (0, 4):
        assert told(SPREAD, count)[2] > 0.8
        assert told(1.0, count)[2] < 0.4
    known, near, _ = told(SPREAD, 12)
    assert near < 0.5
    assert known.odd == ()


def test_a_wider_bottle_is_foretold_with_a_wider_spread(pigments: dict[str, Pigment]) -> None:
    pair = [pigments["PW6"], pigments["PR101"]]
    grams = {"PW6": 20.0, "PR101": 3.0}

    def spread(times: float) -> float:
        lots = tuple(Lot(p.key, p, times) for p in pair)
        return Knowledge.fresh(Stock(lots, Base(), BOTTLES, Surface())).forecast(grams).spread()

    assert spread(SPREAD) > 3 * spread(1.0)
    with pytest.raises(Refusal):
        Lot("PW6", pigments["PW6"], 0.0)
