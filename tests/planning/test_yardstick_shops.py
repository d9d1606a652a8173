"""The simulated shops by which odds of days are judged: their spreads are those that they say."""

import random
from statistics import mean, pstdev

import pytest

from bench.readings import READINGS
from bench.simulated_shops import EACH_KIND, SHOPS_BIAS, SimulatedShop, drawn, last_days
from bench.tiny_shop import by_hand, item, route, shop


def test_a_factor_has_mean_one_and_the_spread_that_it_says() -> None:
    rng = random.Random(1)
    draws = [drawn(rng, 0.25) for _ in range(20_000)]
    assert mean(draws) == pytest.approx(1, abs=0.01)
    assert pstdev(draws) == pytest.approx(0.25, abs=0.01)


def test_a_shop_keeps_its_pace_from_job_to_job() -> None:
    here, there = SimulatedShop(1, EACH_KIND), SimulatedShop(2, EACH_KIND)
    assert here.pace("sand") == SimulatedShop(1, EACH_KIND).pace("sand")
    assert here.pace("sand") != there.pace("sand")
    assert here.pace("sand") != here.pace("strip")
    assert here.job(0).bias != here.job(1).bias


def test_paces_vary_by_kind_or_by_shop() -> None:
    one = [SimulatedShop(seed, EACH_KIND) for seed in range(2000)]
    assert pstdev([each.pace("sand") for each in one]) == pytest.approx(0.25, abs=0.02)
    wide = SimulatedShop(5, SHOPS_BIAS)
    assert wide.pace("sand") == wide.pace("strip") != 1
    assert wide.job(0).bias == wide.job(1).bias == 1


def test_the_minutes_of_an_operation_are_whole_and_the_same_for_the_same_seed() -> None:
    op = route("A")[0]
    assert SimulatedShop(3).job()(op) == SimulatedShop(3).job()(op)
    times = [SimulatedShop(seed).job()(op) for seed in range(400)]
    assert mean(times) == pytest.approx(op.minutes, rel=0.06)
    assert min(times) >= 1


def test_a_plan_ends_at_other_times_in_other_shops() -> None:
    ends = last_days(shop(item("A")), by_hand(), READINGS[0], 6)
    assert len(ends) == 6
    assert len(set(ends)) > 1
