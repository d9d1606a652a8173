"""The fan at night: on which evenings it goes off, until when it then stays off, and what a plan makes of it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from bare_room import build_problem, interior
from bench import interiors
from bench.interiors import MONDAY, WEEK
from hidewright.planning.change.replan import replan
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.calendar import DAY, EVERY_NIGHT, Calendar, Person, Week
from hidewright.planning.problem.csv_in import read_nights
from hidewright.planning.problem.model import Problem, Table
from hidewright.planning.problem.nights import ALWAYS, air_until
from hidewright.planning.problem.routes import Drying
from hidewright.planning.problem.work import WorkPiece
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.listplan import careful
from hidewright.planning.solve.planner import Outcome, plan
from hidewright.refusals import Refusal

FRIDAY, CLOSING = 4, WEEK.hours[0][-1][1]


def cushion(fan_off: frozenset[int], start: date = MONDAY, wet: int = 240) -> Problem:
    """One cushion whose coats give off vapour for `wet` min."""
    piece = WorkPiece("C1", "seat cushion", "g", "leather", "worn", 0.56, 0.54, 0.6, 0.32, clear_coats=1)
    return build_problem(
        [piece],
        [Person("a", "Ann", WEEK)],
        [Table("t", "Table", 2.0, 0.7)],
        Calendar(start),
        drying=Drying(colour=wet),
        fan_off=fan_off,
    )


def wet_at(problem: Problem, made: Plan, minute: int) -> list[str]:
    """What gives off vapour at a minute."""
    wet = {o.key: o.wet for _, o in problem.operations()}
    return [p.operation for p in made.placements if p.end <= minute < p.end + wet[p.operation]]


def test_what_counts_is_the_next_evening_on_which_the_fan_goes_off() -> None:
    """A Monday-to-Friday week: with Fridays only, Monday's coat may be wet until Friday's closing; after a Saturday's nobody is there to switch it."""
    problem = replace(interior(3, 1, 1), fan_off=frozenset({FRIDAY}))
    until = air_until(problem)
    assert [until[day] for day in range(5)] == [4 * DAY + CLOSING] * 5
    assert until[7] == 11 * DAY + CLOSING
    every = air_until(replace(problem, fan_off=EVERY_NIGHT))
    assert every == {day: day * DAY + CLOSING for day in every}
    assert set(air_until(replace(problem, fan_off=frozenset({5, 6}))).values()) == {ALWAYS}, (
        "nobody works then"
    )
    assert set(air_until(replace(problem, fan_off=frozenset())).values()) == {ALWAYS}


def test_a_calendar_that_begins_on_a_thursday_knows_its_weekdays() -> None:
    problem = cushion(frozenset({FRIDAY}), start=MONDAY + timedelta(days=3))
    assert air_until(problem)[1] == 1 * DAY + CLOSING
    assert air_until(problem)[4] == 8 * DAY + CLOSING


@pytest.mark.parametrize("nights", [frozenset({FRIDAY}), frozenset({0, 2}), EVERY_NIGHT])
def test_no_plan_leaves_wet_work_with_the_fan_off(nights: frozenset[int]) -> None:
    problem = replace(interior(16, 3, 2, drying=Drying(colour=150)), fan_off=nights)
    careful_plan = plan_of(*careful(problem))
    searched = plan(problem, seconds=1.0)
    assert searched.outcome is not Outcome.IMPOSSIBLE
    for made in (careful_plan, searched.plan):
        assert made is not None
        assert audit(problem, made) == ()
        for day, until in air_until(problem).items():
            if day % 7 in nights:
                assert not wet_at(problem, made, until)


def test_fewer_nights_without_a_fan_cost_less_time() -> None:
    """By the same careful person: what may dry on at night is never ready later than what must be dry before."""

    def finish(nights: frozenset[int]) -> int:
        return plan_of(*careful(cushion(nights))).finish

    assert finish(frozenset()) <= finish(frozenset({FRIDAY})) <= finish(EVERY_NIGHT)
    assert finish(frozenset()) < finish(EVERY_NIGHT)


def test_the_audit_knows_the_evening() -> None:
    """A good plan without the rule, in which something is wet after Monday's closing, breaks it for Mondays and not for Sundays."""
    problem = cushion(frozenset())
    made = plan_of(*careful(problem))
    broken = [day for day in range(5) if wet_at(problem, made, day * DAY + CLOSING)]
    assert broken
    for day in range(7):
        faults = audit(replace(problem, fan_off=frozenset({day})), made)
        assert {fault.rule for fault in faults} == ({"fan off at night"} if day in broken else set())


def test_planning_again_keeps_to_the_evenings() -> None:
    problem = replace(interior(10, 3, 2, drying=Drying(colour=150)), fan_off=frozenset({0, 1}))
    before = plan_of(*careful(problem))
    again = replan(replace(problem, fan_off=EVERY_NIGHT), before, {}, 0, seconds=1.0)
    assert again.result.plan is not None
    assert audit(replace(problem, fan_off=EVERY_NIGHT), again.result.plan) == ()


def test_a_coat_that_no_night_allows_is_refused_and_one_night_with_the_fan_allows_it() -> None:
    with pytest.raises(Refusal, match="fan goes off"):
        cushion(EVERY_NIGHT, wet=840)
    assert careful(cushion(EVERY_NIGHT - {2}, wet=840))


def test_nights_are_read_from_words_and_refused() -> None:
    assert read_nights("fri, Sat,sunday") == frozenset({4, 5, 6})
    assert read_nights("every") == EVERY_NIGHT
    assert read_nights(" ") == frozenset()
    with pytest.raises(Refusal, match="no weekday"):
        read_nights("fri, someday")
    with pytest.raises(Refusal, match="weekday"):
        replace(interior(3, 1, 1), fan_off=frozenset({7}))


def test_shifts_over_midnight_with_the_fan_off_are_planned_and_audited() -> None:
    """Nights from 20:00 to 04:00 with a break at midnight: one day of work each, and the fan goes off when it ends, not at midnight."""
    night = Week(
        {
            **dict.fromkeys(range(1, 5), ((0, 240), (1200, 1410))),
            0: ((1200, 1410),),
            5: ((0, 240),),
        }
    )
    problem = interiors.interior(4, 1, 1, fan_off=EVERY_NIGHT)
    problem = replace(problem, people=(Person("n", "Night", night),))
    assert air_until(problem)[0] == DAY + 240
    result = plan(problem, seconds=0.5)
    assert result.plan is not None, result.reason
    assert audit(problem, result.plan) == ()
    wet = {o.key: o.wet for _, o in problem.operations()}
    for p in result.plan.placements:
        if wet[p.operation]:
            closing = (
                (p.start - 240) // DAY * DAY + DAY + 240
                if p.start % DAY >= 240
                else p.start // DAY * DAY + 240
            )
            assert p.end + wet[p.operation] <= closing


def test_what_waits_longer_than_anybody_works_is_told_in_those_words() -> None:
    problem = interior(2, 1, 1)
    job = problem.jobs[0]
    late = replace(job.operations[-1], release=400 * DAY)
    problem = replace(
        problem, jobs=(replace(job, operations=(*job.operations[:-1], late)), *problem.jobs[1:])
    )
    result = plan(problem, seconds=0.1)
    assert result.plan is None
    assert "nobody works after that" in str(result.reason)
    assert "Add hours" not in str(result.reason)
