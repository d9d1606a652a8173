"""The only door from the product's types to the neutral records of the yardstick: a problem becomes a shop, a plan becomes a record.

Whatever changes in the planner's types is taken up here and nowhere else.
"""

from dataclasses import replace
from datetime import date

from hidewright.planning.change.holds import Holds
from hidewright.planning.change.in_order import odds_in_order
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.plan.sessions import sessions_of
from hidewright.planning.problem.model import COATS, MIXED, SPRAYED, Job, Kind, Operation, Problem
from hidewright.planning.problem.rules import FREE_ROOM
from hidewright.planning.solve.days import plan_days
from hidewright.planning.solve.odds import Spreads
from hidewright.planning.solve.steps import Shop as PlannerShop

from .records import Hand, Item, Lying, Op, Record, SetUp, Shop, Work

FAMILY = {
    Kind.STRIP: "prep",
    Kind.CLEAN: "prep",
    Kind.REPAIR: "prep",
    Kind.MASK: "mask",
    Kind.TURN: "turn",
    Kind.CLEAR: "clear",
    Kind.UNMASK: "finish",
    Kind.INSPECT: "finish",
}
"""Family of each kind of work as the issue names them; every other kind is part of a colour session."""
DUSTY = frozenset({Kind.STRIP, Kind.SAND})


def op_of(job: Job, operation: Operation) -> Op:
    """An operation as the yardstick sees it. Only a coat is spoilt by dust: the vapour of a stripper is not."""
    kind = operation.kind
    product = MIXED.get(kind, "primer" if kind is Kind.PRIME else "")
    return Op(
        key=operation.key,
        piece=job.piece,
        kind=str(kind),
        family=FAMILY.get(kind, "colour"),
        minutes=operation.minutes,
        product=f"{product} {job.colour}" if product == "colour" and job.colour else product,
        mixed=kind in MIXED,
        stay=operation.pass_key if operation.on_table else "",
        dry=operation.dry,
        wet=operation.wet if kind in COATS else 0,
        window=operation.window,
        release=operation.release,
        gun=kind in SPRAYED,
        dusty=kind in DUSTY,
    )


def shop_of(problem: Problem) -> Shop:
    """The problem as the yardstick sees it."""
    items = []
    for job in problem.jobs:
        ways = tuple((t.key, lies[0]) for t in problem.tables if (lies := job.on(t)))
        items.append(Item(job.piece, tuple(op_of(job, o) for o in job.operations), ways))
    hands = [
        Hand(p.key, problem.calendar.stretches(p), None if p.skills is None else frozenset(p.skills))
        for p in problem.people
    ]
    return Shop(
        items=tuple(items),
        hands=tuple(hands),
        tables={t.key: t.length for t in problem.tables},
        guns=problem.guns,
        pots=dict(problem.pot_life),
        rack=problem.rack,
        air=dict(problem.rules.air),
    )


def record_of(problem: Problem, plan: Plan) -> Record:
    """The plan as the yardstick sees it."""
    ops = {o.key: op_of(job, o) for job, o in problem.operations()}
    stays = {(s.piece, s.pass_key): s for s in plan.stays}
    lines = {key: session.key for session in sessions_of(problem, plan) for key in session.operations}
    works = []
    for p in plan.placements:
        stay = stays.get((p.piece, p.pass_key))
        works.append(
            Work(
                op=ops[p.operation],
                start=p.start,
                end=p.end,
                person=p.person,
                table=stay.table if stay else "",
                at=stay.at if stay else 0.0,
                along=stay.along if stay else 0.0,
                gun=p.gun,
                session=lines.get(p.operation, ""),
            )
        )
    lying = [Lying(s.piece, s.pass_key, s.table, s.at, s.along, s.since, s.until) for s in plan.stays]
    set_ups: list[SetUp] = []
    return Record(tuple(works), tuple(lying), tuple(set_ups))


def no_set_ups(problem: Problem) -> Problem:
    """The problem with nothing to set up and no rule of the room: for instances from elsewhere."""
    return replace(problem, rules=FREE_ROOM)


def odds_by_order(problem: Problem, plan: Plan) -> tuple[date, date, float, float] | None:
    """The likely and sure day and their chances 0..1 by the cheap odds, which carry the plan out in its own order as the plans of several jobs do; snags, absence and weather left out."""
    nothing = Holds({}, {}, {}, {}, {}, ())
    spreads = Spreads(snags=0.0, absence=0.0, weather=0.0)
    odds = odds_in_order(problem, plan, PlannerShop(problem), nothing, spreads=spreads)
    return (
        None if odds is None else (odds.likely, odds.sure, odds.chance(odds.likely), odds.chance(odds.sure))
    )


def planned_with_odds(
    problem: Problem, *, seconds: float, logged: int
) -> tuple[Plan, tuple[date, date, float, float] | None]:
    """A plan with the planner's own likely and sure day and the chance 0..1 that it gives each (None where it gives none), snags, absence and weather left out; `logged` jobs have taught the shop's bias."""
    spreads = Spreads(logged=logged, snags=0.0, absence=0.0, weather=0.0)
    result = plan_days(problem, seconds=seconds, spreads=spreads)
    assert result.plan is not None
    odds = result.odds
    if odds is None:
        return result.plan, None
    return result.plan, (odds.likely, odds.sure, odds.chance(odds.likely), odds.chance(odds.sure))
