"""A plan as a line of work that a foreman follows: what comes first, when it was to begin, and whose it is."""

from ..plan.schedule import Plan
from ..plan.sessions import setups
from ..problem.model import Problem
from .policy import Listing
from .runs import Follow
from .steps import Shop

IN_ORDER = Listing(least=0, turned=0.0, small=0.0, like=0.0)
"""Working by a list whose order is that of a plan; `starts` come from `line_of`."""


def line_of(problem: Problem, shop: Shop, plan: Plan) -> Follow:
    """The plan as it is followed: what slips goes on in its order, and hands get ready as long before each work as its set-ups take."""
    people = {person.key: number for number, person in enumerate(problem.people)}
    known = {o.key for _, o in problem.operations()}
    mine = plan
    if not all(p.operation in known for p in plan.placements):
        mine = Plan(tuple(p for p in plan.placements if p.operation in known), plan.stays)
    return Follow(
        starts=_together(shop, plan),
        people={p.operation: people[p.person] for p in plan.placements if p.person in people},
        opens={},
        places={},
        loose=frozenset(),
        after=False,
        early={key: setup.minutes for key, setup in setups(problem, mine).items()},
    )


def _together(shop: Shop, plan: Plan) -> dict[str, float]:
    """Operation → its start; what was done in one go on several pieces, one operation on all and then the next, starts together, in the order of the plan."""
    placed = {p.operation: p for p in plan.placements}
    starts: dict[str, float] = {p.operation: p.start for p in plan.placements}
    goes: dict[tuple[int, str], list[tuple[int, int, str]]] = {}
    for steps in shop.steps:
        for step in steps:
            first, last = (placed.get(step.operations[at].key) for at in (0, -1))
            if first is None or last is None or shop.groups[step.group].by_piece:
                continue
            goes.setdefault((step.group, first.person), []).append((first.start, last.end, first.operation))
    for go in goes.values():
        begin, end = 0, -1
        for number, (start, until, key) in enumerate(sorted(go)):
            if start >= end:
                begin = start
            end = max(end, until)
            starts[key] = begin + number / 1000
    return starts
