"""A fault of the planner in a later try never loses a plan that passed its audit; it is told of."""

from typing import Any

import pytest

from bench.interiors import interior
from hidewright.planning import plan as planner
from hidewright.planning import replan as again
from hidewright.planning.audit import Fault, audit
from hidewright.planning.dispatch import plan_of
from hidewright.planning.listplan import careful
from hidewright.planning.plan import AuditError
from hidewright.planning.problem import Problem
from hidewright.planning.schedule import Plan


@pytest.fixture(scope="module")
def problem() -> Problem:
    """A small interior with room to get better."""
    return interior(24, 2, 2)


def a_fault(problem: Problem, plan: Plan) -> tuple[Fault, ...]:
    """What the audit says of a good plan with one act left out."""
    return audit(problem, Plan(plan.placements[1:], plan.stays))


def finds_fault_with(*which: int) -> Any:
    """An audit that finds fault with its nth plans (from 0), and with nothing else."""
    asked = iter(range(10_000))

    def judged(problem: Problem, plan: Plan, **done: Any) -> tuple[Fault, ...]:
        return a_fault(problem, plan) if next(asked) in which else audit(problem, plan, **done)

    return judged


def test_a_try_that_breaks_a_rule_is_thrown_away_and_told(
    monkeypatch: pytest.MonkeyPatch, problem: Problem
) -> None:
    monkeypatch.setattr(planner, "audit", finds_fault_with(1))
    result = planner.plan(problem, seconds=3)
    assert result.plan is not None
    assert audit(problem, result.plan) == ()
    assert len(result.faults) == 1
    assert result.note.startswith("1 try was thrown away")


def test_a_search_that_breaks_down_leaves_the_plan(monkeypatch: pytest.MonkeyPatch, problem: Problem) -> None:
    def broken(*_: Any) -> None:
        raise ZeroDivisionError("a slip")

    monkeypatch.setattr(planner, "_characters", broken)
    result = planner.plan(problem, seconds=2)
    assert result.plan is not None
    assert audit(problem, result.plan) == ()
    assert result.faults == ("a slip",)


def test_a_faulty_first_try_does_not_stop_the_others(
    monkeypatch: pytest.MonkeyPatch, problem: Problem
) -> None:
    monkeypatch.setattr(planner, "audit", finds_fault_with(0))
    result = planner.plan(problem, seconds=3)
    assert result.plan is not None
    assert audit(problem, result.plan) == ()
    assert len(result.faults) == 1


def test_nothing_that_breaks_a_rule_is_ever_shown(monkeypatch: pytest.MonkeyPatch, problem: Problem) -> None:
    monkeypatch.setattr(planner, "audit", a_fault)
    with pytest.raises(AuditError):
        planner.plan(problem, seconds=2)


def test_planning_again_falls_back_on_the_other_run(
    monkeypatch: pytest.MonkeyPatch, problem: Problem
) -> None:
    """Where the run that keeps days breaks a rule, the one that plans anew is taken, and told of."""
    before = plan_of(*careful(problem))
    monkeypatch.setattr(again, "audit", finds_fault_with(0))
    found = again.replan(problem, before, {}, 0, seconds=2)
    assert found.all_new
    assert found.result.plan is not None
    assert audit(problem, found.result.plan) == ()
    assert len(found.result.faults) == 1
