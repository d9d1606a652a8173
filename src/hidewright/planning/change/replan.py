"""Planning again while the work goes on: what is done stays, and as little as possible moves.

Pieces that are not concerned keep their days. Where that cannot be (a helper away, a damp week), single pieces are let go, those that fail to keep their day first, and fill
what room is left; all others stay. When that would miss the promised day and planning everything anew would not, the new plan is taken, and says so.
"""

import random
import time
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

from hidewright.dates import short_day
from hidewright.refusals import Refusal

from ..plan.audit import audit
from ..plan.schedule import Plan
from ..plan.sessions import sessions_of
from ..problem.absences import absences_of
from ..problem.calendar import DAY
from ..problem.model import Job, Problem
from ..problem.redo import redo as redo
from ..solve.bound import Bound, lower_bound
from ..solve.dispatch import Room, Run, plan_of
from ..solve.explain import bottleneck
from ..solve.listplan import deadline_of, latest_starts
from ..solve.planner import AuditError, Outcome, PlanResult
from ..solve.possible import refuse_impossible
from ..solve.search import FIRST, improve, try_out
from .following import Keeps, again_in_sessions, kept_of
from .keeping import Kept, keeping
from .standing import Standing, Took, room_at, standing_of, whole_plan

KEEP = 0.75
"""Share of the time for keeping days; before it everything is planned anew, to know how early the last day could be."""


@dataclass(frozen=True, slots=True)
class Moved:
    """One operation that is on another day than before; None where a plan does not have it."""

    piece: str
    operation: str
    before: date | None
    after: date | None

    @property
    def words(self) -> str:
        """“was Mon 2 Mar, now Tue 3 Mar”, “new on …” or “taken out”."""
        if self.after is None:
            return "taken out"
        if self.before is None:
            return f"new on {short_day(self.after)}"
        return f"was {short_day(self.before)}, now {short_day(self.after)}"


@dataclass(frozen=True, slots=True)
class ReplanResult:
    """The new plan in `result`; `moved` what changed its day; `kept` the share 0..1 of untouched pieces all of whose remaining work keeps its day; `untouched` how many there are,
    and `free` how many others are left, which were changed or might move anyway; `anew_day` the last day if everything could move; `all_new` True when that plan was taken; `again` operations that were done but are planned once more, since what follows
    comes after their window."""

    result: PlanResult
    moved: tuple[Moved, ...]
    kept: float
    untouched: int
    anew_day: date | None
    all_new: bool
    again: tuple[str, ...] = ()
    free: int = 0
    keeps: Keeps | None = None


def with_job(problem: Problem, job: Job) -> Problem:
    """The problem with this job in place of the piece's old one, or added."""
    others = [j for j in problem.jobs if j.piece != job.piece]
    at = next((i for i, j in enumerate(problem.jobs) if j.piece == job.piece), len(others))
    return replace(problem, jobs=(*others[:at], job, *others[at:]))


def without(problem: Problem, pieces: Collection[str]) -> Problem:
    """The problem without these pieces; refuses when none is left."""
    return replace(problem, jobs=tuple(j for j in problem.jobs if j.piece not in pieces))


def person_away(problem: Problem, person: str, days: Collection[date]) -> Problem:
    """The problem with a person away on these days."""
    away = absences_of((day, 0) for day in days)
    people = [replace(p, absences=(*p.absences, *away)) if p.key == person else p for p in problem.people]
    return replace(problem, people=tuple(people))


def slower_drying(problem: Problem, factor: float, done: Collection[str] = ()) -> Problem:
    """The problem with everything that is not done drying `factor` times as long (a damp week); refuses less than 1: what shortens drying is the shop's to enter."""
    if factor < 1:
        raise Refusal(
            f"Drying {factor:g} times as long is no damp week.", where="factor", remedy="Write 1 or more."
        )
    return replace(problem, jobs=tuple(_slower(j, factor, frozenset(done)) for j in problem.jobs))


def _slower(job: Job, factor: float, done: frozenset[str]) -> Job:
    operations = []
    for o in job.operations:
        if o.key not in done:
            dry = round(o.dry * factor)
            window = max(o.window, dry) if o.window is not None else None
            o = replace(o, dry=dry, wet=min(dry, round(o.wet * factor)), window=window)
        operations.append(o)
    return replace(job, operations=tuple(operations))


def replan(
    problem: Problem,
    before: Plan,
    done: Mapping[str, Took],
    now: int,
    *,
    seconds: float = 8.0,
    keep_days: bool = True,
    touched: Collection[str] = (),
    should_stop: Callable[[], bool] = lambda: False,
) -> ReplanResult:
    """Plan what is left of `problem` from minute `now`, given the plan `before` and what is `done` (operation key → start, end).

    `touched` are pieces that may move anyway (failed, changed); new pieces and pieces whose operations changed are found by themselves. Raises `Refusal`
    for what is impossible and `AuditError` if a plan broke a rule. Where the log and the old plan cannot both be true, the log is believed.
    """
    if problem.in_sessions:
        return _in_sessions(problem, before, done, now, seconds, keep_days, touched, should_stop)
    began = time.monotonic()
    refuse_impossible(problem, done=done, now=now)
    standing = standing_of(problem, before, done, now)
    free = {*touched, *_changed(problem, before)}
    room = room_at(problem, standing)
    bound = lower_bound(problem, done=standing.done, now=now)
    anew = _anew(room, began + (1 - KEEP if keep_days else 1) * seconds, should_stop)
    kept = None
    if keep_days:
        rest = began + seconds - time.monotonic()
        goal = (anew.finish - 1) // DAY
        kept = keeping(room, before, free, rest, random.Random(0), should_stop, goal)
    runs = _choose(problem, kept, anew)
    run, all_new, thrown = _audited(problem, standing, room, runs, done)
    plan = whole_plan(problem, standing, plan_of(room, run))
    lapsed = lapsed_in(problem, plan, done)
    if lapsed:
        left = {key: took for key, took in done.items() if key not in lapsed}
        rest = max(0.5, began + seconds - time.monotonic())
        again = replan(
            problem,
            before,
            left,
            now,
            seconds=rest,
            keep_days=keep_days,
            touched=touched,
            should_stop=should_stop,
        )
        return replace(again, again=(*lapsed, *again.again))
    result = _result(problem, plan, bound, time.monotonic() - began, not any(standing.left.values()))
    result = replace(result, faults=thrown)
    moved = moves(problem, before, plan, standing.done)
    remaining = {
        j.piece for j in problem.jobs if standing.left[j.piece] and any(o.on_table for o in j.operations)
    }
    untouched = remaining - free
    shifted = {m.piece for m in moved} & untouched
    share = 1 - len(shifted) / len(untouched) if untouched else 1.0
    anew_day = problem.calendar.day(anew.finish)
    return ReplanResult(
        result, moved, share, len(untouched), anew_day, all_new, free=len(remaining) - len(untouched)
    )


def _in_sessions(
    problem: Problem,
    before: Plan,
    done: Mapping[str, Took],
    now: int,
    seconds: float,
    keep_days: bool,
    touched: Collection[str],
    should_stop: Callable[[], bool],
) -> ReplanResult:
    """Planning again in a room with rules: the foreman follows the plan that was there as far as it can."""
    began = time.monotonic()
    refuse_impossible(problem, done=done, now=now)
    standing = standing_of(problem, before, done, now)
    free = {*touched, *_changed(problem, before)}
    bound = lower_bound(problem, done=standing.done, now=now)
    tried = again_in_sessions(
        problem,
        before,
        standing,
        free,
        seconds=began + seconds - time.monotonic(),
        keep_days=keep_days,
        should_stop=should_stop,
    )
    thrown: list[AuditError] = []
    all_new = False
    for plan, new in tried.plans:
        all_new = new
        lapsed = lapsed_in(problem, plan, done, standing.at_work)
        faults = () if lapsed else audit(problem, plan, done=standing.done, now=now, standing=standing)
        if not faults:
            break
        thrown.append(AuditError(faults))
    else:
        raise thrown[0]
    if lapsed:
        left = {key: took for key, took in done.items() if key not in lapsed}
        rest = max(0.5, began + seconds - time.monotonic())
        again = _in_sessions(problem, before, left, now, rest, keep_days, touched, should_stop)
        return replace(again, again=(*lapsed, *again.again))
    all_done = not any(standing.left.values())
    result = _result(problem, plan, bound, time.monotonic() - began, all_done)
    result = replace(
        result,
        faults=tuple(str(fault) for fault in thrown),
        sessions=sessions_of(problem, plan),
        odds=tried.odds,
    )
    moved = moves(problem, before, plan, standing.done)
    remaining = {
        j.piece for j in problem.jobs if standing.left[j.piece] and any(o.on_table for o in j.operations)
    }
    untouched = remaining - free
    shifted = {m.piece for m in moved} & untouched
    share = 1 - len(shifted) / len(untouched) if untouched else 1.0
    return ReplanResult(
        result,
        moved,
        share,
        len(untouched),
        problem.calendar.day(tried.anew),
        all_new,
        free=len(remaining) - len(untouched),
        keeps=kept_of(problem, before, plan, standing.done, free),
    )


def lapsed_in(
    problem: Problem, plan: Plan, done: Collection[str], at_work: Collection[str] = ()
) -> tuple[str, ...]:
    """Work that was done but must be done again, since what it prepared comes after its window (a wipe-down of yesterday); what somebody is at already does not come late."""
    placed = {p.operation: p for p in plan.placements}
    return tuple(
        a.key
        for job in problem.jobs
        for a, b in pairwise(job.operations)
        if a.window is not None
        and a.key in done
        and b.key not in done
        and b.key not in at_work
        and placed[b.key].start > placed[a.key].end + a.window
    )


def _changed(problem: Problem, before: Plan) -> set[str]:
    known = {p.operation for p in before.placements}
    return {job.piece for job in problem.jobs if any(o.key not in known for o in job.operations)}


def _anew(room: Room, until: float, should_stop: Callable[[], bool]) -> Run:
    """The best plan there is time for when everything may move."""
    found = None
    for _, character in FIRST:
        other = try_out(room, character)
        if other is not None and (found is None or other.score < found.score):
            found = other
        if found is not None and (should_stop() or time.monotonic() > until):
            break
    if found is None:
        # Says itself why the work never ends.
        run = room.run(latest_starts(room, deadline_of(room.problem)))
        assert run is not None
        return run
    return improve(found, random.Random(0), 60, lambda: should_stop() or time.monotonic() > until).run


def _choose(problem: Problem, kept: Kept | None, anew: Run) -> list[tuple[Run, bool]]:
    """What to take, the better first: (run, whether everything was planned anew)."""
    if kept is None:
        return [(anew, True)]
    both = [(kept.run, False), (anew, True)]
    kept_day, anew_day = problem.calendar.day(kept.run.finish), problem.calendar.day(anew.finish)
    late = problem.promised is not None and kept_day > problem.promised
    return both[::-1] if late and anew_day < kept_day else both


def _audited(
    problem: Problem,
    standing: Standing,
    room: Room,
    runs: list[tuple[Run, bool]],
    done: Collection[str],
) -> tuple[Run, bool, tuple[str, ...]]:
    """The first of the runs that passes the audit (a lapsed one is asked again later), with what was wrong with those before it."""
    thrown: list[AuditError] = []
    for run, all_new in runs:
        plan = whole_plan(problem, standing, plan_of(room, run))
        faults = audit(problem, plan, done=standing.done, now=standing.now)
        if not faults or lapsed_in(problem, plan, done):
            return run, all_new, tuple(str(fault) for fault in thrown)
        thrown.append(AuditError(faults))
    raise thrown[0]


def _result(problem: Problem, plan: Plan, bound: Bound, seconds: float, all_done: bool) -> PlanResult:
    finish_day = problem.calendar.day(plan.finish)
    bound_day = problem.calendar.start + timedelta(days=bound.day)
    if all_done:
        bound_day, bound = finish_day, replace(bound, why="Everything is done.")
    return PlanResult(
        outcome=Outcome.PROVEN if finish_day == bound_day else Outcome.FEASIBLE,
        plan=plan,
        finish=plan.finish,
        finish_day=finish_day,
        bound_day=bound_day,
        bound_why=bound.why,
        bottleneck=bottleneck(problem, plan, bound),
        late_days=max(0, (finish_day - problem.promised).days) if problem.promised else None,
        seconds=seconds,
        first_seconds=seconds,
        runs=1,
    )


def moves(problem: Problem, before: Plan, after: Plan, done: Collection[str] = ()) -> tuple[Moved, ...]:
    """What is on another day than before, new or taken out, in order of the day; what is `done` is left out."""
    day = problem.calendar.day
    old = {p.operation: p for p in before.placements if p.operation not in done}
    new = {p.operation: p for p in after.placements if p.operation not in done}
    found = []
    for key in {**old, **new}:
        a, b = old.get(key), new.get(key)
        days = (day(a.end) if a else None, day(b.end) if b else None)
        if days[0] != days[1]:
            placed = b or a
            assert placed is not None
            found.append(Moved(placed.piece, key, *days))
    return tuple(sorted(found, key=lambda m: (m.after or m.before or date.max, m.piece, m.operation)))
