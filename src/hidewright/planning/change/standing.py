"""How the work stands at a moment: what is done, what lies where, and what is left, so that planning can go on from there."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from hidewright.refusals import Refusal

from ..plan.schedule import Placement, Plan, Stay
from ..plan.state import Standing as Standing
from ..problem.calendar import Calendar
from ..problem.model import GAP, Job, Operation, Problem
from ..solve.dispatch import Room
from ..solve.floor import Begun, Curing, Lies
from ..solve.lots import Lot, lot_of
from .at_work import Took as Took
from .at_work import at_work

FOR_NOW = 10**9
"""The end of a stay that goes on."""


def standing_of(
    problem: Problem,
    before: Plan,
    done: Mapping[str, Took],
    now: int,
    *,
    begun: Mapping[str, Took] | None = None,
) -> Standing:
    """How the work stands: what was tapped done, whatever must have come before it on the same piece, and what somebody is at and goes on with to its end: `begun`, where it is known (default: as taps and the plan say).

    Refuses an operation that `problem` does not know or that ends after `now`.
    """
    known = {o.key for _, o in problem.operations()}
    for key, (start, end) in done.items():
        if key not in known:
            raise Refusal(
                "This is done, but it is no longer part of the job.", where=key, remedy="Leave it out."
            )
        if not start <= end <= now:
            raise Refusal("What is done ended after it started, and before now.", where=key)
    begun = at_work(problem, before, done, now) if begun is None else begun
    done = {**done, **begun}
    planned = {p.operation: p for p in before.placements}
    placements: list[Placement] = []
    left: dict[str, tuple[Operation, ...]] = {}
    lying: dict[str, Stay] = {}
    ended: list[Stay] = []
    ready: dict[str, int] = {}
    for job in problem.jobs:
        count = max((i + 1 for i, o in enumerate(job.operations) if o.key in done), default=0)
        past = _past(job, job.operations[:count], planned, done, problem.calendar)
        placements += past
        left[job.piece] = job.operations[count:]
        ready[job.piece] = max([now, *(p.dry_until for p in past)])
        longer = problem.rack is not None and count < len(job.operations)
        for stay in _stays(job, count, before, past, longer=longer):
            coming = job.operations[count].pass_key if count < len(job.operations) else ""
            if coming == stay.pass_key:
                lying[job.piece] = stay
                continue
            ended.append(stay)
            if coming in job.stays and stay.pass_key == job.operations[count - 1].pass_key:
                lying[job.piece] = replace(stay, pass_key=coming, since=stay.until, until=stay.until + 1)
    placements.sort(key=lambda p: (p.start, p.person, p.end))
    open_ = {piece: replace(stay, until=FOR_NOW) for piece, stay in lying.items()}
    stays = _one_after_the_other([*open_.values(), *ended])
    return Standing(
        now,
        tuple(placements),
        left,
        {piece: lying[piece] for piece, stay in open_.items() if stays.get(_name(stay)) == stay},
        tuple(stays[_name(stay)] for stay in ended if _name(stay) in stays),
        ready,
        frozenset(begun),
    )


def _name(stay: Stay) -> tuple[str, str]:
    return stay.piece, stay.pass_key


def _one_after_the_other(stays: Iterable[Stay]) -> dict[tuple[str, str], Stay]:
    """The stays as they can have been, by piece and pass: when something else was begun on a stretch, or the piece itself somewhere else, what lay there had been taken away.

    What the log says was done outweighs what the plan foresaw: a stay is cut short, or left out when nothing of it remains.
    """
    found: dict[tuple[str, str], Stay] = {}
    for stay in sorted(stays, key=lambda s: (s.since, s.until)):
        for name, other in tuple(found.items()):
            if other.until <= stay.since or not (other.piece == stay.piece or touch(other, stay)):
                continue
            if other.since < stay.since:
                found[name] = replace(other, until=stay.since)
            else:
                del found[name]
        found[_name(stay)] = stay
    return found


def touch(a: Stay, b: Stay) -> bool:
    """Whether two pieces would lie on the same stretch of a table."""
    left, right = (a, b) if a.at <= b.at else (b, a)
    return a.table == b.table and right.at < left.at + left.along + GAP - 1e-6


def _past(
    job: Job,
    operations: Sequence[Operation],
    planned: Mapping[str, Placement],
    done: Mapping[str, Took],
    calendar: Calendar,
) -> list[Placement]:
    """What is done on one piece, from the last back to the first; what nobody tapped is taken to have ended when the next began, or as planned when that is earlier."""
    found: list[Placement] = []
    follow = 10**9
    for operation in reversed(operations):
        old = planned.get(operation.key)
        if operation.key in done:
            start, end = done[operation.key]
        else:
            end = min(follow, old.end if old else follow)
            start = end - operation.minutes
        # What was worked on again had dried, whatever the forecast said.
        after, follow = follow, start
        found.append(
            Placement(
                operation.key,
                job.piece,
                operation.kind,
                operation.side,
                operation.pass_key,
                old.person if old else "",
                (old.gun if old else 0) if operation.gun else None,
                start,
                end,
                max(end, min(calendar.dries(end, operation.dry), after)),
            )
        )
    return found[::-1]


def _stays(job: Job, count: int, before: Plan, past: Iterable[Placement], *, longer: bool) -> list[Stay]:
    """Where a piece lay and lies; `longer` when it may lie on as it was planned after it has cured, the rack being full."""
    found: list[Stay] = []
    passes = tuple(dict.fromkeys(o.pass_key for o in job.operations[:count] if o.on_table))
    for pass_key in passes:
        stay = before.stay_of(job.piece, pass_key)
        if stay is None:
            continue
        placed = [p for p in past if p.pass_key == pass_key]
        since = min(p.start for p in placed)
        if found and pass_key in job.stays:
            since = min(since, found[-1].until)
        until = max(max(p.end, p.dry_until) for p in placed)
        if longer and pass_key == passes[-1]:
            until = max(until, stay.until)
        found.append(
            Stay(
                job.piece,
                pass_key,
                stay.table,
                stay.at,
                stay.along,
                stay.across,
                since,
                max(until, since + 1),
            )
        )
    return found


def room_at(problem: Problem, standing: Standing) -> Room:
    """The room as it stands, each piece a lot of its own; pieces with nothing left are left out."""
    tables = {table.key: index for index, table in enumerate(problem.tables)}
    curing = {s.piece: s for s in standing.ended if s.until > standing.now and s.table in tables}
    handled = {p.piece for p in standing.placements if p.pass_key != "start"}
    made: list[Lot] = []
    begun: dict[int, Begun] = {}
    for job in problem.jobs:
        left = standing.left[job.piece]
        if not left:
            continue
        ready = standing.ready[job.piece]
        stay = standing.lying.get(job.piece)
        lying = stay is not None and stay.table in tables
        if stay is not None and lying:
            begun[len(made)] = Begun(ready, (_lies(stay, tables),), stay.since)
        elif problem.rack is not None and job.piece in curing:
            stay = curing.pop(job.piece)
            cured = (stay.pass_key, ready)
            begun[len(made)] = Begun(ready, (_lies(stay, tables),), stay.since, cured=cured)
        else:
            begun[len(made)] = Begun(ready, in_rack=job.piece in handled)
        made.append(lot_of([job], problem, [left], lying=lying))
    only_cure = [Curing(tables[s.table], s.at, s.along, s.until) for s in curing.values()]
    return Room(problem, made, begun=begun, curing=only_cure, now=standing.now)


def _lies(stay: Stay, tables: Mapping[str, int]) -> Lies:
    return tables[stay.table], stay.at, stay.along, stay.across


def whole_plan(problem: Problem, standing: Standing, rest: Plan) -> Plan:
    """What is done together with what is planned."""
    known = {table.key for table in problem.tables}
    jobs = {job.piece for job in problem.jobs}
    placements = sorted((*standing.placements, *rest.placements), key=lambda p: (p.start, p.person, p.end))
    planned = {(s.piece, s.pass_key) for s in rest.stays}
    ended = [
        s
        for s in standing.ended
        if s.table in known and s.piece in jobs and (s.piece, s.pass_key) not in planned
    ]
    return Plan(
        tuple(placements), tuple(sorted((*ended, *rest.stays), key=lambda s: (s.since, s.table, s.at)))
    )
