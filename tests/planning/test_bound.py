"""The bound never claims too much, and says why; slack and what-ifs follow from it."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bare_room import interior
from bench.interiors import FULL, MONDAY, WEEK
from hidewright.planning.change.whatif import (
    what_ifs,
    with_extra_parts,
    with_helper,
    with_saturday,
    with_table,
    without_stripping,
)
from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.planning.problem.model import Job, Kind, Operation, Problem, Table
from hidewright.planning.solve.bound import lower_bound
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.explain import load_of, slack_per_piece
from hidewright.planning.solve.listplan import careful, latest_start
from hidewright.planning.solve.planner import Outcome, plan


def inspections(count: int, minutes: int) -> Problem:
    """`count` pieces that only need `minutes` of inspecting, one person, no table needed: the finish is plain arithmetic."""
    jobs = tuple(
        Job(
            f"P{i}",
            "panel",
            "leather",
            0.3,
            0.2,
            (Operation(f"P{i}/end/inspect", Kind.INSPECT, "front", "end", minutes),),
        )
        for i in range(count)
    )
    return Problem(jobs, (Person("a", "A", WEEK),), (Table("t", "T", 2, 1),), Calendar(MONDAY))


@pytest.mark.parametrize(("count", "day"), [(1, 0), (8, 0), (9, 1), (16, 1), (17, 2), (40, 4), (41, 7)])
def test_by_hand(count: int, day: int) -> None:
    """8.5 h a day in two stretches of 4 and 4.5 h hold eight inspections of an hour; Saturday and Sunday are free."""
    result = plan(inspections(count, 60), seconds=0.5)
    assert result.finish_day == date(2026, 3, 2 + day)
    bound = lower_bound(inspections(count, 60))
    assert bound.day <= day
    assert bound.why


@settings(max_examples=25, deadline=None)
@given(count=st.integers(1, 20), seed=st.integers(0, 10**6), people=st.integers(1, 3))
def test_no_plan_beats_the_bound(count: int, seed: int, people: int) -> None:
    problem = interior(count, seed, people)
    _room, run = careful(problem)
    assert lower_bound(problem).day <= (run.finish - 1) // 1440


def test_the_bound_speaks_of_what_binds() -> None:
    hands = lower_bound(inspections(41, 60))
    assert "h of work must be done" in hands.why
    lone = lower_bound(interior(1, 1, 3))
    assert "alone takes longer" in lone.why
    crowded = interior(60, 1, 3)
    crowded = replace(
        crowded, people=(*crowded.people, *(Person(f"q{i}", f"Q{i}", WEEK) for i in range(6))), guns=4
    )
    assert "night on a table" in lower_bound(crowded).why or "metre-hours" in lower_bound(crowded).why


def test_latest_start_is_the_mirror_of_the_hours() -> None:
    hours = ((480, 720), (750, 1020))
    assert latest_start(hours, 1020, 60) == 960
    assert latest_start(hours, 800, 60) == 660
    assert latest_start(hours, 740, 60) == 660
    assert latest_start(hours, 500, 60) == 420


def test_slack_and_load() -> None:
    problem = replace(interior(12, 4, 2), promised=date(2026, 3, 20))
    made = plan_of(*careful(problem))
    slack = slack_per_piece(problem, made)
    assert set(slack) == {j.piece for j in problem.jobs}
    assert min(slack.values()) > 0
    late = replace(problem, promised=date(2026, 3, 3))
    assert min(slack_per_piece(late, made).values()) < 0
    load = load_of(problem, made)
    assert 0 < load.hands <= 1
    assert 0 < load.gun <= 1
    assert all(0 < share <= 1 for share in load.nights.values())


def test_what_ifs_are_planned_and_compared() -> None:
    problem = interior(30, 0, 1)
    result = plan(problem, seconds=1)
    whats = {w.words: w for w in what_ifs(problem, result, seconds=0.6)}
    assert whats["One more helper"].days_saved >= 1
    assert all(w.result.outcome is not Outcome.IMPOSSIBLE and w.told for w in whats.values())
    assert len(with_table(problem).tables) == 4
    assert len(with_helper(problem).people) == 2
    assert with_saturday(problem).people[0].week.hours[5] == FULL
    assert without_stripping(problem, 1.0).minutes < problem.minutes


def test_a_saturday_off_stays_off_when_it_is_given() -> None:
    week = Week({0: FULL, 5: ((480, 600),)})
    problem = replace(interior(3, 0, 1), people=(Person("a", "A", week),))
    assert with_saturday(problem) == problem


def test_parts_that_turn_up_are_planned_with_the_rest() -> None:
    """A tenth more of the same pieces: never sooner than without them, and each with operations of its own."""
    problem = interior(24, 1, 2)
    more = with_extra_parts(problem)
    assert len(more.jobs) == 27
    assert more.minutes > problem.minutes
    keys = [o.key for _, o in more.operations()]
    assert len(keys) == len(set(keys))
    assert lower_bound(more).minute >= lower_bound(problem).minute
    result = plan(more, seconds=0.6)
    assert result.plan is not None
    assert {p.piece for p in result.plan.placements} == {j.piece for j in more.jobs}
