"""Drying learned from what was seen: brought to 20 °C and 50 %, log-normal, and careful about shortening."""

import random
from math import exp

import pytest

from hidewright.planning.problem.drying import Seen, drying_in, learn_from
from hidewright.planning.problem.routes import Drying
from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, drying_factor

DAMP = Air(15, 0.7)


def seen(minutes: float, air: Air | None = None) -> Seen:
    return Seen("cure", minutes, air or Air())


def test_without_entries_nothing_changes() -> None:
    assert learn_from([], Drying())[0] == Drying()


@pytest.mark.parametrize("count", [1, 3, 30])
def test_entries_that_say_what_was_expected_change_nothing(count: int) -> None:
    """Otherwise a shop that notes that all is well would be given longer nights for it."""
    found, learned = learn_from([seen(840)] * count, Drying())
    assert found.cure == pytest.approx(840, rel=0.01)
    assert learned["cure"].low < 1 < learned["cure"].high


def test_slow_drying_lengthens_the_plan_more_with_every_entry() -> None:
    cures = [learn_from([seen(1260)] * n, Drying())[0].cure for n in (0, 1, 3, 10, 100)]
    assert cures == sorted(cures)
    assert cures[1] > cures[0]
    assert cures[-1] == pytest.approx(1260, rel=0.03)


def test_quick_drying_shortens_the_plan_only_as_far_as_the_entries_carry_it() -> None:
    once, often = (learn_from([seen(420)] * n, Drying()) for n in (1, 40))
    assert once[0].cure > often[0].cure > 420
    assert often[0].cure == pytest.approx(840 * often[1]["cure"].high)
    assert learn_from([seen(800)], Drying())[0].cure == 840, "one entry a little early carries nothing"


def test_what_was_seen_in_damp_air_says_no_more_than_what_was_seen_in_dry() -> None:
    """A coat that took longer only because the air was damp has taught nothing about the coat."""
    damp = seen(840 * drying_factor(DAMP), DAMP)
    assert damp.at_reference() == pytest.approx(840)
    assert learn_from([damp], Drying())[0].cure == pytest.approx(840, rel=0.01)
    planned = drying_in(Drying(), DAMP, [damp] * 20)
    assert planned.minutes("cure") == pytest.approx(damp.minutes, rel=0.02)


def test_a_changed_data_sheet_does_not_shift_what_was_seen() -> None:
    log = [seen(900)] * 60
    assert learn_from(log, Drying())[0].cure == pytest.approx(
        learn_from(log, Drying(cure=600))[0].cure, rel=0.03
    )


@pytest.mark.parametrize("entries", [1, 4, 15])
def test_the_range_of_the_next_time_holds_it_85_to_95_times_in_a_hundred(entries: int) -> None:
    """A 90 % interval holds the truth 85-95 % of the time, on simulated shops whose drying and spread are drawn at random, each time in other air."""
    rng = random.Random(entries)
    held, shops = 0, 500
    for _ in range(shops):
        factor, spread = exp(rng.gauss(-0.1, 0.35)), rng.uniform(0.2, 0.4)

        def one(factor: float = factor, spread: float = spread) -> Seen:
            air = Air(rng.uniform(15, 25), rng.uniform(0.35, 0.7))
            return Seen("colour", 40 * factor * exp(rng.gauss(0, spread)) * drying_factor(air), air)

        learned = learn_from([one() for _ in range(entries)], Drying())[1]["colour"]
        held += learned.next_low <= one().at_reference() / 40 <= learned.next_high
    assert 0.85 <= held / shops <= 0.95


@pytest.mark.parametrize(
    ("what", "minutes"), [("window", 10), ("paint", 10), ("cure", 0), ("cure", float("nan")), ("cure", 1e6)]
)
def test_what_cannot_be_is_refused(what: str, minutes: float) -> None:
    with pytest.raises(Refusal):
        Seen(what, minutes, Air())


def test_what_is_out_of_all_proportion_is_refused() -> None:
    with pytest.raises(Refusal, match="cannot be"):
        learn_from([seen(1)], Drying())
