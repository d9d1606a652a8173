"""Working by a list: every rule of the room holds whatever the list, and no plan is worse than what a list gives."""

import random
from dataclasses import replace

import pytest

from bench.interiors import interior
from hidewright.planning.plan.audit import audit
from hidewright.planning.problem.model import Problem
from hidewright.planning.problem.rest import Rest
from hidewright.planning.problem.rules import RoomRules
from hidewright.planning.solve.climb import Climber, order_of
from hidewright.planning.solve.days import plan_days
from hidewright.planning.solve.moves import Moves
from hidewright.planning.solve.policy import LISTS, Policy
from hidewright.planning.solve.runs import plan_of
from hidewright.planning.solve.steps import Shop

ROOMS: dict[str, dict[str, object]] = {
    "one air": {},
    "two airs": {"rules": RoomRules(air={"a": "spray", "b": "spray"})},
    "few racks": {"rack": 3},
    "pots of two hours, one change of gun": {
        "rules": RoomRules(changes=1),
        "pot_life": {"colour": 120, "clear": 120},
    },
    "the rest of the job": {"rest": Rest()},
    "fan off at night": {"fan_off": frozenset(range(7))},
}


def faults(problem: Problem, policy: Policy) -> tuple[object, ...]:
    shop = Shop(problem)
    tried = Climber(shop, random.Random(0)).try_out(policy)
    assert tried is not None
    return audit(problem, plan_of(shop, tried.run))


@pytest.mark.parametrize("room", ROOMS)
def test_every_list_keeps_every_rule_of_the_room(room: str) -> None:
    problem = interior(14, 3, 2, **ROOMS[room])
    for policy in LISTS[::2]:
        assert faults(problem, policy) == ()
    moves = Moves(len(problem.jobs), random.Random(1))
    for _ in range(6):
        assert faults(problem, moves.neighbour(moves.a_list())) == ()


def test_no_plan_scores_worse_than_a_list() -> None:
    problem = interior(6, 5, 1)
    climber = Climber(Shop(problem), random.Random(0))
    lists = [tried.score for policy in LISTS if (tried := climber.try_out(policy))]
    result = plan_days(problem, seconds=3.0)
    assert result.plan is not None
    assert climber.worked(result.plan.finish) <= min(lists)


def test_the_order_of_a_plan_is_a_list_that_gives_a_plan_again() -> None:
    problem = interior(12, 2, 2)
    shop = Shop(problem)
    climber = Climber(shop, random.Random(0))
    first = climber.try_out(LISTS[4])
    assert first is not None
    order = order_of(first.run, first.policy)
    assert audit(problem, plan_of(shop, climber.try_out(order).run)) == ()  # type: ignore[union-attr]
    begun = {done.operation.key: done.start for done in first.run.done}
    assert order.starts == begun
    later = replace(order, weights=tuple(600.0 if n == 0 else 0.0 for n in range(len(problem.jobs))))
    moved = climber.try_out(later)
    assert moved is not None
    assert moved.run.ended != first.run.ended
