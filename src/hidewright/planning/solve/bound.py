"""How early any plan could end: the earliest day that simple counting cannot rule out.

For a day, suppose that all could be done by its end. Then every operation has an earliest start (from what must come before it) and a latest end (from what must come
after, nights included). If some operation has no room between the two, or if the work that must be done between two moments is more than the people, guns or
tables could do between them, then no plan ends on that day. The first day for which no such contradiction is found is the bound. It is a relaxation in the sense of destructive lower
bounds (Klein & Scholl, European Journal of Operational Research 112, 1999, 322-346): it never claims too much.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta

from hidewright.dates import short_day, short_moment
from hidewright.units import counted

from ..problem.calendar import DAY, Stretch, open_hours, stretch_at
from ..problem.kinds import product_of
from ..problem.model import GAP, Job, Operation, Problem
from .listplan import latest_start


@dataclass(frozen=True, slots=True)
class Bound:
    """No plan can end before `day` (number of days after the first); `minute` the end of that day; `why` in words."""

    day: int
    minute: int
    why: str


def earliest_start(open_: Sequence[Stretch], at: int, minutes: int) -> int | None:
    """The first minute from `at` at which `minutes` of unbroken work fit; None when the hours end before."""
    index = stretch_at(open_, at)
    while index < len(open_):
        a, b = open_[index]
        start = max(a, at)
        if start + minutes <= b:
            return start
        index += 1
    return None


@dataclass(frozen=True, slots=True)
class _Task:
    """An operation of one piece between its earliest start and its latest end.

    Operations stand alone here, even where a window ties two: the planner lets one person do both in one go, but no rule of the shop asks for that.
    """

    operation: Operation
    minutes: int
    first: int
    last: int


def _hours(
    problem: Problem, operation: Operation, cache: dict[frozenset[str], tuple[Stretch, ...]]
) -> tuple[Stretch, ...]:
    able = frozenset(p.key for p in problem.people if p.can(operation.kind))
    if able not in cache:
        cache[able] = open_hours(problem.calendar, [p for p in problem.people if p.key in able])
    return cache[able]


def _days(open_: Sequence[Stretch]) -> list[Stretch]:
    """For each day with work, its opening and its closing."""
    days: dict[int, Stretch] = {}
    for a, b in open_:
        number = a // DAY
        days[number] = (days[number][0] if number in days else a, b)
    return list(days.values())


class _Relaxed:
    """The problem with only its heads and tails."""

    def __init__(self, problem: Problem, done: frozenset[str], now: int) -> None:
        self.problem = problem
        cache: dict[frozenset[str], tuple[Stretch, ...]] = {}
        self.open = open_hours(problem.calendar, problem.people)
        self.chains: list[tuple[Job, list[tuple[Operation, tuple[Stretch, ...]]], list[int]]] = []
        self.days = _days(self.open)
        self.blocked = False
        for job in problem.jobs:
            left = [o for o in job.operations if o.key not in done]
            chain = [(o, _hours(problem, o, cache)) for o in left]
            heads: list[int] = []
            at = now
            for operation, hours in chain:
                start = earliest_start(hours, max(at, operation.release), operation.minutes)
                if start is None:
                    self.blocked = True
                    return
                heads.append(start)
                at = start + operation.minutes + operation.dry
            if chain:
                self.chains.append((job, chain, heads))

    def tasks(self, deadline: int) -> Iterator[tuple[Job, list[_Task]]]:
        """Every piece's operations with heads and tails for `deadline`."""
        for job, chain, heads in self.chains:
            tasks: list[_Task] = []
            limit = deadline
            for (operation, hours), head in zip(reversed(chain), reversed(heads), strict=True):
                start = latest_start(hours, limit - operation.dry, operation.minutes)
                tasks.append(_Task(operation, operation.minutes, head, start + operation.minutes))
                limit = start
            yield job, tasks[::-1]


def earliest_finish(problem: Problem, job: Job, now: int = 0) -> int | None:
    """The minute at which this piece could be done if it had the shop to itself from `now` on; None when the calendar is too short."""
    return _alone(problem, job.operations, now)


def _alone(problem: Problem, operations: Sequence[Operation], now: int) -> int | None:
    """When these operations could be over, one after the other, each as soon as what it waits for on other pieces could be."""
    cache: dict[frozenset[str], tuple[Stretch, ...]] = {}
    at = now
    for operation in operations:
        for name in operation.after:
            before = _up_to(problem, name)
            over = _alone(problem, before, now) if before else at
            if over is None:
                return None
            at = max(at, over)
        hours = _hours(problem, operation, cache)
        start = earliest_start(hours, max(at, operation.release), operation.minutes)
        if start is None:
            return None
        at = start + operation.minutes + operation.dry
    return at


def _up_to(problem: Problem, name: str) -> tuple[Operation, ...]:
    """The operations of a piece up to the one of that name; none where it is not part of the work."""
    for job in problem.jobs:
        for number, operation in enumerate(job.operations):
            if operation.key == name:
                return job.operations[: number + 1]
    return ()


def lower_bound(
    problem: Problem,
    *,
    done: frozenset[str] = frozenset(),
    now: int = 0,
    should_stop: Callable[[], bool] = lambda: False,
) -> Bound:
    """The first day that cannot be ruled out, with the reason why the day before is; where `should_stop` says so, the first day that was not looked at yet."""
    relaxed = _Relaxed(problem, done, now)
    first = next((max(a, now) // DAY for a, b in relaxed.open if b > now), 0)
    last = max((b for _, b in relaxed.open), default=0) // DAY
    why = "It is the first day of work."
    for day in range(first, last + 1):
        # The whole day counts, also after closing and on free days: a last coat may cure while nobody is there.
        if should_stop():
            return Bound(day, (day + 1) * DAY, f"{why} There was no time to count further.")
        contradiction = _contradiction(relaxed, (day + 1) * DAY)
        if contradiction is None:
            return Bound(day, (day + 1) * DAY, why)
        before = problem.calendar.start + timedelta(days=day)
        why = f"Not by {short_day(before)}: {contradiction}"
    return Bound(last, (last + 1) * DAY, why)


def _contradiction(relaxed: _Relaxed, deadline: int) -> str | None:
    if relaxed.blocked:
        return "the calendar ends before the work does."
    all_tasks = list(relaxed.tasks(deadline))
    for job, tasks in all_tasks:
        for task in tasks:
            if task.first + task.minutes > task.last:
                return f"{job.piece} alone takes longer, with its nights of curing, up to “{task.operation.kind}”."
    return (
        _people(relaxed.problem, all_tasks)
        or _guns(relaxed, all_tasks)
        or _air(relaxed, all_tasks)
        or _tables(relaxed, all_tasks)
    )


def _overfull(loads: Sequence[tuple[int, int, float]], room: "_Room") -> tuple[int, int, float, float] | None:
    """The first (from, to, load, room) where the loads that must lie between two moments exceed the room; loads are (first, last, amount)."""
    starts = sorted({a for a, _, _ in loads})
    if len(starts) > 40:
        starts = sorted({starts[i * (len(starts) - 1) // 39] for i in range(40)})
    by_end = sorted(loads, key=lambda item: item[1])
    for a in starts:
        total = 0.0
        for index, (first, last, amount) in enumerate(by_end):
            if first >= a:
                total += amount
                nxt = by_end[index + 1][1] if index + 1 < len(by_end) else None
                if nxt != last and total > room.between(a, last) + 1e-6:
                    return a, last, total, room.between(a, last)
    return None


class _Room:
    """Cumulative capacity: `rate` times the minutes of all `stretches` between two moments."""

    def __init__(self, sets: Sequence[Sequence[Stretch]], rate: float = 1.0) -> None:
        self.sets = [list(s) for s in sets]
        self.rate = rate
        self.sums = [_prefix(s) for s in self.sets]
        self.known: dict[int, int] = {}

    def until(self, at: int) -> int:
        if at not in self.known:
            total = 0
            for stretches, sums in zip(self.sets, self.sums, strict=True):
                index = stretch_at(stretches, at)
                total += sums[index]
                if index < len(stretches) and stretches[index][0] < at:
                    total += at - stretches[index][0]
            self.known[at] = total
        return self.known[at]

    def between(self, a: int, b: int) -> float:
        return self.rate * max(0, self.until(b) - self.until(a))


def _prefix(stretches: Sequence[Stretch]) -> list[int]:
    sums = [0]
    for a, b in stretches:
        sums.append(sums[-1] + b - a)
    return sums


Tasks = Sequence[tuple[Job, list[_Task]]]


def _people(problem: Problem, tasks: Tasks) -> str | None:
    moment = problem.calendar.moment
    groups: dict[frozenset[str], list[tuple[int, int, float]]] = {}
    for _, each in tasks:
        for task in each:
            able = frozenset(p.key for p in problem.people if p.can(task.operation.kind))
            groups.setdefault(able, []).append((task.first, task.last, task.minutes))
    everybody = frozenset(p.key for p in problem.people)
    groups[everybody] = [load for loads in groups.values() for load in loads] + _ready(problem, tasks)
    for able, loads in groups.items():
        workers = [p for p in problem.people if p.key in able]
        full = _overfull(loads, _Room([problem.calendar.stretches(p) for p in workers]))
        if full:
            who = f"the {len(workers)} people" if len(workers) > 1 else workers[0].name
            between = f"{moment(full[0]):%a %H:%M} and {short_moment(moment(full[1]))}"
            return (
                f"{full[2] / 60:.1f} h of work must be done between {between}, "
                f"in which {who} work{'' if len(workers) > 1 else 's'} {full[3] / 60:.1f} h."
            )
    return None


def _ready(problem: Problem, tasks: Tasks) -> list[tuple[int, int, float]]:
    """What must be got ready at the least over the whole job: one load of each product that is still mixed, and suiting up once where anything is sprayed."""
    spans: dict[str, tuple[int, int]] = {}
    for job, each in tasks:
        for task in each:
            for what in (product_of(task.operation.kind, job.colour), "gun" if task.operation.gun else None):
                if what is not None and what != "primer":
                    first, last = spans.get(what, (task.first, task.last))
                    spans[what] = (min(first, task.first), max(last, task.last))
    begin = min((task.first for _, each in tasks for task in each), default=0)
    return [
        (begin, last, float(problem.rules.suit if what == "gun" else problem.rules.load))
        for what, (_, last) in spans.items()
    ]


def _guns(relaxed: _Relaxed, tasks: Tasks) -> str | None:
    loads = [
        (task.first, task.last, float(task.minutes))
        for _, each in tasks
        for task in each
        if task.operation.gun
    ]
    full = _overfull(loads, _Room([relaxed.open], relaxed.problem.guns)) if loads else None
    if full:
        guns = "the gun has" if relaxed.problem.guns == 1 else f"{relaxed.problem.guns} guns have"
        return f"{full[2] / 60:.1f} h of spraying must fit into the {full[3] / 60:.1f} h that {guns}."
    return None


def _air(relaxed: _Relaxed, tasks: Tasks) -> str | None:
    """In one air dust and wet coats take turns: all people at once may make dust, all guns at once may spray, never both."""
    problem = relaxed.problem
    rules = problem.rules
    if not rules.dusty or len({rules.air_of(table.key) for table in problem.tables}) > 1:
        return None
    loads: list[tuple[int, int, float]] = []
    for _, each in tasks:
        for task in each:
            if not task.operation.on_table:
                continue
            if task.operation.kind in rules.dusty:
                loads.append((task.first, task.last, task.minutes / len(problem.people)))
            elif task.operation.gun:
                loads.append((task.first, task.last, task.minutes / min(problem.guns, len(problem.people))))
    full = _overfull(loads, _Room([relaxed.open])) if loads else None
    if full:
        return (
            f"dust and spraying exclude each other in one air: together they need {full[2] / 60:.1f} h, "
            f"and the shop is open {full[3] / 60:.1f} h."
        )
    return None


def _tables(relaxed: _Relaxed, tasks: Tasks) -> str | None:
    problem = relaxed.problem
    longest_day = max((b - a for a, b in relaxed.days), default=0)
    loads: list[tuple[int, int, float]] = []
    nights: list[tuple[int, int, float]] = []
    for job, each in tasks:
        along = min((lies[0] for t in problem.tables if (lies := job.on(t))), default=0.0) + GAP
        for pass_key in job.passes:
            inside = [t for t in each if t.operation.pass_key == pass_key and t.operation.on_table]
            if inside:
                first, last = inside[0].first, inside[-1].last + inside[-1].operation.dry
                loads.append((first, last, along * shortest(inside)))
                if shortest(inside) > longest_day:
                    nights.append((first, last, along))
    metres = sum(t.length for t in problem.tables)
    full = _overfull(loads, _Room([[(0, 10**7)]], metres)) if loads else None
    if full:
        return f"the pieces need {full[2] / 60:.0f} metre-hours of table; {metres:.1f} m of table give {full[3] / 60:.0f}."
    closings = [(b, b + 1) for _, b in relaxed.days]
    full = _overfull(nights, _Room([closings], metres)) if nights else None
    if full:
        count = round(full[3] / metres)
        return (
            f"{full[2]:.1f} m of pieces must each cure a night on a table; {metres:.1f} m of table "
            f"give {full[3]:.1f} m in {counted(count, 'night')}."
        )
    return None


def shortest(tasks: Sequence[_Task]) -> int:
    """Minutes a pass takes at least: its work and drying, if there were no nights."""
    return sum(t.minutes + t.operation.dry for t in tasks)
