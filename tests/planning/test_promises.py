"""What the page Days promises, on seeded rooms: lateness is said, guns count, and what is said of a plan is what is in it. Counted again here by hand."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from bench.bench_planning_machines import OPTIMA, problem_of
from bench.interiors import MONDAY, WEEK, interior
from hidewright.planning.problem.calendar import Calendar, Person
from hidewright.planning.problem.model import SPRAYED, Job, Kind, Operation, Problem, Table
from hidewright.planning.solve.bound import lower_bound
from hidewright.planning.solve.listplan import careful
from hidewright.planning.solve.planner import Outcome, plan


def sprays(count: int, people: int, guns: int) -> Problem:
    """`count` pieces that each want an hour with a gun, and people enough."""
    jobs = tuple(
        Job(
            f"P{n}",
            "panel",
            "leather",
            0.3,
            0.2,
            (Operation(f"P{n}/end/spray", Kind.SPRAY, "front", "end", 60),),
        )
        for n in range(count)
    )
    staff = tuple(Person(f"p{n}", f"Person {n}", WEEK) for n in range(people))
    return Problem(jobs, staff, (Table("t", "T", 2, 1),), Calendar(MONDAY), guns=guns)


@pytest.mark.parametrize(
    ("count", "people", "guns", "day"),
    [(8, 3, 1, 0), (9, 3, 1, 1), (16, 3, 2, 0), (17, 3, 2, 1), (24, 3, 3, 0), (24, 2, 3, 1), (33, 4, 2, 2)],
)
def test_guns_and_hands_are_counted_in_the_bound(count: int, people: int, guns: int, day: int) -> None:
    """By hand: a day of 4 and 4.5 h holds eight hours with each gun, and as many with each person; the scarcer of the two decides."""
    problem = sprays(count, people, guns)
    assert problem.jobs[0].operations[0].kind in SPRAYED
    result = plan(problem, seconds=0.4)
    assert result.finish_day == MONDAY + timedelta(days=day)
    bound = lower_bound(problem)
    per_day = min(guns, people) * 8.5
    assert day - 1 <= bound.day <= day
    assert bound.day >= int(count / per_day - 1e-9) or count % per_day == 0, "hours over hours a day"


@pytest.mark.parametrize("seed", range(5))
def test_a_second_gun_is_never_slower_in_the_bound_and_no_plan_beats_it(seed: int) -> None:
    one = interior(10 + 3 * seed, seed, 3)
    two = replace(one, guns=2)
    first, second = lower_bound(one), lower_bound(two)
    assert second.day <= first.day
    for problem, bound in ((one, first), (two, second)):
        _, run = careful(problem)
        assert bound.day <= (run.finish - 1) // 1440


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_says_by_how_many_days_it_is_late(seed: int) -> None:
    """Against a promise before, on and after the day on which the work is done; without a promise nothing is said of lateness."""
    problem = interior(8 + seed, seed, 2)
    free = plan(problem, seconds=0.3)
    assert free.late_days is None
    assert free.finish_day is not None
    for early in (0, 1, 3):
        promised = max(MONDAY, free.finish_day - timedelta(days=early))
        held = plan(replace(problem, promised=promised), seconds=0.3)
        assert held.finish_day is not None
        assert held.late_days == max(0, (held.finish_day - promised).days)
    after = plan(replace(problem, promised=free.finish_day + timedelta(days=9)), seconds=0.3)
    assert after.late_days == 0


@pytest.mark.parametrize("seed", range(4))
def test_what_is_said_of_a_plan_is_what_is_in_it(seed: int) -> None:
    """Its last day is the day of its last work; it is called proven only when no plan could end sooner; each step of getting better is an earlier day."""
    problem = interior(9 + seed, 40 + seed, 2)
    result = plan(problem, seconds=0.5)
    assert result.plan is not None
    last = max(p.end for p in result.plan.placements)
    assert result.finish_day == problem.calendar.day(last) == MONDAY + timedelta(days=(last - 1) // 1440)
    assert {p.operation for p in result.plan.placements} == {o.key for _, o in problem.operations()}
    assert result.bound_day is not None
    assert result.bound_day <= result.finish_day
    assert (result.outcome is Outcome.PROVEN) == (result.bound_day == result.finish_day)
    days = [day for _, day in result.steps]
    assert days == sorted(days, reverse=True)
    assert days[-1] == result.finish_day
    assert isinstance(days[0], date)


def test_hours_are_gained_where_the_last_day_is_proven_at_once() -> None:
    """Fisher & Thompson 1963, six jobs on six machines: 55 min is the optimum, and any plan ends on the first day."""
    result = plan(problem_of("ft06"), seconds=6)
    assert result.plan is not None
    assert result.plan.finish == OPTIMA["ft06"]
