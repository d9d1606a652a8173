"""The counters by which plans are judged, on plans that were counted by hand: each must notice the fault that is planted for it, and no other."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from bench.counting import count, gun_changes
from bench.records import DAY, Record, Shop, Work
from bench.tiny_shop import by_hand, item, shop

Fault = Callable[[Record], Record]


def changed(number: int, **values: object) -> Fault:
    """The plan with one work changed."""

    def fault(record: Record) -> Record:
        works = list(record.works)
        works[number] = replace(works[number], **values)  # type: ignore[arg-type]
        return replace(record, works=tuple(works))

    return fault


def lies(number: int, **values: object) -> Fault:
    """The plan with one stay changed."""

    def fault(record: Record) -> Record:
        lying = list(record.lying)
        lying[number] = replace(lying[number], **values)  # type: ignore[arg-type]
        return replace(record, lying=tuple(lying))

    return fault


def two(second: Record) -> Fault:
    """The plan of A with another beside it."""
    return lambda record: Record((*record.works, *second.works), (*record.lying, *second.lying))


def by_another(record: Record) -> Record:
    """The same work by the other person with the other gun."""
    return replace(
        record, works=tuple(replace(w, person="p2", gun=None if w.gun is None else 1) for w in record.works)
    )


A, B = item("A"), item("B")
PAIR = shop(A, B, people=2, guns=2)
BESIDE = by_another(by_hand("B", 0.6))


def test_a_plan_counted_by_hand() -> None:
    counts = count(shop(A), by_hand())
    assert counts.faults == dict.fromkeys(counts.faults, 0)
    # Monday: prep | colour | clear; Tuesday: finish. 4 sessions in 2 person-days.
    assert counts.sessions == 2
    # Monday: strip, clean, wipe, spray, sand (with tack), second, clear; Tuesday: inspect.
    assert counts.blocks == 4
    # All but the stripping are 5 min or less: 7 of 8.
    assert counts.short == pytest.approx(7 / 8)
    assert (counts.gun_changes, counts.most_gun_changes) == (1, 1)
    assert counts.lines == 9 / 2


def test_lines_are_sessions_where_the_plan_names_them() -> None:
    works = tuple(replace(w, session="morning" if w.start < 600 else "rest") for w in by_hand().works)
    assert count(shop(A), Record(works, by_hand().lying)).lines == 3 / 2


def test_each_change_of_what_is_in_a_gun_counts_and_a_new_day_does_not() -> None:
    coats = [w for w in by_hand().works if w.op.gun]
    colour, clear = coats[0], coats[2]
    week = [
        replace(colour, start=500, end=504),
        replace(clear, start=510, end=514),
        replace(colour, start=520, end=524),
        replace(colour, start=DAY + 500, end=DAY + 504),
    ]
    assert gun_changes(Record(tuple(week), ())) == {(0, 0): 2, (0, 1): 0}


@pytest.mark.parametrize(
    ("name", "where", "fault"),
    [
        ("dust_beside_wet", PAIR, two(replace(BESIDE, works=tuple(replace(w, start=w.start + 100, end=w.end + 100) if n < 2 else w for n, w in enumerate(BESIDE.works[:2])), lying=()))),
        ("broken_windows", shop(A), changed(6, start=706, end=710)),
        ("person_twice", shop(A), changed(4, start=640, end=646)),
        ("rack_overfull", shop(A, rack=0), lambda record: record),
        ("outside_hours", shop(A), changed(7, start=717, end=721)),
        ("outside_hours", shop(A), changed(4, person="nobody")),
        ("out_of_order", shop(A), changed(4, start=640, end=643)),
        ("moved_wet", shop(A), lies(1, until=1555)),
        ("moved_wet", shop(A), lies(1, since=579)),
        ("missing", shop(A), lambda record: replace(record, works=record.works[:-1])),
        ("missing", shop(A), lambda record: replace(record, works=(*record.works, record.works[-1]))),
        ("missing", shop(A), changed(0, end=490)),
        ("missing", shop(B), lambda record: record),
        ("gun_twice", shop(A), changed(3, gun=1)),
        ("table_twice", shop(A), lies(0, at=1.6)),
        ("table_twice", PAIR, two(by_another(by_hand("B", 0.52)))),
    ],
)  # fmt: skip
def test_a_planted_fault_is_counted(name: str, where: Shop, fault: Fault) -> None:
    assert count(where, fault(by_hand())).faults[name] > 0


def test_two_pieces_worked_at_the_same_minutes_share_air_but_no_place() -> None:
    counts = count(PAIR, two(BESIDE)(by_hand()))
    assert counts.faults == dict.fromkeys(counts.faults, 0)
    assert count(replace(PAIR, guns=1), two(BESIDE)(by_hand())).gun_twice == 3


def test_dust_in_another_air_is_no_fault() -> None:
    strip = replace(by_another(by_hand("B", 0.0)).works[0], start=600, end=620, table="b")
    beside = replace(by_hand(), works=(*by_hand().works, strip))
    assert count(shop(A, B, people=2), beside).dust_beside_wet == 1
    assert count(shop(A, B, people=2, air={"b": "booth"}), beside).dust_beside_wet == 0


def test_a_person_cannot_work_and_set_up_at_once() -> None:
    from bench.records import SetUp

    record = replace(by_hand(), set_ups=(SetUp("p1", "mix", 590, 602),))
    assert count(shop(A), record).person_twice == 1
    assert count(shop(A), replace(record, set_ups=(SetUp("p1", "mix", 582, 594),))).person_twice == 0


def test_the_work_between_two_coats_counts_as_one_block_with_the_tack() -> None:
    works: list[Work] = [w for w in by_hand().works if w.op.kind in ("sand", "tack")]
    assert count(shop(A), Record(tuple(works), ())).blocks == 1
