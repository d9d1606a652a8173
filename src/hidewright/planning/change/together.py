"""Several jobs in one shop: one problem out of all that are open, and their plans out of its plan.

Each job is planned in minutes of its own first day. In the shop's problem all count from the earliest first day, and every mark has the job's key before it, so that two jobs may each have a piece C1.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from hidewright.refusals import Refusal

from ..plan.schedule import Placement, Plan, Stay
from ..problem.calendar import DAY, Calendar, Stretch
from ..problem.model import Job, Problem
from .standing import Took

REACH = 30
"""Working days' worth of calendar that each job adds to the shop's, beyond that of the longest."""


@dataclass(frozen=True, slots=True)
class Share:
    """One open job among those that share the shop.

    `key` stands for it before the marks of its pieces; `problem` its own, with the shop's people and tables; `before` the plan it has, in minutes from the day `since` (default: the first day of its problem); `done` operation → (start, end) minutes of its
    problem; `rank`: lower goes first; `touched` pieces that may move; `loose` True when all of it may.
    """

    key: str
    problem: Problem
    before: Plan | None = None
    since: date | None = None
    done: Mapping[str, Took] = field(default_factory=dict)
    rank: int = 0
    touched: frozenset[str] = frozenset()
    loose: bool = False

    def __post_init__(self) -> None:
        if not self.key.strip():
            raise Refusal("A job needs a name.", where="jobs")
        if self.before is None and not self.loose:
            raise Refusal("A job without a plan keeps none.", where=self.key, remedy="Let all of it move.")


@dataclass(frozen=True, slots=True)
class Joined:
    """All shares as one: the `problem` of the shop, the plan `before`, what is `done`, and the pieces that are `free` to move; `owner` names the share of each operation and piece of the whole."""

    shares: tuple[Share, ...]
    problem: Problem
    before: Plan
    done: Mapping[str, Took]
    free: frozenset[str]
    owner: Mapping[str, str]

    def now(self, moment: datetime) -> int:
        """The minute of a local moment in the shop's problem; 0 before its first day."""
        return max(0, self.problem.calendar.minutes(moment))

    def shift(self, share: Share) -> int:
        """Minutes from the shop's first midnight to that of the share."""
        return (share.problem.calendar.start - self.problem.calendar.start).days * DAY

    def split(self, plan: Plan) -> dict[str, Plan]:
        """The plan of each share, in its own marks and minutes."""
        placements: dict[str, list[Placement]] = {share.key: [] for share in self.shares}
        stays: dict[str, list[Stay]] = {share.key: [] for share in self.shares}
        shifts = {share.key: -self.shift(share) for share in self.shares}
        for p in plan.placements:
            key = self.owner[p.operation]
            placements[key].append(_placement(p, shifts[key], _own(key, p.operation), _own(key, p.piece)))
        for stay in plan.stays:
            key = self.owner[stay.piece]
            stays[key].append(_stay(stay, shifts[key], _own(key, stay.piece)))
        return {key: Plan(tuple(placements[key]), tuple(stays[key])) for key in placements}

    def of(self, keys: Collection[str], plan: Plan) -> Plan:
        """What some of the shares have in a plan of the whole."""
        wanted = frozenset(keys)
        return Plan(
            tuple(p for p in plan.placements if self.owner[p.operation] in wanted),
            tuple(s for s in plan.stays if self.owner[s.piece] in wanted),
        )

    def only(self, keys: Collection[str]) -> Problem:
        """The problem of some of the shares."""
        wanted = frozenset(keys)
        return replace(
            self.problem, jobs=tuple(job for job in self.problem.jobs if self.owner[job.piece] in wanted)
        )

    def part(self, share: Share) -> Problem:
        """The share's work in the marks and minutes of the whole, with the shop to itself."""
        return replace(self.only([share.key]), promised=share.problem.promised)

    def around(self, share: Share, plan: Plan) -> Problem:
        """The share's own problem in the hours that the others leave free in a plan of the whole."""
        held: dict[str, list[Stretch]] = {}
        shift = self.shift(share)
        for p in plan.placements:
            if self.owner[p.operation] != share.key and p.end > shift:
                held.setdefault(p.person, []).append((max(0, p.start - shift), p.end - shift))
        calendar = share.problem.calendar
        free = Calendar(
            calendar.start,
            calendar.holidays,
            max(calendar.days, self.problem.calendar.days - shift // DAY),
            held={person: merged(stretches) for person, stretches in held.items()},
            missing=calendar.missing,
        )
        return replace(share.problem, calendar=free)


def joined(shares: Sequence[Share]) -> Joined:
    """The shares as one problem; refuses none, and two of the same key."""
    if not shares:
        raise Refusal("There is no job to plan.", remedy="Open a job first.")
    keys = [share.key for share in shares]
    if len(set(keys)) != len(keys):
        raise Refusal("Two jobs have the same name here.", where="jobs", remedy="Give each its own.")
    first = min(
        min(share.problem.calendar.start, share.since or share.problem.calendar.start) for share in shares
    )
    calendars = [share.problem.calendar for share in shares]
    days = max((c.start - first).days + c.days for c in calendars) + REACH * (len(shares) - 1)
    shop = shares[0].problem
    jobs: list[Job] = []
    placements: list[Placement] = []
    stays: list[Stay] = []
    done: dict[str, Took] = {}
    free: set[str] = set()
    owner: dict[str, str] = {}
    for share in shares:
        shift = (share.problem.calendar.start - first).days * DAY
        mine = [_job(share, job, shift) for job in share.problem.jobs]
        jobs += mine
        owner |= {job.piece: share.key for job in mine}
        owner |= {o.key: share.key for job in mine for o in job.operations}
        done |= {_joint(share.key, key): (a + shift, b + shift) for key, (a, b) in share.done.items()}
        free |= {_joint(share.key, job.piece) for job in share.problem.jobs if _may_move(share, job.piece)}
        if share.before is not None:
            earlier = ((share.since or share.problem.calendar.start) - first).days * DAY
            kept = _kept(share)
            placements += [
                _placement(p, earlier, _joint(share.key, p.operation), _joint(share.key, p.piece))
                for p in share.before.placements
                if p.piece in kept
            ]
            stays += [
                _stay(s, earlier, _joint(share.key, s.piece)) for s in share.before.stays if s.piece in kept
            ]
    problem = replace(
        shop,
        jobs=tuple(jobs),
        calendar=Calendar(first, shop.calendar.holidays, days, missing=shop.calendar.missing),
        promised=None,
    )
    return Joined(tuple(shares), problem, Plan(tuple(placements), tuple(stays)), done, frozenset(free), owner)


def merged(stretches: Collection[Stretch]) -> tuple[Stretch, ...]:
    """Stretches in order, those that touch or overlap as one."""
    found: list[Stretch] = []
    for start, end in sorted(stretches):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return tuple(found)


def _may_move(share: Share, piece: str) -> bool:
    return share.loose or piece in share.touched


def _kept(share: Share) -> set[str]:
    return {job.piece for job in share.problem.jobs}


def _joint(key: str, own: str) -> str:
    return f"{key}: {own}"


def _own(key: str, whole: str) -> str:
    return whole[len(key) + 2 :]


def _job(share: Share, job: Job, shift: int) -> Job:
    operations = tuple(
        replace(
            o,
            key=_joint(share.key, o.key),
            release=o.release + shift,
            after=tuple(_joint(share.key, name) for name in o.after),
        )
        for o in job.operations
    )
    return replace(
        job,
        piece=_joint(share.key, job.piece),
        operations=operations,
        colour=f"{share.key} {job.colour}".strip(),
        rank=share.rank,
    )


def _placement(p: Placement, shift: int, operation: str, piece: str) -> Placement:
    return replace(
        p,
        operation=operation,
        piece=piece,
        start=p.start + shift,
        end=p.end + shift,
        dry_until=p.dry_until + shift,
    )


def _stay(stay: Stay, shift: int, piece: str) -> Stay:
    return replace(stay, piece=piece, since=stay.since + shift, until=stay.until + shift)


def as_planned(problem: Problem, before: Plan) -> Problem:
    """The problem with only that work which the plan has: what is not planned yet is planned by its own job. Refuses when none is left."""
    known = {p.operation for p in before.placements}
    jobs = (
        replace(job, operations=tuple(o for o in job.operations if o.key in known))
        for job in problem.jobs
        if any(o.key in known for o in job.operations)
    )
    return replace(problem, jobs=tuple(jobs))
