"""Pace and drying learned from the log: honest about what is not known, and calibrated on simulated shops."""

import random
from math import exp

import pytest

from hidewright.planning.problem.drying import drying_in, drying_of, pot_life_of
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.pace import LEAST, Took, learn, learn_drying, learn_pace
from hidewright.planning.problem.routes import PACE, Drying
from hidewright.refusals import Refusal
from hidewright.safety.damp import Air


def log_of(rng: random.Random, factor: float, spread: float, count: int) -> list[Took]:
    return [Took("sand", 10.0, 10.0 * factor * exp(rng.gauss(0, spread))) for _ in range(count)]


def test_without_entries_nothing_changes() -> None:
    paces, learned = learn_pace([])
    assert paces == {kind: PACE[kind] for kind in PACE}
    assert learned[Kind.SAND].entries == 0
    assert learned[Kind.SAND].low < 1 < learned[Kind.SAND].high


def test_many_entries_tell_the_truth_and_touch_no_other_kind() -> None:
    paces, learned = learn_pace(log_of(random.Random(1), 1.6, 0.2, 400))
    assert learned[Kind.SAND].factor == pytest.approx(1.6 * exp(0.02), rel=0.03)
    assert paces[Kind.SAND].per_m2 == pytest.approx(PACE[Kind.SAND].per_m2 * learned[Kind.SAND].factor)
    assert paces[Kind.SPRAY] == PACE[Kind.SPRAY]


def test_the_range_narrows_with_entries() -> None:
    rng = random.Random(2)
    widths = [learn("sand", log_of(rng, 1.0, 0.3, n)) for n in (0, 3, 30, 300)]
    spans = [w.high / w.low for w in widths]
    assert spans == sorted(spans, reverse=True)


@pytest.mark.parametrize("entries", [2, 5, 12, 40])
def test_ninety_percent_ranges_hold_the_truth_85_to_95_percent_of_the_time(entries: int) -> None:
    """A 90 % interval holds the truth 85-95 % of the time: simulated shops whose pace and spread are drawn at random."""
    rng = random.Random(entries)
    held = next_held = 0
    shops = 600
    for _ in range(shops):
        factor, spread = exp(rng.gauss(-0.1, 0.35)), rng.uniform(0.2, 0.4)
        found = learn("sand", log_of(rng, factor, spread, entries))
        held += found.low <= factor <= found.high
        next_held += found.next_low <= factor * exp(rng.gauss(0, spread)) <= found.next_high
    assert 0.85 <= held / shops <= 0.95
    assert 0.85 <= next_held / shops <= 0.95


def test_slips_of_the_finger_are_refused() -> None:
    with pytest.raises(Refusal, match="cannot be"):
        Took("sand", 10, 10 * LEAST / 2)
    with pytest.raises(Refusal, match="above 0"):
        Took("sand", 10, 0)


def test_drying_errs_on_the_dry_side() -> None:
    drying, learned = learn_drying([Took("cure", 840, 840), Took("cure", 840, 900)])
    assert drying.cure >= 840 * learned["cure"].factor
    assert drying.colour == Drying().colour


def test_damp_air_stretches() -> None:
    assert drying_in(Drying(), Air(18, 0.75)).after(Kind.CLEAR)[0] > Drying().after(Kind.CLEAR)[0]
    assert drying_in(Drying(), Air()).factor == pytest.approx(1.0)
    with pytest.raises(Refusal):
        drying_in(Drying(), Air(20, 0.99))


def test_products_give_drying_and_pot_life() -> None:
    from hidewright import demo
    from hidewright.takeoff.products_csv import read_products

    products = read_products(demo.text("products.csv"))
    drying = drying_of(products)
    assert (drying.cure, drying.wiped, drying.colour, drying.prime) == (960, 30, 40, 30)
    assert pot_life_of(products) == {"colour": 480, "clear": 480}
