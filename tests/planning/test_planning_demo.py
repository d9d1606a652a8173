"""The demonstration's files, from CSV to an audited plan."""

from datetime import date

import pytest

from hidewright import demo
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import plan_from_data, plan_to_data
from hidewright.planning.problem.calendar import Calendar
from hidewright.planning.problem.csv_in import read_hours, read_people, read_tables
from hidewright.planning.problem.model import Problem
from hidewright.planning.problem.work import work_pieces
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.planner import Outcome, plan
from hidewright.refusals import Refusals
from hidewright.survey.csv_in import read_pieces


@pytest.fixture(scope="module")
def problem() -> Problem:
    hours = read_hours(demo.text("hours.csv"))
    people = read_people(demo.text("people.csv"), hours)
    tables = read_tables(demo.text("tables.csv"))
    pieces = work_pieces(read_pieces(demo.text("pieces.csv")))
    return build_problem(pieces, people, tables, Calendar(date(2026, 3, 2)), promised=date(2026, 3, 20))


def test_the_demonstration_is_planned_and_audited(problem: Problem) -> None:
    told = []
    result = plan(problem, seconds=3, on_progress=told.append)
    assert result.outcome in (Outcome.PROVEN, Outcome.FEASIBLE)
    assert result.plan is not None
    assert audit(problem, result.plan) == ()
    assert {p.piece for p in result.plan.placements} == {j.piece for j in problem.jobs}
    assert result.finish_day is not None
    assert result.bound_day is not None
    assert result.bound_day <= result.finish_day <= date(2026, 3, 20)
    assert result.late_days == 0
    assert result.bottleneck
    assert result.bound_why
    assert [p.fraction for p in told] == sorted(p.fraction for p in told)
    assert plan_from_data(plan_to_data(result.plan)) == result.plan


def test_stopping_keeps_the_list_plan(problem: Problem) -> None:
    result = plan(problem, seconds=60, should_stop=lambda: True)
    assert result.outcome in (Outcome.STOPPED, Outcome.PROVEN)
    assert result.plan is not None
    assert audit(problem, result.plan) == ()


def test_the_same_seed_gives_the_same_plan() -> None:
    from bench.interiors import interior

    small = interior(8, 3)
    first, second = plan(small, seconds=1.5, seed=4), plan(small, seconds=1.5, seed=4)
    assert first.finish_day == second.finish_day


@pytest.mark.parametrize(
    ("read", "text", "where"),
    [
        (
            read_tables,
            "key,name,length,depth\na,Table A,4.8 m,0.9\nb,Table B,long,0.9\n",
            "line 3, column length",
        ),
        (read_tables, "key,name,length,depth\na,A,4.8,0.9\na,B,2,0.9\n", "line 3, column key"),
        (read_hours, "weekday,hours\nMonday,08:00-12:00\nMoonday,8-12\n", "line 3, column weekday"),
        (read_hours, "weekday,hours\nMonday,12:00-08:00\n", "line 2, column hours"),
    ],
)
def test_faults_in_files_are_named_by_line_and_column(read: object, text: str, where: str) -> None:
    with pytest.raises(Refusals) as caught:
        read(text)  # type: ignore[operator]
    assert [item.where for item in caught.value.items] == [where]
    assert all(item.remedy for item in caught.value.items)
