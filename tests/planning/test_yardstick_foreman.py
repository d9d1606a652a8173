"""The foreman by whom plans are carried out, on work so small that his day can be counted by hand."""

from dataclasses import replace

import pytest

from bench.counting import count
from bench.foreman import StuckError
from bench.readings import READINGS, Reading, best_reading, read
from bench.records import Costs, Record, Shop
from bench.rivals import CAREFUL, ONE_RULE, STAGE_BY_STAGE, WAVES, Habit, follow
from bench.tiny_shop import by_hand, item, shop

NOTHING = Costs(0, 0, 0, 0)
LISTS = (*STAGE_BY_STAGE, *CAREFUL, *ONE_RULE, *WAVES)


def times(record: Record) -> list[tuple[int, int]]:
    return [(w.start, w.end) for w in sorted(record.works, key=lambda w: w.start)]


def no_fault(where: Shop, record: Record) -> bool:
    counts = count(where, record)
    return counts.faults == dict.fromkeys(counts.faults, 0)


def test_one_piece_with_all_set_ups_counted_by_hand() -> None:
    """Strip 8:00, dry 9:20; clean; change 3; wipe down 9:38; mix 12, suit 5; spray 9:57, dry 10:41; sand, tack, second 10:45, dry 11:29; change 3, mix 12, flush 8; clear 11:52."""
    where = shop(item("A"))
    record = follow(where, ONE_RULE[0])
    assert times(record) == times(by_hand())
    assert [(s.what, s.end - s.start) for s in sorted(record.set_ups, key=lambda s: s.start)] == [
        ("change", 3), ("mix", 12), ("suit", 5), ("change", 3), ("mix", 12), ("flush", 8),
    ]  # fmt: skip
    assert no_fault(where, record)
    assert where.hours_until(record.finish) == pytest.approx(8.5 + 2 / 60)
    assert where.days_until(record.finish) == 2


def test_a_good_plan_is_carried_out_to_the_minute_as_written() -> None:
    where = shop(item("A"))
    executed = read(where, by_hand(), READINGS[0])
    assert times(executed.record) == times(by_hand())
    assert executed.day == 2


def test_a_plan_without_set_ups_ends_later_when_they_are_paid() -> None:
    where = shop(item("A"))
    bare = follow(where, ONE_RULE[0], NOTHING)
    assert max(w.end for w in bare.works if w.op.kind == "spray clear") == 575 + 2 + 4 + 40 + 4 + 4 + 40 + 4
    assert read(where, bare, READINGS[0], NOTHING).record.finish == bare.finish
    paid = best_reading(where, bare).record
    assert paid.works[7].start > bare.works[7].start
    assert no_fault(where, paid)


def test_nobody_strips_beside_a_wet_coat() -> None:
    """B is at hand from 10:00, when A is wet until 10:41: the stripping waits for it."""
    late = replace(item("B"), ways=(("b", 0.5),))
    late = replace(late, ops=(replace(late.ops[0], release=600), *late.ops[1:]))
    where = replace(shop(item("A"), late, people=2), tables={"a": 1.0, "b": 1.0})
    apart = replace(where, air={"b": "booth"})
    begun = [
        next(w.start for w in follow(s, CAREFUL[0]).works if w.op.key == "B/prep/strip")
        for s in (where, apart)
    ]
    assert begun[0] >= 641
    assert begun[1] == 600
    assert no_fault(where, follow(where, CAREFUL[0]))


def test_nobody_wipes_down_what_cannot_be_coated_before_the_break() -> None:
    """At 11:50 there are 10 min left: wiping (2), mixing (12) and suiting up (5) do not fit."""
    piece = item("A", strip=False)
    piece = replace(piece, ops=(replace(piece.ops[0], release=710), *piece.ops[1:]))
    record = follow(shop(piece), ONE_RULE[0])
    assert record.works[0].start >= 750


def test_no_more_is_wiped_down_than_can_be_coated_in_the_window() -> None:
    where = shop(*(item(f"P{n}", 0.1, strip=False) for n in range(12)))
    tight = replace(
        where,
        items=tuple(replace(i, ops=(replace(i.ops[0], window=25), *i.ops[1:])) for i in where.items),
    )
    record = follow(tight, ONE_RULE[0])
    assert no_fault(tight, record)
    wiped = sorted(w.start for w in record.works if w.op.kind == "wipe down")
    sprayed = min(w.start for w in record.works if w.op.kind == "spray colour")
    # mixing 12 and suiting up 5 leave 8 of the 25 min after the first wipe-down, so at most two others before the first coat.
    assert sum(start < sprayed for start in wiped) <= 4


def test_two_pieces_that_do_not_fit_side_by_side_take_turns() -> None:
    where = shop(item("A", 1.2), item("B", 1.2))
    record = follow(where, ONE_RULE[0])
    assert no_fault(where, record)
    front = {x.piece: x for x in record.lying if x.stay == "front"}
    assert front["B"].since >= front["A"].until or front["A"].since >= front["B"].until


def test_without_a_place_in_the_rack_a_piece_lies_on() -> None:
    where = shop(item("A"), rack=0)
    record = follow(where, ONE_RULE[0])
    assert no_fault(where, record)
    prep, front = sorted(record.lying, key=lambda x: x.since)
    assert prep.until == front.since
    assert front.until == record.finish


def test_what_is_late_is_anybodys_the_next_morning() -> None:
    """p2 is named for all of A and is never there before Wednesday: p1 does it as soon as it is overdue."""
    where = shop(item("A"), people=2)
    absent = replace(where.hands[1], hours=tuple(s for s in where.hands[1].hours if s[0] >= 2 * 1440))
    where = replace(where, hands=(where.hands[0], absent))
    planned = replace(by_hand(), works=tuple(replace(w, person="p2") for w in by_hand().works))
    record = read(where, planned, READINGS[0]).record
    assert {w.person for w in record.works} == {"p1"}


def test_slow_hands_end_later_and_no_rule_is_broken() -> None:
    where = shop(*(item(f"P{n}", 0.3) for n in range(5)))
    planned = follow(where, ONE_RULE[0])
    slow = read(where, planned, READINGS[0], minutes=lambda op: op.minutes * 2).record
    assert slow.finish > planned.finish
    counts = count(where, slow)
    assert {
        k: v
        for k, v in counts.faults.items()
        if v and k not in ("outside_hours", "broken_windows", "missing")
    } == {}


@pytest.mark.parametrize("habit", LISTS, ids=lambda habit: habit.name)
@pytest.mark.parametrize("people", [1, 2])
def test_every_list_ends_and_breaks_no_rule(habit: Habit, people: int) -> None:
    where = shop(*(item(f"P{n}", 0.3, strip=n % 2 == 0) for n in range(8)), people=people)
    assert no_fault(where, follow(where, habit))


@pytest.mark.parametrize("reading", READINGS, ids=lambda reading: reading.name)
def test_every_reading_carries_out_a_plan_without_a_fault(reading: Reading) -> None:
    where = shop(*(item(f"P{n}", 0.3, strip=n % 2 == 0) for n in range(8)), people=2)
    planned = follow(where, CAREFUL[0], NOTHING)
    assert no_fault(where, read(where, planned, reading).record)


def test_what_can_never_be_begun_is_said() -> None:
    with pytest.raises(StuckError):
        follow(shop(item("A", 5.0)), ONE_RULE[0])
