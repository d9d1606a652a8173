"""Following the plan that was there: the same days, hours and hands as far as can be.

Whoever is free takes what was planned first, not before its time, and leaves it to whom it was given. Where not all can keep its day, a local search looks for the pieces that are let go so
that most others keep theirs: what is let go comes after what has its day, and fills what room is left.
"""

import random
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

from hidewright.refusals import Refusal

from ..plan.audit import audit
from ..plan.schedule import Placement, Plan
from ..plan.sessions import Session, sessions_of
from ..problem.calendar import DAY, open_hours, shop_days
from ..problem.kinds import COATS
from ..problem.model import GAP, Problem
from ..solve.floor import Lies, Stayed
from ..solve.line import IN_ORDER, line_of
from ..solve.lister import foreman_of
from ..solve.policy import Listing, Policy
from ..solve.runs import Done, Follow, Run, Start, plan_of
from ..solve.steps import Shop
from .standing import Standing, whole_plan

HALF_HOUR = 30
MOST = 0.8
"""Share of a session's minutes that must keep their day, or their person, for the session to have kept it."""
SHIFTS = 0.5
"""Share of the tries near the best way that move a session among the others of its day, where work dries longer than it was planned to."""
LATER = 0.04
"""What a day after the earliest end costs, against 1 for all sessions that keep their start."""


@dataclass(frozen=True, slots=True)
class Keeps:
    """Of the old sessions that are not done and whose pieces were not touched: how many there are, and the shares 0..1 that keep their `days`, start within half an hour (`hours`), and keep
    their people (`hands`); `pieces` the share of the untouched pieces all of whose work keeps its day."""

    sessions: int
    days: float
    hours: float
    hands: float
    pieces: float = 1.0

    @property
    def gain(self) -> float:
        """One number for all of it, 4.5 at most: the day counts twice, a piece half."""
        return 2 * self.days + self.hours + self.hands + self.pieces / 2


FOLLOWING = Policy(
    opens=(0,), span=0.9, ahead=1.0, prep=1.0, gun_at=0, least=0, late=600, turned=0.0, like=1.0
)
"""How the foreman works while following a plan of waves: the plan says when, so nothing else holds work back."""


@dataclass(frozen=True, slots=True)
class _Way:
    """A way of following, with what came of it; smaller `rank` is better."""

    policy: Policy
    follow: Follow
    run: Run
    rank: tuple[float, float, int]
    keeps: Keeps


class Follower:
    """Follows `before` in a shop as it stands; pieces in `free` need not, and `goal` is the number of the day on which all could end if everything moved."""

    def __init__(
        self,
        problem: Problem,
        shop: Shop,
        start: Start,
        before: Plan,
        standing: Standing,
        free: frozenset[str],
        goal: int | None,
    ) -> None:
        self.problem, self.shop, self.start, self.before = problem, shop, start, before
        self.standing, self.free, self.goal = standing, free, goal
        self.book = Book(problem, before, standing.done, free)
        self.follow = follow_of(problem, shop, before, free)
        self.rng = random.Random(0)
        self.shifts = 0.0

    def best(self, over: Callable[[], bool]) -> Run | None:
        """The run that keeps most; None when none ends within the calendar."""
        best = self._as_written()
        for policy, follow in self._ways():
            if best is not None and (over() or self._all_kept(best)):
                break
            best = self._better(best, self._try(policy, follow))
        while best is not None and not over() and not self._all_kept(best):
            best = self._better(best, self._try(*self._near(best)))
        return None if best is None else best.run

    def _as_written(self) -> _Way | None:
        """What is left of the plan, to the minute; None where it can no longer be carried out so, or where a piece is to find a better place (what it waited for is there)."""
        if any(job.piece in self.free for job in self.problem.jobs):
            return None
        run = run_of(self.problem, self.shop, self.start, self.before)
        if run is None:
            return None
        standing = self.standing
        plan = whole_plan(self.problem, standing, plan_of(self.shop, run))
        if audit(self.problem, plan, done=standing.done, now=standing.now, standing=standing):
            return None
        return self._way(FOLLOWING, self.follow, run)

    def _ways(self) -> list[tuple[Policy, Follow]]:
        follow = self.follow
        there = line_of(self.problem, self.shop, self.before)
        line = replace(follow, starts=there.starts, early=there.early)
        in_order = replace(IN_ORDER, starts=line.starts)
        sooner = sooner_starts(self.shop, self.before, line.starts)
        ahead = replace(line, starts=sooner)
        in_time = replace(IN_ORDER, starts=sooner)
        slower = [
            (in_time, ahead),
            (FOLLOWING, replace(follow, starts=sooner, wait=90)),
            (FOLLOWING, replace(follow, wait=90)),
            (in_time, replace(ahead, after=False)),
            (in_time, replace(ahead, wait=10)),
        ]
        if sooner == line.starts:
            slower = []
        self.shifts = SHIFTS if slower else 0.0
        return [
            *slower,
            (in_order, replace(line, after=False)),
            (in_order, line),
            (in_order, replace(line, after=False, lead=0)),
            (in_order, replace(line, after=False, wait=90)),
            (FOLLOWING, follow),
            (in_order, replace(line, after=False, wait=10, lead=60)),
            (in_order, replace(line, wait=10, lead=25)),
            (FOLLOWING, replace(follow, wait=90)),
            (replace(FOLLOWING, span=1.05), follow),
            (replace(FOLLOWING, span=0.8), replace(follow, lead=5)),
        ]

    def _all_kept(self, way: _Way) -> bool:
        return way.rank[0] <= 0 and way.keeps.gain >= 4.49

    def _better(self, best: _Way | None, other: _Way | None) -> _Way | None:
        if other is None or (best is not None and other.rank > best.rank):
            return best
        return other

    def _try(self, policy: Policy, follow: Follow) -> _Way | None:
        try:
            run = foreman_of(self.shop, policy, self.start, follow=follow).run()
        except Refusal:
            return None
        assert run is not None
        return self._way(policy, follow, run)

    def _way(self, policy: Policy, follow: Follow, run: Run) -> _Way:
        problem = self.problem
        keeps = self.book.kept({p.operation: p for p in plan_of(self.shop, run).placements})
        late = 0
        if problem.promised is not None:
            late = max(0, (problem.calendar.day(run.finish) - problem.promised).days)
        days = 0 if self.goal is None else max(0, run.finish // DAY - self.goal)
        return _Way(policy, follow, run, (late, LATER * days - keeps.gain, run.finish), keeps)

    def _near(self, way: _Way) -> tuple[Policy, Follow]:
        """A way near this one: a few more pieces are let go, or fewer, or hands wait for more or less time."""
        rng, follow = self.rng, way.follow
        bound = self.follow.loose
        if rng.random() < self.shifts:
            return self._shifted(way)
        what = rng.random()
        if what < 0.55:
            slipped = (
                self._slipped(way) if what < 0.4 else sorted(set(range(len(self.shop.jobs))) - follow.loose)
            )
            count = min(len(slipped), rng.choice((1, 1, 2, 4, 8)))
            follow = replace(follow, loose=follow.loose | frozenset(rng.sample(slipped, count)))
        if 0.45 < what < 0.75 and follow.loose - bound:
            let_go = sorted(follow.loose - bound)
            back = rng.sample(let_go, min(len(let_go), rng.choice((1, 1, 2))))
            follow = replace(follow, loose=follow.loose - frozenset(back))
        if what > 0.75:
            follow = replace(
                follow,
                wait=rng.choice((0, 10, 30, 60, 90)),
                lead=rng.choice((0, 5, 15, 30, 60)),
                after=rng.random() < 0.3,
            )
        return way.policy, follow

    def _shifted(self, way: _Way) -> tuple[Policy, Follow]:
        """A way in which some session of a day that is not kept comes sooner or later among the others of that day."""
        rng, starts = self.rng, way.follow.starts
        late = set(self._slipped(way))
        days = {
            int(starts[o.key]) // DAY
            for piece in late
            for step in self.shop.steps[piece]
            for o in step.operations[:1]
            if o.key in starts
        }
        first = sorted(days)[: rng.choice((1, 2, 4))]
        found = [keys for session, keys in self.book.sessions if session.start // DAY in first]
        if not found:
            return way.policy, way.follow
        new = dict(starts)
        by = rng.choice((-120, -60, -30, -15, 15, 30, 60, 120))
        for keys in rng.sample(found, min(len(found), rng.choice((1, 1, 2)))):
            for key in keys:
                day = int(new[key]) // DAY * DAY
                new[key] = min(max(new[key] + by, day), day + DAY - 1)
        policy = way.policy
        if isinstance(policy, Listing):
            policy = replace(policy, starts=new)
        return policy, replace(way.follow, starts=new)

    def _slipped(self, way: _Way) -> list[int]:
        """The pieces that do not keep their day though they were to, those of the first such days: let go, they make room for the others."""
        first: dict[int, int] = {}
        for done in way.run.done:
            planned = self.follow.starts.get(done.operation.key)
            if planned is None or done.piece in way.follow.loose:
                continue
            if planned // DAY != done.start // DAY:
                first[done.piece] = min(first.get(done.piece, 10**9), int(planned) // DAY)
        early = sorted(set(first.values()))[:2]
        return sorted(piece for piece, day in first.items() if day in early)


class Book:
    """What a plan holds from now on, so that others can be compared with it."""

    def __init__(self, problem: Problem, before: Plan, done: Collection[str], free: Collection[str]) -> None:
        known = {o.key for _, o in problem.operations()}
        self.old = {p.operation: p for p in before.placements}
        self.sessions: list[tuple[Session, list[str]]] = []
        for session in sessions_of(problem, _only(before, known)):
            keys = [k for k in session.operations if k not in done and self.old[k].piece not in free]
            if keys and len(keys) == len(session.operations):
                self.sessions.append((session, keys))
        self.work: dict[str, list[str]] = {}
        for key, placed in self.old.items():
            if key in known and key not in done and placed.piece not in free:
                self.work.setdefault(placed.piece, []).append(key)

    def kept(self, new: Mapping[str, Placement]) -> Keeps:
        """What another plan, operation by operation, keeps of it."""
        old = self.old
        days = hours = hands = counted = 0
        for _, all_keys in self.sessions:
            keys = [k for k in all_keys if k in new]
            if len(keys) < len(all_keys):
                continue
            counted += 1
            number = old[keys[0]].start // DAY
            total = sum(new[k].end - new[k].start for k in keys)
            same = [k for k in keys if new[k].start // DAY == number]
            days += sum(new[k].end - new[k].start for k in same) >= MOST * total
            hands += (
                sum(new[k].end - new[k].start for k in keys if new[k].person == old[k].person) >= MOST * total
            )
            first = min(old[k].start for k in keys)
            hours += bool(same) and abs(min(new[k].start for k in same) - first) <= HALF_HOUR
        whole = sum(
            all(k in new and new[k].end // DAY == old[k].end // DAY for k in keys)
            for keys in self.work.values()
        )
        pieces = whole / len(self.work) if self.work else 1.0
        if not counted:
            return Keeps(0, 1.0, 1.0, 1.0, pieces)
        return Keeps(counted, days / counted, hours / counted, hands / counted, pieces)


def kept_of(
    problem: Problem, before: Plan, after: Plan, done: Collection[str], free: Collection[str]
) -> Keeps:
    """What the old sessions keep. A session keeps its day or its people when four fifths of its minutes do; its hour when what is left of it on that day begins within half an hour."""
    return Book(problem, before, done, free).kept({p.operation: p for p in after.placements})


def _only(before: Plan, known: Collection[str]) -> Plan:
    """The plan without what is no longer part of the job."""
    if all(p.operation in known for p in before.placements):
        return before
    return Plan(tuple(p for p in before.placements if p.operation in known), before.stays)


def follow_of(problem: Problem, shop: Shop, before: Plan, free: Collection[str]) -> Follow:
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


def sooner_starts(shop: Shop, before: Plan, starts: Mapping[str, float]) -> dict[str, float]:
    """The starts of a plan, each so much sooner that what follows on the same piece and day still begins when it was to, though what comes before it dries longer now; none before its day opens."""
    placed = {p.operation: p for p in before.placements}
    openings = {day.number: day.opening for day in shop.days}
    found = dict(starts)
    for steps in shop.steps:
        later, sooner = None, 0
        for step in reversed(steps):
            first, last = (placed.get(step.operations[at].key) for at in (0, -1))
            if first is None or last is None:
                later, sooner = None, 0
                continue
            day = first.start // DAY
            if later is None or later.start // DAY != day:
                sooner = 0
            else:
                sooner = max(0, last.end + step.dry + sooner - later.start)
            opening = openings.get(day, 0)
            sooner = max(0, min(sooner, first.start - opening))
            key = step.operations[0].key
            found[key] = starts.get(key, first.start) - sooner
            later = first
    return found


def run_of(problem: Problem, shop: Shop, start: Start, before: Plan) -> Run | None:
    """What is left to do, when and where `before` has it; None where that does not know all of it, or its time is past."""
    people = {person.key: number for number, person in enumerate(problem.people)}
    placed = {p.operation: p for p in before.placements}
    places = _places(problem, shop, before)
    done: list[Done] = []
    stayed: dict[tuple[int, str], Stayed] = {}
    ended = [start.now] * len(problem.jobs)
    for piece, steps in enumerate(shop.steps):
        begun = start.begun.get(piece)
        for number, operation in enumerate(o for step in steps for o in step.operations):
            p = placed.get(operation.key)
            if p is None or p.start < start.now or p.person not in people:
                return None
            done.append(Done(operation, piece, people[p.person], p.gun, p.start, p.end))
            ended[piece] = problem.calendar.dries(p.end, operation.dry)
            name = (piece, p.pass_key)
            stay = before.stay_of(p.piece, p.pass_key) if operation.on_table else None
            if stay is not None and name not in stayed:
                if not number and begun is not None and begun.lies and begun.cured is None:
                    stayed[name] = (begun.lies, begun.since, stay.until)
                elif name in places:
                    stayed[name] = (places[name], stay.since, stay.until)
    done.sort(key=lambda d: (d.start, d.person))
    return Run(tuple(done), stayed, max(ended, default=0), tuple(ended))


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
