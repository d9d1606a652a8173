"""What hands use up is learned: textbook normal update, spread that only shrinks, slips refused."""

from math import exp, log, sqrt

import pytest

from hidewright.refusals import Refusal
from hidewright.takeoff.byhand import Used, figures_learned, learn_by_hand
from hidewright.takeoff.howmuch import STRIPPER_SD
from hidewright.takeoff.odds import sigma_of


def test_nothing_logged_is_the_starting_value_and_spread() -> None:
    found = learn_by_hand("stripper", [])
    assert (found.middle, found.jobs) == (1.0, 0)
    assert found.factor.sigma == pytest.approx(sigma_of(STRIPPER_SD))
    assert figures_learned({"stripper": found}) == {}


def test_each_job_moves_the_mean_as_the_textbook_says() -> None:
    """Normal data with known variance (Gelman et al., Bayesian Data Analysis, §2.5); prior and data variance alike: n/(n+1) of the way."""
    for n in range(1, 6):
        found = learn_by_hand("cleaner", [Used(1.5, 1.0)] * n)
        assert log(found.middle) == pytest.approx(n / (n + 1) * log(1.5))
        half = sigma_of(0.2) ** 2 / 2
        assert found.factor.sigma == pytest.approx(sqrt(half / (n + 1) + half))
        assert found.low < found.middle < found.high
    assert figures_learned({"cleaner": found}) == {
        "clean_ml": pytest.approx(60 * exp(5 / 6 * log(1.5)), abs=0.01)
    }


@pytest.mark.parametrize(("amount", "base"), [(0, 1), (-1, 1), (1, 0), (1000, 1), (0.001, 1)])
def test_slips_are_refused(amount: float, base: float) -> None:
    with pytest.raises(Refusal):
        Used(amount, base)
