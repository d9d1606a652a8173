"""Following a plan while the work goes on: the same days, hours and hands as far as can be.

The foreman takes what was planned first, not before its time, and leaves it to whom it was given; what fails to keep its day comes after what has its day, and fills what room is left.
"""

import random
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

from hidewright.refusals import Refusal

from ..plan.schedule import Placement, Plan
from ..plan.sessions import sessions_of
from ..problem.calendar import DAY, open_hours, shop_days
from ..problem.kinds import COATS, product_of
from ..problem.model import GAP, Problem
from ..solve.climb import FIRST, Climber
from ..solve.floor import Begun, Curing, Lies
from ..solve.foreman import Foreman
from ..solve.odds import Odds, Spreads, odds_of
from ..solve.policy import Policy
from ..solve.runs import Follow, Run, Start, plan_of
from ..solve.steps import Shop
from .standing import Standing, whole_plan

HALF_HOUR = 30


@dataclass(frozen=True, slots=True)
class Keeps:
    """Of the old sessions that are not done and whose pieces were not touched: how many there are, and the shares 0..1 that keep their `days`, start within half an hour (`hours`), and keep
    their people (`hands`)."""

    sessions: int
    days: float
    hours: float
    hands: float


@dataclass(frozen=True, slots=True)
class Tried:
    """Plans to take, the better first, each with whether everything was planned anew; `anew` the minute at which that would end; `odds` of the last day."""

    plans: tuple[tuple[Plan, bool], ...]
    anew: int
    odds: Odds | None


def shop_at(problem: Problem, standing: Standing) -> tuple[Shop, Start]:
    """The shop as it stands: what is left of each piece, what lies where, what is wet, which loads are open and what the guns hold."""
    tables = {table.key: index for index, table in enumerate(problem.tables)}
    curing = {s.piece: s for s in standing.ended if s.until > standing.now and s.table in tables}
    handled = {p.piece for p in standing.placements if p.pass_key != "start"}
    begun: dict[int, Begun] = {}
    under: dict[int, str] = {}
    for number, job in enumerate(problem.jobs):
        left = standing.left[job.piece]
        ready = standing.ready[job.piece]
        if not left:
            if not any(o.on_table for o in job.operations):
                begun[number] = Begun(ready)
            continue
        stay = standing.lying.get(job.piece)
        if stay is not None and stay.table in tables:
            lies: Lies = (tables[stay.table], stay.at, stay.along, stay.across)
            begun[number] = Begun(ready, (lies,), stay.since)
            under[number] = stay.pass_key
        elif problem.rack is not None and job.piece in curing:
            stay = curing.pop(job.piece)
            lies = (tables[stay.table], stay.at, stay.along, stay.across)
            begun[number] = Begun(ready, (lies,), stay.since, cured=(stay.pass_key, ready))
        else:
            begun[number] = Begun(ready, in_rack=job.piece in handled)
    only_cure = tuple(Curing(tables[s.table], s.at, s.along, s.until) for s in curing.values())
    shop = Shop(problem, [standing.left[job.piece] for job in problem.jobs], under)
    return shop, replace(_today(problem, shop, standing), begun=begun, curing=only_cure)


def _today(problem: Problem, shop: Shop, standing: Standing) -> Start:
    """What today's work has left: wet coats, loads, guns, and who is at what."""
    rules = problem.rules
    operations = {o.key: (job.colour, o) for job, o in problem.operations()}
    opening = max((day.opening for day in shop.days if day.opening <= standing.now), default=0)
    airs = {(s.piece, s.pass_key): s.table for s in (*standing.lying.values(), *standing.ended)}
    wet: dict[int, int] = {}
    guns = [("", 0)] * problem.guns
    loads: dict[str, tuple[int, int]] = {}
    mixed: dict[str, int] = {}
    people = {person.key: number for number, person in enumerate(problem.people)}
    at_work: dict[int, str] = {}
    for p in sorted(standing.placements, key=lambda p: (p.start, p.end)):
        colour, operation = operations[p.operation]
        table = airs.get((p.piece, p.pass_key))
        if p.kind in COATS and table is not None:
            air = shop.airs.index(rules.air_of(table))
            wet[air] = max(wet.get(air, 0), p.end + operation.wet)
        if p.start < opening:
            continue
        product = product_of(p.kind, colour)
        if p.gun is not None and product is not None and p.gun < len(guns):
            inside, changes = guns[p.gun]
            guns[p.gun] = (product, changes + (bool(inside) and inside != product))
        if product is not None and product != "primer":
            serves = loads.get(product)
            if serves is None or p.end > serves[1]:
                life = problem.pot_life.get(product, problem.pot_life.get(product.split(" ")[0], 10**9))
                loads[product] = (p.start, p.start + life)
                mixed[product] = mixed.get(product, 0) + 1
        if p.person in people:
            at_work[people[p.person]] = rules.family(p.kind)
    return Start(standing.now, wet=wet, guns=tuple(guns), loads=loads, mixed=mixed, at_work=at_work)


def follow_of(problem: Problem, shop: Shop, before: Plan, free: Collection[str], policy: Policy) -> Follow:
    """The plan that was there, as the foreman follows it."""
    people = {person.key: number for number, person in enumerate(problem.people)}
    days = shop_days(open_hours(problem.calendar, problem.people))
    opens: dict[int, int] = {}
    for p in before.placements:
        if p.kind in COATS or p.kind == "wipe down":
            day = next((d for d in reversed(days) if d.opening <= p.start), None)
            if day is not None:
                opens[day.number] = min(opens.get(day.number, 10**9), p.start - 20)
    return Follow(
        starts={p.operation: p.start for p in before.placements},
        people={p.operation: people[p.person] for p in before.placements if p.person in people},
        opens=opens,
        places=_places(problem, shop, before),
        loose=frozenset(number for number, job in enumerate(problem.jobs) if job.piece in free),
    )


def _places(problem: Problem, shop: Shop, before: Plan) -> dict[tuple[int, str], tuple[Lies, ...]]:
    tables = {table.key: (index, table) for index, table in enumerate(problem.tables)}
    numbers = {job.piece: number for number, job in enumerate(problem.jobs)}
    found: dict[tuple[int, str], tuple[Lies, ...]] = {}
    for stay in before.stays:
        if stay.piece not in numbers or stay.table not in tables:
            continue
        index, table = tables[stay.table]
        number = numbers[stay.piece]
        fits = stay.at + stay.along + GAP <= table.length + 1e-9
        if fits and (index, stay.along, stay.across) in shop.ways[number][0]:
            found[(number, stay.pass_key)] = ((index, stay.at, stay.along, stay.across),)
    return found


FOLLOWING = Policy(
    opens=(0,), span=0.9, ahead=1.0, prep=1.0, gun_at=0, least=0, late=600, turned=0.0, like=1.0
)
"""How the foreman works while following a plan: the plan says when, so nothing else holds work back."""


def again_in_sessions(
    problem: Problem,
    before: Plan,
    standing: Standing,
    free: Collection[str],
    *,
    seconds: float,
    keep_days: bool,
    should_stop: Callable[[], bool] = lambda: False,
) -> Tried:
    """Follow the plan that was there, with more or less patience; beside it plan everything anew, to know how early it could end."""
    began = time.monotonic()

    def over(share: float) -> bool:
        return should_stop() or time.monotonic() - began > share * seconds

    shop, start = shop_at(problem, standing)
    climber = Climber(shop, random.Random(0), start)
    anew = None
    for policy in FIRST:
        tried = climber.try_out(policy)
        if tried is not None and (anew is None or tried.score < anew.score):
            anew = tried
        if anew is not None and over(0.3):
            break
    if anew is not None:
        while not over(0.4 if keep_days else 0.85):
            for better in climber.climb(anew, 4, lambda: over(0.85)):
                anew = better
    kept = _followed(problem, shop, start, before, standing, free, over) if keep_days else None
    if anew is None and kept is None:
        raise Refusal(
            "The work does not end within the calendar.",
            remedy="Add hours, people or tables, or plan fewer pieces.",
        )
    plans = []
    if kept is not None:
        plans.append((whole_plan(problem, standing, plan_of(shop, kept)), False))
    if anew is not None:
        plans.append((whole_plan(problem, standing, plan_of(shop, anew.run)), True))
    day = problem.calendar.day
    if kept is not None and anew is not None and problem.promised is not None:
        late = day(kept.finish) > problem.promised
        if late and day(anew.run.finish) < day(kept.finish):
            plans.reverse()
    odds = None
    if anew is not None and not should_stop() and any(shop.steps):
        policy = anew.policy
        odds = odds_of(shop, policy, Spreads(), start=start, runs=30, should_stop=lambda: over(1.0))
    finish = anew.run.finish if anew is not None else kept.finish if kept is not None else 0
    return Tried(tuple(plans), finish, odds)


def _followed(
    problem: Problem,
    shop: Shop,
    start: Start,
    before: Plan,
    standing: Standing,
    free: Collection[str],
    over: Callable[[float], bool],
) -> Run | None:
    """The run that keeps most of the plan that was there."""
    follow = follow_of(problem, shop, before, free, FOLLOWING)
    ways = [
        (FOLLOWING, follow),
        (FOLLOWING, replace(follow, wait=90)),
        (replace(FOLLOWING, span=1.05), follow),
        (FOLLOWING, replace(follow, wait=10, lead=25)),
        (replace(FOLLOWING, span=0.8), replace(follow, lead=5)),
        (replace(FOLLOWING, span=1.2), replace(follow, wait=60, lead=30)),
    ]
    best: tuple[tuple[float, ...], Run, Policy, Follow] | None = None

    def offer(policy: Policy, way: Follow) -> bool:
        nonlocal best
        try:
            run = Foreman(shop, policy, start, follow=way).run()
        except Refusal:
            return False
        assert run is not None
        plan = whole_plan(problem, standing, plan_of(shop, run))
        keeps = kept_of(problem, before, plan, standing.done, free)
        late = 0
        if problem.promised is not None:
            late = max(0, (problem.calendar.day(run.finish) - problem.promised).days)
        rank = (late, -(2 * keeps.days + keeps.hours + keeps.hands), run.finish)
        if best is not None and rank >= best[0]:
            return False
        best = (rank, run, policy, way)
        return True

    for policy, way in ways:
        if best is not None and over(0.7):
            break
        offer(policy, way)
    rng = random.Random(0)
    while best is not None and not over(0.85):
        rank, run, policy, way = best
        slipped = slipped_of(run, way)
        if not slipped or rank[1] <= -3.99:
            break
        chosen = rng.sample(slipped, min(len(slipped), rng.choice((1, 2, 4, 8))))
        offer(policy, replace(way, loose=way.loose | frozenset(chosen), wait=rng.choice((10, 30, 60, 90))))
    return None if best is None else best[1]


def slipped_of(run: Run, follow: Follow) -> list[int]:
    """The pieces that do not keep their day though they were to, those of the first such days: let go, they make room for the others."""
    first: dict[int, int] = {}
    for done in run.done:
        planned = follow.starts.get(done.operation.key)
        if planned is not None and done.piece not in follow.loose and planned // DAY != done.start // DAY:
            first[done.piece] = min(first.get(done.piece, 10**9), planned // DAY)
    early = sorted(set(first.values()))[:2]
    return sorted(piece for piece, day in first.items() if day in early)


def kept_of(
    problem: Problem, before: Plan, after: Plan, done: Collection[str], free: Collection[str]
) -> Keeps:
    """What the old sessions keep. A session keeps its day or its people when at least half of its work that is left does; its hour when what is left of it begins within half an hour."""
    known = {o.key for _, o in problem.operations()}
    old = {p.operation: p for p in before.placements}
    new = {p.operation: p for p in after.placements}
    sessions = sessions_of(problem, _only(before, known))
    counted = 0
    days = hours = hands = 0
    for session in sessions:
        keys = [k for k in session.operations if k not in done and k in new and old[k].piece not in free]
        if not keys or len(keys) < len(session.operations):
            continue
        counted += 1
        days += _share(keys, old, new, lambda a, b: a.start // DAY == b.start // DAY)
        hands += _share(keys, old, new, lambda a, b: a.person == b.person)
        first = min(old[k].start for k in keys)
        hours += abs(min(new[k].start for k in keys) - first) <= HALF_HOUR
    if not counted:
        return Keeps(0, 1.0, 1.0, 1.0)
    return Keeps(counted, days / counted, hours / counted, hands / counted)


def _share(
    keys: Collection[str],
    old: Mapping[str, Placement],
    new: Mapping[str, Placement],
    same: Callable[[Placement, Placement], bool],
) -> bool:
    return 2 * sum(same(old[k], new[k]) for k in keys) >= len(keys)


def _only(before: Plan, known: Collection[str]) -> Plan:
    """The plan without what is no longer part of the job."""
    if all(p.operation in known for p in before.placements):
        return before
    return Plan(tuple(p for p in before.placements if p.operation in known), before.stays)
