"""What counts as kept when a plan is made again, on plans counted by hand."""

from dataclasses import replace

from bench.kept import Kept, kept
from bench.records import DAY, Record
from bench.tiny_shop import by_hand


def later(record: Record, minutes: int, since: int = 0) -> Record:
    """The same plan, with what starts after `since` so much later."""
    works = tuple(
        replace(w, start=w.start + minutes, end=w.end + minutes) if w.start >= since else w
        for w in record.works
    )
    return replace(record, works=works)


def test_the_same_plan_keeps_all() -> None:
    """Prep, colour and clear on Monday, finish on Tuesday."""
    assert kept(by_hand(), by_hand(), 0, ()) == Kept(4, 4, 4, 4)


def test_only_sessions_to_come_count() -> None:
    assert kept(by_hand(), by_hand(), 600, ()).sessions == 2
    assert kept(by_hand(), by_hand(), DAY, ()).sessions == 1


def test_half_an_hour_is_near_and_more_is_not() -> None:
    assert kept(by_hand(), later(by_hand(), 30), 0, ()) == Kept(4, 4, 4, 4)
    assert kept(by_hand(), later(by_hand(), 31), 0, ()) == Kept(4, 4, 0, 4)


def test_another_day_is_neither_kept_nor_near() -> None:
    assert kept(by_hand(), later(by_hand(), DAY, since=700), 0, ()) == Kept(4, 2, 2, 4)


def test_another_person_is_noticed() -> None:
    other = replace(
        by_hand(), works=tuple(replace(w, person="p2") if n < 2 else w for n, w in enumerate(by_hand().works))
    )
    assert kept(by_hand(), other, 0, ()) == Kept(4, 4, 4, 3)


def test_what_is_touched_is_left_out() -> None:
    assert kept(by_hand(), by_hand(), 0, {"A"}) == Kept(0, 0, 0, 0)
    assert kept(by_hand(), by_hand(), 0, (), {("p1", 0)}).sessions == 1
