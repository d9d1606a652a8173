"""The frozen baseline belongs to the foreman that is here: what it says of one interior comes out again."""

import pytest

from bench.adapter import shop_of
from bench.cases import FULL, SMALL, Case
from bench.freeze_planning import LISTS, frozen
from bench.least_days import least_days
from bench.rivals import best_rival

CASE = Case(30, 0, 2)


def test_every_case_is_frozen() -> None:
    assert {case.key for case in FULL} == set(frozen())
    assert set(SMALL) <= set(FULL)


@pytest.mark.parametrize("name", LISTS)
def test_a_rival_ends_when_the_baseline_says(name: str) -> None:
    shop = shop_of(CASE.problem())
    entry = frozen()[CASE.key]
    assert sum(op.minutes for item in shop.items for op in item.ops) == entry["hands"]
    habit, record = best_rival(shop, LISTS[name])
    assert round(shop.hours_until(record.finish), 2) == entry["rivals"][name]["hours"]
    assert habit.name == entry["rivals"][name]["habit"]


@pytest.mark.parametrize("case", [case for case in FULL if case.pieces == 30], ids=lambda case: case.key)
def test_nothing_frozen_ends_before_the_bound(case: Case) -> None:
    entry = frozen()[case.key]
    bound = least_days(shop_of(case.problem())).day
    assert bound <= entry["executed"]["day"]
    assert all(bound <= rival["day"] for rival in entry["rivals"].values())
