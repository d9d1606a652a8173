"""Planning several jobs into one shop: one job around what the others hold, or all of them anew, by rank.

What the others hold stays theirs to the minute, and hands are kept for what they should have done and nobody said is done. Planned anew, each job goes around those of a better rank; what lies on a table in the middle of a pass goes first, whatever its rank. No plan counts
before it has passed the audit of all jobs together.
"""

import random
import time
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from hidewright.refusals import Refusal

from ..plan.audit import Fault, audit
from ..plan.schedule import Placement, Plan
from ..plan.sessions import sessions_of
from ..problem.calendar import DAY
from ..problem.model import Job, Operation, Problem
from ..problem.routes import held
from ..solve.bound import lower_bound
from ..solve.climb import FIRST, Climber, order_of
from ..solve.days import EASY
from ..solve.explain import bottleneck
from ..solve.odds import Odds
from ..solve.planner import AuditError, Outcome, PlanResult
from ..solve.policy import Policy
from ..solve.possible import refuse_impossible
from ..solve.runs import Follow, Run, Start, plan_of
from ..solve.steps import Shop
from .around import run_around, shop_days_of
from .follower import FOLLOWING, follow_of
from .following import shop_at
from .holds import Holds, holds_of, with_sprays
from .in_order import odds_in_order
from .others import Others, begun_of, done_keys, plan_of_both, racked, under_way_of, undisturbed
from .owed import with_owed
from .replan import Moved, lapsed_in, moves
from .standing import Standing, Took, standing_of, whole_plan
from .together import Joined, Share, joined

PLANS = 0.75
"""Share of the time after which the plan stands; the rest is for its audit and odds."""
BOUND = 1.0
"""Seconds that counting the bound of all jobs may take, even where the time is over."""
CHANCE = 0.35
"""Share of the time for policies by chance, before the climbing."""
TRIES = 10
"""How many policies are tried, whatever the time, before a job waits until the others hold nothing any more."""

Say = Callable[[float, str], None]
Stop = Callable[[], bool]
Over = Callable[[float], bool]


@dataclass(frozen=True, slots=True)
class JobPlan:
    """What became of one job: its own `problem` in the hours that the others leave, the `result`, what `moved` to another day, and what must be done `again` since it has lapsed."""

    problem: Problem
    result: PlanResult
    moved: tuple[Moved, ...]
    again: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Try:
    """A run of one job around the others, and how it came about."""

    score: float
    run: Run
    policy: Policy
    reach: Mapping[int, int]
    follow: Follow | None = None


@dataclass(frozen=True, slots=True)
class _Room:
    """One job in the shop at a moment: its part of the whole problem, how it stands, and what the others hold."""

    joint: Joined
    share: Share
    problem: Problem
    standing: Standing
    shop: Shop
    start: Start
    holds: Holds
    others: Others


def plan_around(
    share: Share,
    others: Sequence[Share],
    moment: datetime,
    *,
    seconds: float,
    keep: bool = False,
    on_progress: Say = lambda _, __: None,
    should_stop: Stop = lambda: False,
) -> JobPlan:
    """Plan what is left of one job from the local `moment` on, around what the plans of the `others` hold, within `seconds`; `keep` moves as little as can be of the plan it had.

    Raises `Refusal` for what is impossible, and where no way was found to fit it in; `AuditError` when a plan broke a rule (a fault of ours).
    """
    joint = joined([share, *others])
    theirs = joint.of([other.key for other in others], joint.before)
    now = joint.now(moment)
    begun = undisturbed(begun_of(joint, now), joint, now)
    others_ = Others(theirs, Plan((), ()), begun)
    return _fitted(joint, share, others_, now, seconds, keep, on_progress, should_stop)[1]


def plan_anew(
    shares: Sequence[Share],
    moment: datetime,
    *,
    seconds: float,
    on_progress: Say = lambda _, __: None,
    should_stop: Stop = lambda: False,
) -> tuple[dict[str, JobPlan], date]:
    """Plan what is left of all shares anew, one after the other by rank, within `seconds` in all: the plan of each by its key, and the day before which no plan can end them all.

    What somebody is at goes on to its end. Each gets its part of the time, and at least one plan whatever the time. Refuses and raises as `plan_around` does.
    """
    began = time.monotonic()
    joint = joined(shares)
    now = joint.now(moment)
    begun = begun_of(joint, now)
    standing = standing_of(joint.problem, joint.before, joint.done, now, begun=begun)
    under_way = under_way_of(joint, standing)
    lying = {joint.owner[stay.piece] for stay in under_way.stays}
    order = sorted(shares, key=lambda share: (share.key not in lying, share.rank))
    whole = Plan((), ())
    found: dict[str, JobPlan] = {}
    for number, share in enumerate(order):
        left = max(0.0, 0.9 * seconds - (time.monotonic() - began))
        part = left / (len(order) - number)
        on_progress(number / len(order), f"Planning {share.key}, {number + 1} of {len(order)}")
        later = {other.key for other in order[number + 1 :]}
        others = Others(whole, joint.of(later, under_way), begun, racked(joint, standing, later))
        own, found[share.key] = _fitted(
            joint,
            share,
            others,
            now,
            part,
            False,
            lambda _, __: None,
            should_stop,
        )
        whole = plan_of_both(whole, own)
    again = frozenset(f"{key}: {mark}" for key, each in found.items() for mark in each.again)
    done = done_keys(joint.problem, (frozenset(joint.done) - again) | set(begun))
    hands = Standing(now, under_way.placements, {}, {}, (), {}, frozenset(begun))
    faults = audit(joint.problem, whole, done=done, now=now, standing=hands)
    if faults:
        raise AuditError(faults)

    until = max(seconds, time.monotonic() - began + BOUND)

    def over() -> bool:
        return should_stop() or time.monotonic() - began > until

    bound = lower_bound(joint.problem, done=done, now=now, should_stop=over)
    return found, joint.problem.calendar.start + timedelta(days=bound.day)


def _fitted(
    joint: Joined,
    share: Share,
    others: Others,
    now: int,
    seconds: float,
    keep: bool,
    say: Say,
    should_stop: Stop,
) -> tuple[Plan, JobPlan]:
    """One share planned around what is held: its plan in the minutes of the shop, and in its own."""
    began = time.monotonic()

    def over(part: float) -> bool:
        return should_stop() or time.monotonic() - began > part * seconds

    part = joint.part(share)
    done = {key: took for key, took in joint.done.items() if joint.owner[key] == share.key}
    again: tuple[str, ...] = ()
    refuse_impossible(share.problem, done=share.done, now=max(0, now - joint.shift(share)))
    while True:
        room = _room(joint, share, part, others, done, now)
        say(0.1, "Fitting the work in around the other jobs")
        tries = _kept(room, over) if keep else _searched(room, over)
        own, lapsed, thrown = _first_sound(room, tries, done)
        if not lapsed:
            break
        again = (*again, *lapsed)
        done = {key: took for key, took in done.items() if key not in lapsed}
    say(PLANS, "Running the days many times, as things may go")
    odds = odds_in_order(
        room.problem, own, room.shop, room.holds, now=room.start.now, done=room.standing.done
    )
    marks = tuple(key[len(share.key) + 2 :] for key in again)
    mine = joint.split(own)[share.key]
    return own, JobPlan(
        *_result(joint, share, others.held, mine, now, marks, odds, thrown, time.monotonic() - began), marks
    )


def _room(
    joint: Joined,
    share: Share,
    part: Problem,
    others: Others,
    done: Mapping[str, Took],
    now: int,
) -> _Room:
    finished = {key: took for key, took in joint.done.items() if joint.owner[key] != share.key}
    over = done_keys(joint.problem, finished)
    holds = holds_of(joint.problem, others.held, finished)
    before = joint.of([share.key], joint.before)
    begun = {key: took for key, took in others.begun.items() if joint.owner[key] == share.key}
    standing = standing_of(part, before, done, now, begun=begun)
    holds = with_owed(holds, joint.problem, others.held, over, standing)
    holds = replace(holds, racks=tuple(sorted((*holds.racks, *others.racks))))
    problem = _beside(part, holds)
    holds = with_sprays(holds, problem, (p for p in standing.placements if p.end > now - DAY))
    shop, start = shop_at(problem, standing, _past(others.held, finished, now))
    shop_days_of(shop, part, max(now, joint.shift(share)))
    return _Room(joint, share, problem, standing, shop, start, holds, others)


def _past(theirs: Plan, finished: Mapping[str, Took], now: int) -> list[Placement]:
    """What the other jobs had done by now, or begun, as it really was."""
    taken = (
        replace(p, start=finished[p.operation][0], end=finished[p.operation][1])
        if p.operation in finished
        else p
        for p in theirs.placements
    )
    return [p for p in taken if p.start < now and (p.operation in finished or p.end > now)]


def _tried(
    room: _Room, climber: Climber, policy: Policy, limit: int | None, known: Mapping[int, int] | None
) -> _Try | None:
    found = run_around(room.shop, policy, room.start, room.holds, limit=limit, known=known)
    return None if found is None else _Try(climber.score(found[0]), found[0], policy, found[1])


def _beside(part: Problem, holds: Holds) -> Problem:
    """The job in the hours that the others leave it."""
    return replace(part, calendar=replace(part.calendar, held=holds.hands))


def _searched(room: _Room, over: Over) -> list[_Try]:
    """The job's own work anew: the first policies, others by chance, then climbing; the best few, the better first."""
    climber = Climber(room.shop, random.Random(0), room.start)
    pool: list[_Try] = []
    tries = 0

    def offer(policy: Policy, known: Mapping[int, int] | None = None) -> None:
        nonlocal tries, pool
        tries += 1
        limit = pool[0].run.finish + DAY if pool else None
        tried = _tried(room, climber, policy, limit, known)
        if tried is not None:
            pool = sorted([*pool, tried], key=lambda each: each.score)[:8]

    for policy in dict.fromkeys(EASY):
        offer(policy)
        if pool and over(CHANCE):
            break
    while not over(CHANCE) or (not pool and tries < TRIES):
        offer(climber.chance(pool[0].policy if pool else None))
    if not pool:
        return _after_all(room, climber)
    squeezed: set[int] = set()
    while not over(PLANS):
        chosen = climber.pick(pool)
        if id(chosen.run) not in squeezed:
            squeezed.add(id(chosen.run))
            offer(order_of(chosen.run, chosen.policy), chosen.reach)
        else:
            offer(climber.neighbour(chosen.policy), chosen.reach)
    return pool


def _after_all(room: _Room, climber: Climber) -> list[_Try]:
    """The job once the others hold nothing any more, where it does not fit in between."""
    free = max(room.holds.ends, default=0)
    jobs = tuple(held(job, room.standing.done, free) for job in room.problem.jobs)
    problem = replace(room.problem, jobs=jobs)
    shop, start = shop_at(problem, replace(room.standing, left=_left(room, jobs)))
    shop_days_of(shop, room.joint.part(room.share), free)
    found = [_tried(replace(room, shop=shop, start=start), climber, policy, None, None) for policy in FIRST]
    return sorted((tried for tried in found if tried is not None), key=lambda tried: tried.score)


def _left(room: _Room, jobs: Sequence[Job]) -> dict[str, tuple[Operation, ...]]:
    return {
        job.piece: job.operations[len(job.operations) - len(room.standing.left[job.piece]) :] for job in jobs
    }


WAYS = ((0.9, 30, 15), (0.9, 90, 15), (1.05, 30, 15), (0.9, 10, 25), (0.8, 30, 5), (1.2, 60, 30))
"""(span, wait, lead) of the ways in which the plan that was there is followed."""


def _kept(room: _Room, over: Over) -> list[_Try]:
    """The plan that was there, followed with more or less patience around what the others hold: the better first."""
    free = {f"{room.share.key}: {piece}" for piece in room.share.touched}
    before = room.joint.of([room.share.key], room.joint.before)
    known = {p.operation for p in before.placements}
    free |= {job.piece for job in room.problem.jobs if any(o.key not in known for o in job.operations)}
    base = follow_of(room.problem, room.shop, before, free)
    rng = random.Random(0)
    found: list[_Try] = []
    tries = 0
    while tries < len(WAYS) or (found and found[0].score >= 10**6 and not over(PLANS)):
        if found and over(PLANS):
            break
        span, wait, lead = WAYS[tries] if tries < len(WAYS) else rng.choice(WAYS)
        way = replace(base, wait=wait, lead=lead)
        policy = replace(FOLLOWING, span=span)
        if tries >= len(WAYS):
            slipped = _slipped(found[0].run, base)
            way = replace(
                way,
                loose=way.loose | frozenset(rng.sample(slipped, min(len(slipped), rng.choice((1, 2, 4))))),
            )
        tries += 1
        run = run_around(room.shop, policy, room.start, room.holds, follow=way)
        if run is not None:
            found.append(_Try(_loss(run[0], base), run[0], policy, run[1], way))
            found.sort(key=lambda each: each.score)
            del found[6:]
        if not found and tries > TRIES:
            break
    return found or _searched(room, over)


def _slipped(run: Run, follow: Follow) -> list[int]:
    """The pieces that do not keep their day though they were to."""
    return sorted(
        {
            done.piece
            for done in run.done
            if done.piece not in follow.loose
            and follow.starts.get(done.operation.key, done.start) // DAY != done.start // DAY
        }
    )


def _loss(run: Run, follow: Follow) -> float:
    """What a run that follows costs: a million for each step on another day, then the minutes by which steps shifted, then the end."""
    loss = run.finish / DAY
    for done in run.done:
        planned = follow.starts.get(done.operation.key)
        if planned is not None and done.piece not in follow.loose:
            loss += abs(planned - done.start) + 10**6 * (planned // DAY != done.start // DAY)
    return loss


def _first_sound(
    room: _Room, tries: Sequence[_Try], done: Collection[str]
) -> tuple[Plan, tuple[str, ...], tuple[str, ...]]:
    """The first try that passes the audit beside what is held: its plan, what has lapsed, and what was wrong with those before it."""
    thrown: list[AuditError] = []
    for tried in tries:
        own = whole_plan(room.problem, room.standing, plan_of(room.shop, tried.run))
        lapsed = lapsed_in(room.problem, own, done, room.standing.at_work)
        if lapsed:
            return own, lapsed, ()
        faults = _new_faults(room, own)
        if not faults:
            return own, (), tuple(str(fault) for fault in thrown)
        thrown.append(AuditError(faults))
    if thrown:
        raise thrown[0]
    raise Refusal(
        "It could not be fitted in around the other open jobs.",
        where=room.share.key,
        remedy="Think longer, plan all open jobs again by rank, or put a job away.",
    )


def _new_faults(room: _Room, own: Plan) -> tuple[Fault, ...]:
    """The faults of all jobs together, without those that the others had among themselves before: a plan that is behind its shop is told of on its own page. Of the jobs whose turn comes later, what lies there and who is at what counts."""
    joint, now = room.joint, room.standing.now
    theirs, under_way = room.others.planned, room.others.under_way
    others = {joint.owner[p.operation] for p in theirs.placements}
    tapped = {key for key in (*joint.done, *room.others.begun) if joint.owner[key] in others}
    whole = joint.only({*others, room.share.key})
    done = done_keys(whole, tapped) - {o.key for job in room.problem.jobs for o in job.operations}
    both = plan_of_both(theirs, own)
    standing = replace(
        room.standing,
        placements=(*room.standing.placements, *under_way.placements),
        ended=(*room.standing.ended, *under_way.stays),
        at_work=frozenset(room.others.begun),
    )
    faults = audit(whole, both, done=done | room.standing.done, now=now, standing=standing)
    if not faults or not others:
        return faults
    known = set(audit(joint.only(others), theirs, done=done, now=now))
    return tuple(fault for fault in faults if fault not in known)


def _result(
    joint: Joined,
    share: Share,
    theirs: Plan,
    own: Plan,
    now: int,
    again: Collection[str],
    odds: Odds | None,
    thrown: tuple[str, ...],
    seconds: float,
) -> tuple[Problem, PlanResult, tuple[Moved, ...]]:
    problem = joint.around(share, theirs)
    done = frozenset(share.done) - frozenset(again)
    bound = lower_bound(problem, done=done, now=max(0, now - joint.shift(share)))
    finish_day = problem.calendar.day(own.finish)
    bound_day = min(finish_day, problem.calendar.start + timedelta(days=bound.day))
    promised = problem.promised
    result = PlanResult(
        outcome=Outcome.PROVEN if finish_day == bound_day else Outcome.FEASIBLE,
        plan=own,
        finish=own.finish,
        finish_day=finish_day,
        bound_day=bound_day,
        bound_why=bound.why,
        bottleneck=bottleneck(problem, own, bound),
        late_days=max(0, (finish_day - promised).days) if promised else None,
        seconds=seconds,
        first_seconds=seconds,
        runs=1,
        faults=thrown,
        sessions=sessions_of(problem, own),
        odds=odds,
    )
    moved: tuple[Moved, ...] = ()
    if share.before is not None:
        earlier = joint.split(joint.of([share.key], joint.before))[share.key]
        moved = moves(problem, earlier, own, done)
    return problem, result, moved
