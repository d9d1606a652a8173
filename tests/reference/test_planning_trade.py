"""General rules of the trade as checks on the planner, on an interior of our own invention. Common practice, no source; what is counted is counted here by hand."""

from dataclasses import replace
from datetime import date
from math import ceil

import pytest

from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.planning.problem.model import Kind, Problem, Table
from hidewright.planning.problem.work import WorkPiece, work_pieces
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.dispatch import Room, plan_of
from hidewright.planning.solve.lots import LotRules, lots_of
from hidewright.planning.solve.planner import PlanResult, plan
from reference import saloon

MONDAY = date(2026, 3, 2)
WEEK = Week(dict.fromkeys(range(5), ((480, 720), (750, 1020))))
MINUTES_A_DAY = (720 - 480) + (1020 - 750)
TWO = (Person("a", "A", WEEK), Person("b", "B", WEEK))
PAD = WorkPiece(
    "C1", "seat pad", "Dinette", "leather", "overcoated", 0.56, 0.54, 0.6, 0.0, front_sat=True, strip=True
)


def planned(problem: Problem, seconds: float = 1.0) -> PlanResult:
    result = plan(problem, seconds=seconds)
    assert result.plan is not None
    return result


def workdays(day: date) -> int:
    """Working days from the first Monday to `day`: 0 for that Monday itself."""
    whole, rest = divmod((day - MONDAY).days, 7)
    return 5 * whole + min(rest, 4)


def test_both_sides_of_a_pad_cost_a_night() -> None:
    """Common practice, no source: what is coated on both sides takes a day more, since the first side cures a night before it is turned."""
    tables = (Table("t", "T", 4.0, 0.9),)
    one = planned(build_problem((PAD,), TWO, tables, Calendar(MONDAY)))
    both = planned(build_problem((replace(PAD, back=0.32, back_sat=True),), TWO, tables, Calendar(MONDAY)))
    assert one.finish_day is not None
    assert both.finish_day is not None
    assert (both.finish_day - one.finish_day).days == 1
    assert one.finish_day == one.bound_day
    assert both.finish_day == both.bound_day


def saloon_on(lengths: tuple[float, ...]) -> Problem:
    """The saloon on tables of these lengths, 0.9 m deep, worked on by two people from a Monday."""
    tables = tuple(Table(f"t{n}", f"Table {n}", length, 0.9) for n, length in enumerate(lengths, start=1))
    return build_problem(work_pieces(saloon.pieces()), TWO, tables, Calendar(MONDAY))


@pytest.mark.parametrize("lengths", [(3.5, 3.5, 6.0), (1.75, 1.75, 3.0), (2.2,)])
def test_tables_that_are_short_hold_a_job_up_by_as_many_nights_as_counting_says(
    lengths: tuple[float, ...],
) -> None:
    """Common practice, no source: each side of each piece lies for a night, so metres that must lie over metres of table are the nights that are needed.

    The count, by hand: 37.02 m lie over the whole job (what is no longer than the tables are deep lies crosswise). No plan is done sooner than that many working days, and a
    usable one needs at most half as many again, and one day for the stripping and the last look. Where the tables are long, it is the wave of coats that holds the job up, not the
    tables: nobody sands beside a wet coat, so a day has one wave; that may cost another day.
    """
    must_lie = sum(
        row[5] * (2 if row[7] else 1) * (row[3] if row[2] <= 0.9 else row[2]) for row in saloon.SALOON
    )
    assert must_lie == pytest.approx(37.02)
    nights = ceil(must_lie / sum(lengths))
    result = planned(saloon_on(lengths), 2.0)
    assert result.finish_day is not None
    wave = 1 if nights <= 3 else 0
    assert nights <= workdays(result.finish_day) <= ceil(1.5 * nights) + 1 + wave


def test_with_tables_enough_the_hands_decide() -> None:
    """Arithmetic and common practice, no source: minutes of hands over two people's minutes a day; then the nights of two sides, and one day more."""
    problem = saloon_on((20.0, 20.0))
    days_of_hands = problem.minutes / (2 * MINUTES_A_DAY)
    result = planned(problem)
    assert result.finish_day is not None
    assert days_of_hands - 1 <= workdays(result.finish_day) <= ceil(days_of_hands) + 2


def test_half_the_table_is_never_faster() -> None:
    """Common practice, no source: with half of each table the same people are done no sooner."""
    long, short = planned(saloon_on((3.5, 3.5, 6.0))), planned(saloon_on((1.75, 1.75, 3.0)))
    assert long.finish_day is not None
    assert short.finish_day is not None
    assert long.finish_day < short.finish_day


def test_small_pieces_first_free_the_table_and_cure_longest() -> None:
    """Common practice, no source: small pieces that are done first free the table, and have cured longest when all leaves.

    One 2.4 m table, eight small pads and two long panels that fill it: with the small ones first the last piece is not done later than with the panels first, and the small
    ones have cured a night more when all leaves."""
    small = [replace(PAD, key=f"C{i}", length=0.5, depth=0.4, front=0.25) for i in range(8)]
    panels = [replace(PAD, key=f"P{i}", length=2.2, depth=0.6, front=0.9, front_sat=False) for i in range(2)]
    problem = build_problem((*small, *panels), TWO, (Table("t", "T", 2.4, 0.7),), Calendar(MONDAY))
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
