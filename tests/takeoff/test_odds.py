"""Odds: log-normal sums against simulation."""

from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.refusals import Refusal
from hidewright.takeoff.odds import Spread, sigma_of, sum_of


@given(st.floats(1, 1e5), st.floats(0.01, 1.0), st.floats(0, 1e4), st.floats(0.01, 0.99))
def test_quantiles_and_odds_are_inverse(median: float, sigma: float, fixed: float, odds: float) -> None:
    spread = Spread(median, sigma, fixed)
    assert spread.odds_of(spread.at(odds)) == pytest.approx(odds, abs=1e-6)


def test_the_middle_is_the_median() -> None:
    assert Spread(100, 0.3, 20).at(0.5) == pytest.approx(120)
    assert Spread(100, 0.3, 20).mean == pytest.approx(20 + 100 * exp(0.045))


def test_what_is_certain_has_odds_of_nought_or_one() -> None:
    assert Spread(0, 0, 50).odds_of(49) == 0
    assert Spread(0, 0, 50).odds_of(50) == 1
    assert Spread(100, 0.2, 50).odds_of(50) == 0


@pytest.mark.parametrize("odds", [0.0, 1.0, -1.0, 95.0, float("nan")])
def test_odds_are_a_share(odds: float) -> None:
    with pytest.raises(Refusal):
        Spread(1, 0.1).at(odds)


def test_a_curve_rises_from_nought_to_one() -> None:
    for spread in (Spread(1000, 0.25, 100), Spread(0, 0, 50), Spread(10, 0, 5)):
        quantities, odds = spread.curve()
        assert np.all(np.diff(quantities) > 0)
        assert np.all(np.diff(odds) >= 0)


def test_sums_agree_with_simulation() -> None:
    """300 000 seeded draws of 40 correlated log-normal parts; quantiles within 1 %, as `odds` promises."""
    rng = np.random.default_rng(7)
    sizes = rng.uniform(5, 80, 40)
    covariance = np.full((40, 40), sigma_of(0.25) ** 2) + np.eye(40) * sigma_of(0.17) ** 2
    means = np.full(40, -0.05)
    shared = rng.normal(0, sigma_of(0.25), (300_000, 1))
    draws = np.zeros(300_000)
    for size in sizes:
        draws += size * np.exp(-0.05 + shared[:, 0] + rng.normal(0, sigma_of(0.17), 300_000))
    found = sum_of(sizes, means, covariance)
    for odds in (0.05, 0.5, 0.9, 0.95, 0.99):
        assert found.at(odds) == pytest.approx(np.quantile(draws, odds), rel=0.01)


def test_nothing_takes_nothing() -> None:
    assert sum_of(np.zeros(3), np.zeros(3), np.eye(3)) == Spread(0.0, 0.0)
