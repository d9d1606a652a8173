"""The audit across jobs sees what two plans hold twice, checked against a count minute by minute; and how full the weeks are, against sums by hand."""

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.doubles import doubles
from hidewright.planning.plan.clashes import Dated, clashes
from hidewright.planning.plan.schedule import Placement, Plan, Stay
from hidewright.planning.plan.weeks import shop_weeks
from hidewright.planning.problem.absences import Absence
from hidewright.planning.problem.calendar import Person, Week
from hidewright.planning.problem.model import GAP, Kind, Table

MONDAY = date(2026, 3, 2)
TUESDAY = MONDAY + timedelta(days=1)
MIDNIGHT = datetime(2026, 3, 2)


def work(piece: str, person: str, start: int, minutes: int, gun: int | None = None) -> Placement:
    """One piece of work, dry when it ends."""
    end = start + minutes
    return Placement(f"{piece}/{start}", piece, Kind.SECOND, "", "front", person, gun, start, end, end)


def one(piece: str, person: str, start: int, minutes: int, table: str, at: float, gun: int | None) -> Plan:
    """A piece that is worked on where it lies, for twice as long as the work takes."""
    stay = Stay(piece, "front", table, at, 0.5, 0.5, start, start + 2 * minutes)
    return Plan((work(piece, person, start, minutes, gun),), (stay,))


plans = st.builds(
    one,
    st.sampled_from("PQ"),
    st.sampled_from(["ana", "ben"]),
    st.integers(0, 120),
    st.integers(1, 90),
    st.sampled_from(["a", "b"]),
    st.sampled_from([0.0, 0.3, 0.9]),
    st.sampled_from([None, 0, 1]),
)


@settings(max_examples=60, deadline=None)
@given(plans, plans, st.integers(0, 1))
def test_the_audit_finds_a_clash_exactly_where_the_count_by_minutes_does(
    first: Plan, second: Plan, days: int
) -> None:
    later = MONDAY + timedelta(days=days)
    counted = doubles({"One": (MONDAY, first), "Two": (later, second)}, 99)
    # The count knows no gap between pieces; here a stretch is 0.5 m and starts 0.3 or 0.6 m apart, so that the gap decides nothing.
    assert GAP < 0.1
    seen = clashes({"One": Dated(first, MONDAY), "Two": Dated(second, later)}, MIDNIGHT)
    assert bool(seen) == bool(counted), (seen, counted)
    assert all(clash.keys == ("One", "Two") for clash in seen)


def test_what_is_done_or_over_holds_nobody_any_more() -> None:
    plan = one("P", "ana", 60, 30, "a", 0.0, None)
    both = {"One": Dated(plan, MONDAY), "Two": Dated(plan, MONDAY)}
    assert {clash.what for clash in clashes(both, MIDNIGHT)} == {"ana", "a"}
    done = {**both, "Two": Dated(plan, MONDAY, frozenset({"P/60"}))}
    assert {clash.what for clash in clashes(done, MIDNIGHT)} == {"a"}, "it still lies there"
    assert clashes(both, MIDNIGHT + timedelta(hours=3)) == ()


def test_racks_that_two_jobs_fill_together_are_seen() -> None:
    def standing(piece: str) -> Plan:
        stays = (
            Stay(piece, "front", "a", 0, 0.5, 0.5, 0, 30),
            Stay(piece, "back", "a", 0, 0.5, 0.5, 100, 130),
        )
        return Plan((work(piece, "ana", 0, 10), work(piece, "ana", 100, 10)), stays)

    both = {"One": Dated(standing("P"), MONDAY), "Two": Dated(standing("Q"), MONDAY)}
    assert [c.since for c in clashes(both, MIDNIGHT, 1) if c.what == "racks"] == [
        MIDNIGHT + timedelta(minutes=30)
    ]
    assert not [c for c in clashes(both, MIDNIGHT, 2) if c.what == "racks"]


def test_the_weeks_add_up_by_hand() -> None:
    week = Week(dict.fromkeys(range(5), ((480, 1020),)))
    people = (
        Person("ana", "Ana", week, absences=(Absence(TUESDAY, TUESDAY),)),
        Person("ben", "Ben", week),
    )
    tables = (Table("a", "Table A", 2.0, 0.9),)
    plan = one("P", "ana", 480, 120, "a", 0.0, 0)
    later = one("Q", "ben", 480, 60, "a", 0.0, None)
    first, second = shop_weeks(
        {"One": Dated(plan, MONDAY), "Two": Dated(later, MONDAY + timedelta(days=8))},
        people,
        tables,
        frozenset(),
        MONDAY + timedelta(days=2),
        2,
    )
    ana, ben = first.people
    # 4 days of 9 h, the second day is off; 2 of 36 h are planned.
    assert (ana.held, ana.of, ana.days) == ({"One": 120}, 4 * 540, {0: ("One",)})
    assert ana.share == pytest.approx(2 / 36)
    assert ben.held == {}
    # It lies for 240 min on 0.5 m and the gap, of 2 m that stand there for 5 days of 9 h.
    assert first.tables[0].share == pytest.approx(240 * (0.5 + GAP) / (2.0 * 5 * 540))
    assert first.guns == {"One": 120}
    assert second.people[1].held == {"Two": 60}
    assert second.people[1].days == {1: ("Two",)}
    assert second.guns == {}
