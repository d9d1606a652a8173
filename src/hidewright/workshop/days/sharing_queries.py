"""The jobs that share the shop: which are open, in what order, what their plans hold, and where two plans hold the same."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache

from django.db.models import Max, Subquery
from django.utils import timezone

from hidewright.planning.change.shared import JobPlan
from hidewright.planning.change.together import Share, as_planned
from hidewright.planning.plan.clashes import Clash, Dated, clashes
from hidewright.planning.plan.schedule import Placement
from hidewright.planning.plan.schedule import Plan as Schedule
from hidewright.planning.plan.schedule import plan_from_data as schedule_from_data
from hidewright.planning.problem.calendar import DAY
from hidewright.planning.problem.model import Problem
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.days.models import Plan, Tap, TapKind
from hidewright.workshop.days.queries import done_in, now_in, problem_of, schedule_in_force
from hidewright.workshop.room.queries import planning_people, planning_tables, rack_holds
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

STALE = timedelta(days=60)
"""After so many days hands are no longer kept for work that nobody said is done; it is still asked about."""


def in_order(jobs: Iterable[Job]) -> list[Job]:
    """By the rank that somebody gave; jobs without one after those, by the promised day."""
    return sorted(
        jobs,
        key=lambda job: (job.rank is None, job.rank or 0, job.promised or date.max, job.starts, job.pk),
    )


def open_jobs() -> tuple[Job, ...]:
    """The jobs that are not put away, the one that goes first first."""
    return tuple(in_order(Job.objects.filter(put_away=None)))


def labels(jobs: Iterable[Job]) -> dict[int, str]:
    """Job → its name, with its registration or number where two have the same."""
    listed = list(jobs)
    names = Counter(job.name for job in listed)
    return {
        job.pk: job.name if names[job.name] == 1 else f"{job.name} ({job.registration or job.pk})"
        for job in listed
    }


@dataclass(frozen=True, slots=True)
class Shared:
    """An open job with a plan in force: `label` its name on the pages, `first` the day from whose midnight the plan counts its minutes."""

    job: Job
    label: str
    row: Plan
    first: date

    @property
    def plan(self) -> Schedule:
        """The plan as the planner takes it."""
        return schedules_of((self,))[self.row.pk]


@remembered
def shared() -> tuple[Shared, ...]:
    """The open jobs that have a plan of the planner's in force, the one that goes first first; one question to the database."""
    newest = (
        Plan.objects.filter(withdrawn=None, job__put_away=None)
        .order_by()
        .values("job")
        .annotate(newest=Max("pk"))
        .values("newest")
    )
    rows = Plan.objects.filter(pk__in=Subquery(newest)).exclude(facts={}).select_related("job").defer("data")
    by_job = {row.job_id: row for row in rows}
    jobs = in_order(row.job for row in by_job.values())
    names = labels(jobs)
    return tuple(Shared(job, names[job.pk], by_job[job.pk], first_day(job, by_job[job.pk])) for job in jobs)


def first_day(job: Job, row: Plan) -> date:
    """The day from whose midnight a kept plan counts its minutes."""
    return date.fromisoformat(row.facts["starts"]) if row.facts.get("starts") else job.starts


_READ: dict[tuple[int, datetime], Schedule] = {}
MOST_READ = 400
"""Plans that are kept in memory, once read: a plan never changes."""


def schedules_of(listed: Sequence[Shared]) -> dict[int, Schedule]:
    """Plan → its schedule; those not read before are read with one question."""
    wanted = {(one.row.pk, one.row.made) for one in listed}
    missing = [pk for pk, made in wanted if (pk, made) not in _READ]
    if missing:
        if len(_READ) + len(missing) > MOST_READ:
            _READ.clear()
            missing = [pk for pk, _ in wanted]
        for pk, made, data in Plan.objects.filter(pk__in=missing).values_list("pk", "made", "data__plan"):
            _READ[pk, made] = schedule_from_data(data) if data else Schedule((), ())
    return {pk: _READ[pk, made] for pk, made in wanted}


def holding(today: date | None = None) -> tuple[Shared, ...]:
    """The open jobs whose plans still hold something: their work ends today or later."""
    day = today or timezone.localdate()
    return tuple(one for one in shared() if one.row.finish >= day)


def busy() -> tuple[Shared, ...]:
    """The open jobs whose plans still hold something, or owe work of the last days."""
    owing = {line.job.pk for line in owed_lines() if line.until >= timezone.localdate() - STALE}
    coming = {one.job.pk for one in holding()}
    return tuple(one for one in shared() if one.job.pk in coming | owing)


def others_of(job: Job) -> tuple[Shared, ...]:
    """The other open jobs whose plans still hold something, or owe work of the last days."""
    return tuple(one for one in busy() if one.job.pk != job.pk)


def label_of(job: Job) -> str:
    """A name for a job that no other open job with a plan has."""
    taken = {one.label for one in shared() if one.job.pk != job.pk}
    return job.name if job.name not in taken else f"{job.name} ({job.registration or job.pk})"


def share_of(one: Shared, *, key: str = "", rank: int = 0, loose: bool = False) -> Share:
    """An open job as the planner of the whole shop takes it. Held to its plan it is what that plan has; `loose`, with all its pieces, it may move. Refuses a job that cannot be planned as it is now."""
    try:
        whole = problem_of(one.job)
        own = whole if loose else as_planned(whole, one.plan)
    except Refusal as refusal:
        raise Refusal(
            f"“{one.label}” has a plan, and cannot be planned as it is now: {refusal}",
            where=one.label,
            remedy="Mend that job, or drop its plan on its page Days.",
        ) from refusal
    done = done_in(one.job, own, now_in(own))
    plan = known_only(one.plan, own)
    return Share(key or one.label, own, plan, since=one.first, done=done, rank=rank, loose=loose)


def share_under_way(
    job: Job,
    row: Plan,
    problem: Problem,
    *,
    touched: frozenset[str] = frozenset(),
    loose: bool = False,
) -> Share:
    """A job that is planned again from how its work stands: `touched` pieces may move, or all of it when `loose`."""
    before = known_only(schedule_in_force(row), problem)
    done = done_in(job, problem, now_in(problem))
    since = first_day(job, row)
    return Share(label_of(job), problem, before, since=since, done=done, touched=touched, loose=loose)


def kept_in(share: Share, made: JobPlan) -> tuple[int, int, float]:
    """How many pieces are left that were not to move, how many others are left, and the share 0..1 of the first all of whose work keeps its day."""
    done = set(share.done) - set(made.again)
    left = {job.piece for job in share.problem.jobs if any(o.key not in done for o in job.operations)}
    planned = {p.piece for p in share.before.placements} if share.before is not None else set()
    still = set() if share.loose else (left & planned) - share.touched
    moved = {move.piece for move in made.moved if move.before is not None and move.after is not None}
    return len(still), len(left) - len(still), 1 - len(still & moved) / len(still) if still else 0.0


def known_only(plan: Schedule, problem: Problem) -> Schedule:
    """What a plan has of the work that the job still has: a route may have changed since."""
    operations = {operation.key for _, operation in problem.operations()}
    passes = {(job.piece, operation.pass_key) for job, operation in problem.operations()}
    tables = {table.key for table in problem.tables}
    return Schedule(
        tuple(p for p in plan.placements if p.operation in operations),
        tuple(s for s in plan.stays if (s.piece, s.pass_key) in passes and s.table in tables),
    )


def _done(jobs: Iterable[int]) -> dict[int, frozenset[str]]:
    """Job → what was last tapped done on it."""
    last: dict[tuple[int, str], str] = {}
    taps = Tap.objects.filter(job__in=list(jobs)).exclude(kind=TapKind.SNAG)
    for job, key, kind in taps.order_by("kept", "id").values_list("job", "act_key", "kind"):
        last[job, key] = kind
    done: dict[int, set[str]] = {}
    for (job, key), kind in last.items():
        if kind == TapKind.DONE:
            done.setdefault(job, set()).add(key)
    return {job: frozenset(keys) for job, keys in done.items()}


@dataclass(frozen=True, slots=True)
class OwedLine:
    """An open job with `steps` of days before that nobody said are done: minutes of them, by plan, from the day `since` to the day `until`, and their `keys`."""

    job: Job
    label: str
    keys: tuple[str, ...]
    minutes: int
    since: date
    until: date

    @property
    def steps(self) -> int:
        """How many."""
        return len(self.keys)

    @property
    def hours(self) -> float:
        """Hours of hands."""
        return self.minutes / 60


@remembered
def owed_lines() -> tuple[OwedLine, ...]:
    """The open jobs that owe work of days before today: it is asked about, not believed to be over."""
    listed = shared()
    if not listed:
        return ()
    newest = Tap.objects.filter(job__in=[one.job.pk for one in listed]).aggregate(newest=Max("pk"))["newest"]
    plans = tuple((one.label, one.row.pk, one.row.made) for one in listed)
    found = _owed(plans, newest, timezone.localdate())
    return tuple(OwedLine(one.job, one.label, *found[one.row.pk]) for one in listed if one.row.pk in found)


@lru_cache(maxsize=4)
def _owed(
    plans: tuple[tuple[str, int, datetime], ...], newest: int | None, today: date
) -> dict[int, tuple[tuple[str, ...], int, date, date]]:
    """Plan → what it owes; counted anew only when a plan, a tap or the day is another."""
    wanted = {pk for _, pk, _ in plans}
    listed = [one for one in shared() if one.row.pk in wanted and one.first < today]
    schedules = schedules_of(listed)
    done = _done(one.job.pk for one in listed) if newest is not None else {}
    found = {}
    for one in listed:
        late = _late(schedules[one.row.pk], done.get(one.job.pk, frozenset()), (today - one.first).days * DAY)
        if late:
            days = [one.first + timedelta(days=p.start // DAY) for p in late]
            minutes = sum(p.end - p.start for p in late)
            found[one.row.pk] = (tuple(p.operation for p in late), minutes, min(days), max(days))
    return found


def _late(plan: Schedule, done: frozenset[str], midnight: int) -> list[Placement]:
    """What a plan has before a midnight that is not done, nor followed by something that is, on the same piece."""
    last: dict[str, int] = {}
    for p in plan.placements:
        if p.operation in done:
            last[p.piece] = max(last.get(p.piece, 0), p.start)
    return [
        p
        for p in plan.placements
        if p.end <= midnight and p.operation not in done and p.start > last.get(p.piece, -1)
    ]


@remembered
def all_clashes() -> tuple[Clash, ...]:
    """Where the plans in force of the open jobs hold the same, from this hour on; none with fewer than two."""
    listed = holding()
    if len(listed) < 2:
        return ()
    newest = Tap.objects.filter(job__in=[one.job.pk for one in listed]).aggregate(newest=Max("pk"))["newest"]
    hour = timezone.localtime().replace(tzinfo=None, minute=0, second=0, microsecond=0)
    return _clashes(
        tuple((one.label, one.row.pk, one.row.made) for one in listed), newest, hour, rack_holds()
    )


@lru_cache(maxsize=4)
def _clashes(
    plans: tuple[tuple[str, int, datetime], ...], newest: int | None, hour: datetime, racks: int | None
) -> tuple[Clash, ...]:
    """Counted anew only when a plan, a tap, the hour or the racks are others; of a plan that is gone meanwhile nothing counts."""
    wanted = {pk for _, pk, _ in plans}
    listed = [one for one in shared() if one.row.pk in wanted]
    schedules = schedules_of(listed)
    done = _done(one.job.pk for one in listed) if newest is not None else {}
    dated = {
        one.label: Dated(schedules[one.row.pk], one.first, done.get(one.job.pk, frozenset()))
        for one in listed
    }
    return clashes(dated, hour, racks)


@dataclass(frozen=True, slots=True)
class ClashLine:
    """Jobs whose plans hold the same: which, what in words, from when on; `later` the one that comes last in the order and should go around the others."""

    jobs: tuple[Job, ...]
    words: str
    since: datetime
    later: Job


@remembered
def clash_lines() -> tuple[ClashLine, ...]:
    """One line for each set of jobs whose plans hold the same, the first first."""
    every = all_clashes()
    if not every:
        return ()
    jobs = {one.label: one.job for one in shared()}
    order = list(jobs)
    names = {person.key: person.name for person in planning_people()}
    names |= {table.key: table.name for table in planning_tables()}
    sets: dict[tuple[str, ...], list[Clash]] = {}
    for clash in every:
        sets.setdefault(clash.keys, []).append(clash)
    return tuple(
        ClashLine(
            tuple(jobs[key] for key in sorted(keys, key=order.index)),
            _words(each, names),
            min(clash.since for clash in each),
            jobs[max(keys, key=order.index)],
        )
        for keys, each in sets.items()
    )


def _words(listed: Iterable[Clash], names: Mapping[str, str]) -> str:
    """“Imre (4 times), Long table (twice), gun 1 (once)”."""
    times: Counter[str] = Counter()
    for clash in listed:
        times[names.get(clash.what, clash.what)] += clash.times
    return ", ".join(f"{what} ({_often(count)})" for what, count in times.most_common(6))


def _often(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, counted(count, "time"))


def clash_lines_of(job: Job) -> tuple[ClashLine, ...]:
    """Those in which one job has a part."""
    if not any(one.job.pk == job.pk for one in holding()):
        return ()
    return tuple(line for line in clash_lines() if any(one.pk == job.pk for one in line.jobs))
