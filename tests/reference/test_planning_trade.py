"""Facts of the trade as checks on the planner. Common practice, no source."""

from dataclasses import replace
from datetime import date

from hidewright.planning.calendar import Calendar, Person, Week
from hidewright.planning.plan import PlanResult, plan
from hidewright.planning.problem import Kind, Problem, Table
from hidewright.planning.routes import build_problem
from hidewright.planning.work import WorkPiece

FOOT = 0.3048
WEEK = Week(dict.fromkeys(range(5), ((480, 720), (750, 1020))))
TWO = (Person("a", "A", WEEK), Person("b", "B", WEEK))
CUSHION = WorkPiece(
    "C1", "seat cushion", "Seat 1", "leather", "overcoated", 0.56, 0.54, 0.6, 0.0, front_sat=True, strip=True
)


def planned(problem: Problem, seconds: float = 1.0) -> PlanResult:
    result = plan(problem, seconds=seconds)
    assert result.plan is not None
    return result


def test_both_sides_of_a_cushion_cost_a_night() -> None:
    """Common practice, no source: a cushion coated on both sides takes a day more than one coated on one."""
    tables = (Table("t", "T", 4.0, 0.9),)
    one = planned(build_problem((CUSHION,), TWO, tables, Calendar(date(2026, 3, 2))))
    both = planned(
        build_problem((replace(CUSHION, back=0.32, back_sat=True),), TWO, tables, Calendar(date(2026, 3, 2)))
    )
    assert one.finish_day is not None
    assert both.finish_day is not None
    assert (both.finish_day - one.finish_day).days == 1
    assert one.finish_day == one.bound_day
    assert both.finish_day == both.bound_day


def nine_places() -> tuple[WorkPiece, ...]:
    """Six single seats, a two-place divan and a jump seat: nine places, about seven parts each."""
    parts: list[WorkPiece] = []
    for place in range(9):
        for name, length, depth, front, back in (
            ("seat cushion", 0.56, 0.54, 0.60, 0.32),
            ("back", 0.72, 0.54, 0.50, 0.40),
            ("head rest", 0.40, 0.15, 0.12, 0.0),
            ("left arm", 0.52, 0.12, 0.30, 0.0),
            ("right arm", 0.52, 0.12, 0.30, 0.0),
            ("skirt", 0.56, 0.20, 0.12, 0.0),
            ("leg rest", 0.48, 0.30, 0.20, 0.0),
        ):
            key = f"S{place + 1}-{name.replace(' ', '-')}"
            parts.append(
                WorkPiece(
                    key,
                    name,
                    f"Seat {place + 1}",
                    "leather",
                    "overcoated",
                    length,
                    depth,
                    front,
                    back,
                    name != "skirt",
                    back > 0,
                    True,
                )
            )
    return tuple(parts)


def test_nine_places_are_done_well_inside_three_weeks() -> None:
    """Common practice, no source: 42 ft of table, a 24 ft bench and two people finish nine places well inside three weeks."""
    tables = (
        Table("a", "Table A", 14 * FOOT, 0.9),
        Table("b", "Table B", 14 * FOOT, 0.9),
        Table("c", "Table C", 14 * FOOT, 0.9),
        Table("bench", "Bench", 24 * FOOT, 0.6),
    )
    result = planned(
        build_problem(nine_places(), TWO, tables, Calendar(date(2026, 3, 2)), promised=date(2026, 3, 20)), 4
    )
    assert result.finish_day is not None
    assert result.late_days == 0
    assert result.finish_day <= date(2026, 3, 17)


def test_small_pieces_first_free_the_tables_and_cure_longest() -> None:
    """Common practice, no source: cushions done first free the tables, and by the end have cured longest.

    One 2.4 m table, eight small cushions and two long panels that fill it: with the small ones first the last piece is not done later than with the panels first,
    and the small ones have cured a night more when all leaves."""
    small = [replace(CUSHION, key=f"C{i}", length=0.5, depth=0.4, front=0.25) for i in range(8)]
    panels = [
        replace(CUSHION, key=f"P{i}", length=2.2, depth=0.6, front=0.9, front_sat=False) for i in range(2)
    ]
    problem = build_problem((*small, *panels), TWO, (Table("t", "T", 2.4, 0.7),), Calendar(date(2026, 3, 2)))
    from hidewright.planning.dispatch import Room, plan_of
    from hidewright.planning.lots import LotRules, lots_of

    room = Room(problem, lots_of(problem, LotRules(4)))
    first: dict[bool, tuple[int, int]] = {}
    for small_first in (True, False):
        urgency = [
            [float(lot.jobs[0].piece.startswith("P") == small_first)] * len(lot.stops) for lot in room.lots
        ]
        run = room.run(urgency)
        assert run is not None
        made = plan_of(room, run)
        cured = max(p.dry_until for p in made.placements if p.kind is Kind.CLEAR and p.piece.startswith("C"))
        first[small_first] = (run.finish, run.finish - cured)
    assert first[True][0] // 1440 <= first[False][0] // 1440
    assert first[True][1] - first[False][1] >= 12 * 60
