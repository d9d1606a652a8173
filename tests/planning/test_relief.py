"""What would ease the bottleneck: the right thing is tried first, and what is promised was planned and audited."""

from dataclasses import replace
from typing import Any

import pytest

from bare_room import interior
from hidewright.planning.change import whatif
from hidewright.planning.change.replan import ReplanResult
from hidewright.planning.change.whatif import (
    HELPER,
    MORE,
    SATURDAYS,
    TABLE,
    UnderWay,
    easing,
    relief,
    relief_words,
    what_ifs,
)
from hidewright.planning.plan.audit import audit
from hidewright.planning.problem.calendar import DAY
from hidewright.planning.problem.model import Problem, Table
from hidewright.planning.solve.planner import PlanResult, plan


@pytest.fixture(scope="module")
def narrow() -> Problem:
    """Many hands and one short table."""
    problem = interior(24, 3, 3)
    return replace(problem, tables=(Table("only", "Only table", 2.2, 1.0),))


@pytest.fixture(scope="module")
def planned(narrow: Problem) -> PlanResult:
    return plan(narrow, seconds=1.0)


def test_a_short_table_is_eased_by_a_table(narrow: Problem, planned: PlanResult) -> None:
    assert planned.plan is not None
    assert easing(narrow, planned.plan)[0] == TABLE
    found = relief(narrow, planned, seconds=0.5)
    assert found[0].words == TABLE[0]
    assert found[0].days_saved > 0
    assert len(found) == 1, "what saves a day ends the search"
    assert found[0].finish_day < planned.finish_day  # type: ignore[operator]
    assert audit(TABLE[1](narrow), found[0].result.plan) == ()  # type: ignore[arg-type]
    assert relief_words(found) == f"One more 2 m trestle: {found[0].told}."


def test_busy_hands_are_eased_by_a_helper() -> None:
    problem = interior(60, 1, 1)
    problem = replace(problem, tables=(Table("long", "Long table", 40.0, 1.2),))
    result = plan(problem, seconds=1.0)
    assert result.plan is not None
    assert easing(problem, result.plan)[0] == HELPER
    assert relief(problem, result, seconds=0.5)[0].days_saved > 0


def test_more_room_never_ends_later(narrow: Problem, planned: PlanResult) -> None:
    for found in what_ifs(narrow, planned, seconds=0.05, changes=MORE):
        assert found.minutes_saved >= 0
        assert found.days_saved >= 0


def test_work_that_has_begun_goes_on_from_how_it_stands(narrow: Problem, planned: PlanResult) -> None:
    assert planned.plan is not None
    now = 2 * DAY
    done = {p.operation: (p.start, p.end) for p in planned.plan.placements if p.end <= now}
    assert done
    found = tuple(
        what_ifs(
            narrow,
            planned,
            seconds=0.5,
            changes=(SATURDAYS, TABLE),
            under_way=UnderWay(planned.plan, done, now),
        )
    )
    assert len(found) == 2
    for one in found:
        assert one.result.plan is not None
        assert one.minutes_saved >= 0
        if one.result is not planned:
            placed = {p.operation: p for p in one.result.plan.placements}
            assert all((placed[key].start, placed[key].end) == took for key, took in done.items())
            assert all(p.start >= now for p in one.result.plan.placements if p.operation not in done)


def test_how_the_work_stands_is_planned_once_for_all_changes(
    narrow: Problem, planned: PlanResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert planned.plan is not None
    planning_again, asked = whatif.replan, []

    def counted(problem: Problem, *told: Any, **how: Any) -> ReplanResult:
        asked.append(problem)
        return planning_again(problem, *told, **how)

    monkeypatch.setattr(whatif, "replan", counted)
    under_way = UnderWay(planned.plan, {}, 0)
    tuple(what_ifs(narrow, planned, seconds=0.05, changes=(SATURDAYS, TABLE), under_way=under_way))
    assert len(asked) == 3
    assert [problem == narrow for problem in asked] == [True, False, False]


def test_nothing_tried_says_nothing(narrow: Problem, planned: PlanResult) -> None:
    assert relief(narrow, planned, should_stop=lambda: True) == ()
    assert relief_words(()) == ""
