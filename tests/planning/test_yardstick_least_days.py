"""The bound of the yardstick, against days counted by hand and against everything that a foreman has ever done."""

from dataclasses import replace

import pytest

from bench.adapter import shop_of
from bench.cases import Case
from bench.least_days import least_days
from bench.records import Costs
from bench.rivals import CAREFUL, ONE_RULE, STAGE_BY_STAGE, follow
from bench.tiny_shop import item, shop


def test_one_piece_takes_a_night() -> None:
    assert least_days(shop(item("A"))).day == 2


def test_nights_are_counted_by_the_metre() -> None:
    """2 m of table hold three pieces of 0.6 m with their 5 cm; seven of them need three nights, and a morning."""
    least = least_days(shop(*(item(f"P{n}", 0.6) for n in range(7))))
    assert (least.day, least.why) == (4, "nights on the tables")


def test_hands_are_counted_with_set_ups() -> None:
    """12 pieces of 40 min are 480 of the 510 min a day. All but the inspecting (2 min each) is done before a night: 456 min and a day's pots (12 + 12) and suit (5) make 485; with half an hour a pot they make 521."""
    full = shop(*(item(f"P{n}", 0.1) for n in range(12)))
    minutes = [op.minutes for op in full.items[0].ops]
    more = 40 - sum(minutes)
    stretched = replace(full, items=tuple(_longer(i, more) for i in full.items))
    assert least_days(stretched).day == 2
    assert least_days(stretched, Costs(mix=30)).day == 3


def _longer(piece, more: int):  # type: ignore[no-untyped-def]
    first = replace(piece.ops[1], minutes=piece.ops[1].minutes + more)
    return replace(piece, ops=(piece.ops[0], first, *piece.ops[2:]))


@pytest.mark.parametrize("case", [Case(30, 0, 2), Case(30, 1, 1), Case(30, 2, 3)], ids=lambda case: case.key)
def test_no_list_ends_before_it(case: Case) -> None:
    where = shop_of(case.problem())
    least = least_days(where).day
    ends = [
        where.days_until(follow(where, habit).finish)
        for habit in (STAGE_BY_STAGE[0], CAREFUL[0], ONE_RULE[0])
    ]
    assert least <= min(ends)
    assert min(ends) <= 3 * least
