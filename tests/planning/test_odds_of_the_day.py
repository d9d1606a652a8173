"""The odds of the last day: read off by hand, wider with wider spreads, narrower with what was logged, and right about runs that were not counted."""

import random
from datetime import date, timedelta
from statistics import fmean, stdev

import pytest

from bench.interiors import interior
from hidewright.planning.solve.climb import FIRST
from hidewright.planning.solve.odds import FEWEST, Odds, Spreads, factor, odds_of
from hidewright.planning.solve.steps import Shop
from hidewright.refusals import Refusal

MONDAY = date(2026, 3, 2)
SHOP = Shop(interior(14, 5, 2))
CALM = Spreads(0.0, 0.0, 0, 0.0, 0.0, 0.0)


def days(*numbers: int) -> tuple[date, ...]:
    return tuple(MONDAY + timedelta(days=n) for n in numbers)


@pytest.mark.parametrize(
    ("within", "words"),
    [
        (15, "one time in two"),
        (18, "six times in ten"),
        (23, "three times in four"),
        (27, "nine times in ten"),
        (30, "nineteen times in twenty"),
    ],
)
def test_a_day_is_said_with_the_chance_that_it_has(within: int, words: str) -> None:
    """Of thirty runs; by hand (n + .5) / 31, said in the largest words that it reaches within .02."""
    first, later = date(2026, 3, 10), date(2026, 3, 12)
    odds = Odds((*[first] * within, *[later] * (30 - within)))
    assert odds.likely == first
    assert odds.likely_times == words


def test_days_are_read_off_by_hand() -> None:
    odds = Odds(days(1, 1, 1, 1, 2, 2, 2, 3, 3, 8))
    assert odds.likely == days(2)[0]
    assert odds.sure == days(3)[0]
    assert odds.by(1.0) == days(8)[0]
    assert odds.chance(days(3)[0]) == pytest.approx(9.5 / 11)
    assert 0 < odds.chance(days(0)[0]) < 0.1
    with pytest.raises(Refusal):
        odds.by(0.0)


def test_factors_have_the_mean_and_the_spread_that_were_asked_for() -> None:
    """A log-normal factor with mean 1 (Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1, 1994, chapter 14; from memory)."""
    rng = random.Random(1)
    drawn = [factor(rng, 0.25) for _ in range(20_000)]
    assert fmean(drawn) == pytest.approx(1.0, abs=0.01)
    assert stdev(drawn) == pytest.approx(0.25, abs=0.01)
    assert factor(rng, 0.0) == 1.0


def test_without_any_spread_every_run_ends_on_one_day() -> None:
    odds = odds_of(SHOP, FIRST[0], CALM, runs=14)
    assert odds is not None
    assert len(set(odds.days)) == 1


def test_wider_spreads_make_the_sure_day_later() -> None:
    calm = odds_of(SHOP, FIRST[0], CALM, runs=14)
    wild = odds_of(SHOP, FIRST[0], Spreads(0.5, 0.4, 0, 0.2, 0.1, 0.5), runs=30)
    assert calm is not None
    assert wild is not None
    assert wild.sure > calm.sure


def test_five_logged_jobs_halve_what_is_shared() -> None:
    assert Spreads(logged=5).shared <= 0.5 * Spreads().shared
    assert Spreads(logged=1).shared < Spreads().shared


def test_the_days_hold_for_runs_that_were_not_counted() -> None:
    """Fresh runs with other seeds: by the likely day about half are done, by the sure day nine in ten. Days are whole, so that more may be done by them, never far fewer."""
    odds = odds_of(SHOP, FIRST[0], Spreads(), runs=60, seed=1)
    fresh = odds_of(SHOP, FIRST[0], Spreads(), runs=60, seed=2)
    assert odds is not None
    assert fresh is not None
    done = [sum(day <= by for day in fresh.days) / len(fresh.days) for by in (odds.likely, odds.sure)]
    assert done[0] >= 0.35
    assert done[1] >= 0.8


def test_however_little_time_there_is_the_odds_are_read_off_twenty_runs() -> None:
    odds = odds_of(SHOP, FIRST[0], Spreads(), should_stop=lambda: True)
    assert odds is not None
    assert len(odds.days) == FEWEST


@pytest.mark.parametrize("facts", [{"pace": -0.1}, {"bias": 3.0}, {"snags": 0.9}, {"logged": -1}])
def test_spreads_that_cannot_be_are_refused(facts: dict[str, float]) -> None:
    with pytest.raises(Refusal):
        Spreads(**facts)  # type: ignore[arg-type]
