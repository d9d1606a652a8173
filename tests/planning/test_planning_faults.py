"""A fault of the planner in a later try never costs the plan that passed its audit; it is told of in plain words."""

from dataclasses import replace

import pytest

from bare_room import interior
from hidewright.planning.change import replan as replanning
from hidewright.planning.change.replan import replan
from hidewright.planning.plan.audit import Fault, audit
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve import bare as planning
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.listplan import careful
from hidewright.planning.solve.planner import AuditError, plan

BROKEN = (Fault("gun", "P1/front/spray colour", "needs the gun while it is at P2"),)


@pytest.fixture
def problem() -> Problem:
    return interior(40, 1, 2)


def test_a_try_that_breaks_a_rule_is_thrown_away(problem: Problem, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[Plan] = []

    def only_the_first(problem: Problem, plan: Plan) -> tuple[Fault, ...]:
        seen.append(plan)
        return BROKEN if len(seen) > 1 else audit(problem, plan)

    monkeypatch.setattr(planning, "audit", only_the_first)
    found = plan(problem, seconds=1.5)
    assert found.plan == seen[0]
    assert len(found.faults) == len(seen) - 1 > 0
    assert "thrown away" in found.note
    assert "needs the gun" in found.note


def test_the_first_try_may_fail_when_a_later_one_passes(
    problem: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = plan_of(*careful(problem))
    monkeypatch.setattr(planning, "audit", lambda pr, pl: BROKEN if pl == first else audit(pr, pl))
    found = plan(problem, seconds=1.5)
    assert found.plan is not None
    assert audit(problem, found.plan) == ()
    assert len(found.faults) >= 1


def test_a_later_try_that_breaks_down_is_told_of(problem: Problem, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ValueError("the solver fell over")

    monkeypatch.setattr(planning, "_search", broken)
    found = plan(problem, seconds=0.4)
    assert found.plan is not None
    assert "the solver fell over" in found.note


def test_without_any_good_plan_there_is_none(problem: Problem, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(planning, "audit", lambda pr, pl: BROKEN)
    with pytest.raises(AuditError, match="needs the gun"):
        plan(problem, seconds=0.2)


def test_without_faults_there_is_no_note(problem: Problem) -> None:
    assert plan(problem, seconds=0.2).note == ""


def test_planning_again_falls_back_on_the_other_plan(
    problem: Problem, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = plan_of(*careful(problem))
    calls: list[Plan] = []

    def not_the_first(problem: Problem, plan: Plan, *, done: frozenset[str], now: int) -> tuple[Fault, ...]:
        calls.append(plan)
        return BROKEN if len(calls) == 1 else audit(problem, plan, done=done, now=now)

    monkeypatch.setattr(replanning, "audit", not_the_first)
    again = replan(replace(problem), before, {}, 0, seconds=0.5)
    assert again.all_new
    assert again.result.plan == calls[1]
    assert "thrown away" in again.result.note
    monkeypatch.setattr(replanning, "audit", lambda pr, pl, done, now: BROKEN)
    with pytest.raises(AuditError):
        replan(problem, before, {}, 0, seconds=0.2)
