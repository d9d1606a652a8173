"""What moved between two plans."""

from dataclasses import replace
from datetime import date, datetime, timedelta

from hidewright.charts.moves import moves_between
from hidewright.charts.plan import ActShown, PlanShown
from hidewright.charts.tables import TableTop


def plan(*acts: ActShown) -> PlanShown:
    return PlanShown((TableTop("T", 3, 1),), ("Ana", "Ben"), acts, (), (), datetime(2026, 3, 9))


def act(key: str, piece: str, day: int, **more: object) -> ActShown:
    start = datetime(2026, 3, day, 9)
    made = ActShown(key, piece, "top", "Strip", "Ana", start, start + timedelta(hours=1), "T")
    return replace(made, **more)  # type: ignore[arg-type]


def test_nothing_moved_between_a_plan_and_itself() -> None:
    same = plan(act("a", "P1", 2), act("b", "P2", 3))
    moved = moves_between(same, same)
    assert moved.moves == ()
    assert moved.kept == 1.0


def test_every_kind_of_move_is_named() -> None:
    before = plan(
        act("a", "P1", 2), act("b", "P2", 3), act("c", "P3", 4), act("d", "P4", 4), act("e", "P5", 4)
    )
    after = plan(
        act("a", "P1", 3),
        act("c", "P3", 4, person="Ben"),
        act("d", "P4", 4, table="U"),
        act("e", "P5", 4, end=datetime(2026, 3, 4, 11)),
        act("f", "P6", 5),
    )
    moved = moves_between(before, after)
    assert {m.key: m.kind for m in moved.moves} == {
        "a": "another day",
        "b": "gone",
        "c": "another person",
        "d": "another table",
        "e": "another time",
        "f": "new",
    }
    assert {m.key for m in moved.of_day} == {"a", "b", "f"}
    assert (moved.pieces, moved.pieces_on_their_days) == (4, 3)
    assert moved.shifted == 3
    days = [(shift.piece, shift.before, shift.after, len(shift.acts)) for shift in moved.shifts]
    assert sorted(days) == sorted(
        [
            ("P1", date(2026, 3, 2), date(2026, 3, 3), 1),
            ("P2", date(2026, 3, 3), None, 1),
            ("P6", None, date(2026, 3, 5), 1),
        ],
        key=lambda each: each[0],
    )


def test_what_is_done_is_left_out() -> None:
    moved = moves_between(plan(act("a", "P1", 2)), plan(act("a", "P1", 3)), left_out=frozenset({"a"}))
    assert moved.moves == ()
