"""The bench as it runs: time goes on, and whoever is free takes the most pressing work that can be started and finished now.

Every rule of the shop holds by construction, so whatever order of urgency is given, a whole plan comes out. It is a serial pass over events; what makes one plan better than
another is only the urgency that `listplan` and `search` choose.
"""

from bisect import bisect_right, insort
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from hidewright.refusals import Refusal

from ..plan.schedule import Placement, Plan, Stay
from ..problem.calendar import DAY, Stretch, open_hours
from ..problem.model import Job, Problem, piece_of
from ..problem.nights import air_at
from .floor import Begun, Curing, Floor, Places, Stayed
from .lots import Lot, Stop

Urgency = Sequence[Sequence[float]]
"""For each lot and stop: the smaller, the sooner."""


@dataclass(frozen=True, slots=True)
class Habits:
    """How the bench is run, besides what is urgent.

    `barrier`: no lot begins a pass before every lot has ended the pass before. `best_fit`: a piece is laid in the tightest free stretch, not the first.
    `prep_today`, `coat_today`: a pass is only begun when so many times its bare span still fits before closing (0: begun at any time), since what
    stands half done holds its table for a night in which it does not cure.
    """

    barrier: bool = False
    best_fit: bool = False
    prep_today: float = 0.0
    coat_today: float = 0.0


PLAIN = Habits()


@dataclass(frozen=True, slots=True)
class Done:
    """One stop as it was placed."""

    lot: int
    stop: int
    person: int
    gun: int | None
    start: int


@dataclass(frozen=True, slots=True)
class Run:
    """What came out: `done` in order of start, `lies` by (lot, pass), `finish` the minute all is done and dry, `mean` the mean finish of the lots."""

    done: tuple[Done, ...]
    lies: dict[tuple[int, str], Stayed]
    finish: int
    mean: float


class Room:
    """The problem compiled for dispatching: hours, tables and lots as plain numbers."""

    def __init__(
        self,
        problem: Problem,
        lots: Sequence[Lot],
        *,
        begun: dict[int, Begun] | None = None,
        curing: Sequence[Curing] = (),
        now: int = 0,
    ) -> None:
        self.problem = problem
        self.lots = tuple(lots)
        self.begun = begun or {}
        self.curing = tuple(curing)
        self.now = now
        self.stretches = [problem.calendar.stretches(p) for p in problem.people]
        self.ends = [[b for _, b in s] for s in self.stretches]
        self.open: tuple[Stretch, ...] = open_hours(problem.calendar, problem.people)
        self.closing = {a // DAY: b for a, b in self.open}
        self.air = air_at(problem)
        self.openings = {a // DAY: a for a, _ in reversed(self.open)}
        self.longest_day = max(
            (self.closing[day] - opening for day, opening in self.openings.items()), default=0
        )
        self.able = [
            [tuple(all(p.can(kind) for kind in stop.kinds) for p in problem.people) for stop in lot.stops]
            for lot in lots
        ]
        self.spans = [_spans(lot) for lot in lots]
        self.latest_starts: list[list[int]] = []
        self.lengths = [t.length for t in problem.tables]
        self.lying = [[_ways(job, problem) for job in lot.jobs] for lot in lots]

    def opening(self, minute: int) -> int:
        """The minute at which the day of `minute` opens."""
        return self.openings.get(minute // DAY, 0)

    def run(
        self,
        urgency: Urgency,
        habits: Habits = PLAIN,
        *,
        not_before: Sequence[Sequence[int]] | None = None,
        give_up: Callable[[int], bool] | None = None,
        places: Places | None = None,
    ) -> Run | None:
        """Let the shop run. `not_before` min for each lot and stop; `places` where a lot would rather lie in a pass, if that is free; None when `give_up` says so.

        Raises `Refusal` when the calendar ends before the work does.
        """
        return _Bench(self, urgency, habits, not_before, places or {}).work(give_up)


def _spans(lot: Lot) -> list[int]:
    """For each stop, minutes from its start to the end of the last work of its pass, if nothing came between."""
    spans: list[int] = []
    span = 0
    for stop in reversed(lot.stops):
        span = stop.minutes if stop.closes or not spans else stop.minutes + stop.dry + span
        spans.append(span)
    return spans[::-1]


def _ways(job: Job, problem: Problem) -> tuple[tuple[int, float, float], ...]:
    found = []
    for index, table in enumerate(problem.tables):
        lies = job.on(table)
        if lies:
            found.append((index, *lies))
    return tuple(found)


_PASSES = {"prep": 0, "front": 1, "back": 2}


def stage_of(pass_key: str) -> int:
    """Which of the four stages a pass belongs to: preparing, first side, second side, and what follows."""
    return _PASSES.get(pass_key, 3)


class _Bench:
    """One run of the shop."""

    def __init__(
        self,
        room: Room,
        urgency: Urgency,
        habits: Habits,
        not_before: Sequence[Sequence[int]] | None,
        places: Places,
    ) -> None:
        self.room = room
        self.urgency = urgency
        self.habits = habits
        self.not_before = not_before
        count = len(room.lots)
        self.next = [0] * count
        self.busy_until = [room.now] * len(room.stretches)
        self.gun_free: list[list[Stretch]] = [[] for _ in range(room.problem.guns)]
        self.floor = Floor(
            room.lengths, room.lying, room.problem.rack, places, habits.best_fit, self._something_changes
        )
        self.mixed: dict[tuple[str, int], list[Stretch]] = {}
        self.waiting: list[tuple[float, int]] = []
        self.events: list[tuple[int, int]] = []
        self.done: list[Done] = []
        self.ended = [0] * count
        self.left = [
            sum(1 for lot in room.lots if any(stage_of(s.pass_key) == p for s in lot.stops)) for p in range(4)
        ]
        self.seen = [-1] * len(room.stretches)
        self._start()

    def _start(self) -> None:
        self.floor.begin(self.room.begun, self.room.curing)
        for index, lot in enumerate(self.room.lots):
            state = self.room.begun.get(index)
            ready = self.room.now
            if state is not None:
                ready = max(ready, state.ready)
            if lot.stops:
                heappush(self.events, (self._ready(index, ready), index))
            else:
                self.ended[index] = ready
        for person, stretches in enumerate(self.room.stretches):
            place = bisect_right(self.room.ends[person], self.room.now)
            if place < len(stretches):
                heappush(self.events, (max(self.room.now, stretches[place][0]), -1 - person))

    def _something_changes(self, minute: int) -> None:
        heappush(self.events, (max(minute, self.room.now), -1))

    def _ready(self, lot: int, ready: int) -> int:
        stop = self.next[lot]
        ready = max(ready, self.room.lots[lot].stops[stop].release)
        if self.not_before is not None:
            ready = max(ready, self.not_before[lot][stop])
        return ready

    def work(self, give_up: Callable[[int], bool] | None) -> Run | None:
        total = sum(len(lot.stops) for lot in self.room.lots)
        while self.events and len(self.done) < total:
            now = self.events[0][0]
            if give_up is not None and give_up(now):
                return None
            while self.events and self.events[0][0] == now:
                _, who = heappop(self.events)
                if who >= 0:
                    insort(self.waiting, (self.urgency[who][self.next[who]], who))
            self.floor.settle(now)
            self._hand_out(now)
        if len(self.done) < total:
            raise Refusal(
                f"The work does not end within {self.room.problem.calendar.days} days.",
                remedy="Add hours, people or tables, or plan fewer pieces.",
            )
        self.floor.clear()
        self.done.sort(key=lambda d: (d.start, d.person))
        finish = max(self.ended, default=0)
        return Run(tuple(self.done), self.floor.stayed, finish, sum(self.ended) / max(1, len(self.ended)))

    def _hand_out(self, now: int) -> None:
        again = True
        while again:
            again = False
            for person, stretches in enumerate(self.room.stretches):
                if self.busy_until[person] > now:
                    continue
                place = bisect_right(self.room.ends[person], now)
                if place >= len(stretches):
                    continue
                start, end = stretches[place]
                if start > now:
                    self._wake(person, start)
                    continue
                if self._take(person, now, end):
                    again = True
                else:
                    self._wake_next(person, place)

    def _wake(self, person: int, at: int) -> None:
        if self.seen[person] < at:
            self.seen[person] = at
            heappush(self.events, (at, -1 - person))

    def _wake_next(self, person: int, place: int) -> None:
        if place + 1 < len(self.room.stretches[person]):
            self._wake(person, self.room.stretches[person][place + 1][0])

    def _take(self, person: int, now: int, until: int) -> bool:
        room, hopeless = self.room, self.floor.hopeless
        for position, (_, lot) in enumerate(self.waiting):
            index = self.next[lot]
            stop = room.lots[lot].stops[index]
            if now + stop.minutes > until or (stop.opens and hopeless(lot)):
                continue
            if not room.able[lot][index][person] or self._too_soon(lot, stop):
                continue
            if not self._air(stop, now) or not self._pot(stop, now):
                continue
            gun = self._gun(stop, now)
            if gun is None:
                continue
            if stop.opens and not (
                self._today(lot, index, stop, now) and self.floor.lay(lot, stop.pass_key, now)
            ):
                continue
            del self.waiting[position]
            self._do(lot, index, stop, person, gun if stop.gun else None, now)
            return True
        return False

    def _too_soon(self, lot: int, stop: Stop) -> bool:
        """True when all others must end the pass before first; what lies on a table goes on there, since it may have nowhere else to go."""
        waits = self.habits.barrier and self.floor.on_table[lot] is None
        return waits and any(self.left[: stage_of(stop.pass_key)])

    def _today(self, lot: int, index: int, stop: Stop, now: int) -> bool:
        times = self.habits.prep_today if stop.pass_key == "prep" else self.habits.coat_today
        if not times:
            return True
        left = self.room.closing.get(now // DAY, 0) - now
        span = self.room.spans[lot][index]
        return times * span <= left or (
            times * span > self.room.longest_day and now - self.room.opening(now) < 60
        )

    def _air(self, stop: Stop, now: int) -> bool:
        return (
            not self.room.problem.fan_off
            or not stop.wet
            or now + stop.minutes + stop.wet <= self.room.air(now)
        )

    def _pot(self, stop: Stop, now: int) -> bool:
        for product, a, b in stop.mixes:
            life = self.room.problem.pot_life.get(product)
            if life is None:
                continue
            used = [*self.mixed.get((product, now // DAY), []), (now + a, now + b)]
            if mixes_needed(used, life) > self.room.problem.most_mixes:
                return False
        return True

    def _gun(self, stop: Stop, now: int) -> int | None:
        if stop.gun is None:
            return 0
        a, b = now + stop.gun[0], now + stop.gun[1]
        for index, held in enumerate(self.gun_free):
            if all(y <= a or x >= b for x, y in held):
                return index
        return None

    def _do(self, lot: int, index: int, stop: Stop, person: int, gun: int | None, now: int) -> None:
        end = now + stop.minutes
        self.done.append(Done(lot, index, person, gun, now))
        self.busy_until[person] = end
        heappush(self.events, (end, -1 - person))
        if gun is not None and stop.gun is not None:
            held = self.gun_free[gun] = [h for h in self.gun_free[gun] if h[1] > now]
            held.append((now + stop.gun[0], now + stop.gun[1]))
        for product, a, b in stop.mixes:
            self.mixed.setdefault((product, now // DAY), []).append((now + a, now + b))
        dry = self.room.problem.calendar.dries(end, stop.dry)
        if stop.closes:
            last = index + 1 == len(self.room.lots[lot].stops)
            self.floor.close(lot, stop.pass_key, dry, last=last)
        self._pass_on(lot, index, dry)

    def _pass_on(self, lot: int, index: int, dry: int) -> None:
        stops = self.room.lots[lot].stops
        this = stage_of(stops[index].pass_key)
        if index + 1 == len(stops):
            self.left[this] -= 1
            self.ended[lot] = dry
            self.floor.end(lot, dry)
            return
        if stage_of(stops[index + 1].pass_key) != this:
            self.left[this] -= 1
        self.next[lot] = index + 1
        heappush(self.events, (self._ready(lot, dry), lot))


def mixes_needed(used: Sequence[Stretch], life: int) -> int:
    """How many mixes of a pot life of `life` min the uses (from, to) of one day need at least."""
    left = sorted(used)
    count = 0
    while left:
        opened = left[0][0]
        left = [u for u in left if u[1] > opened + life]
        count += 1
        if any(b - a > life for a, b in left):
            return 10**6
    return count


def plan_of(room: Room, run: Run) -> Plan:
    """The plan, piece by piece, of what the shop did."""
    placements = []
    for done in run.done:
        for operation, a, b in room.lots[done.lot].stops[done.stop].offsets:
            start, end = done.start + a, done.start + b
            placements.append(
                Placement(
                    operation=operation.key,
                    piece=piece_of(operation.key),
                    kind=operation.kind,
                    side=operation.side,
                    pass_key=operation.pass_key,
                    person=room.problem.people[done.person].key,
                    gun=done.gun if operation.gun else None,
                    start=start,
                    end=end,
                    dry_until=room.problem.calendar.dries(end, operation.dry),
                )
            )
    placements.sort(key=lambda p: (p.start, p.person, p.end))
    stays = [
        Stay(job.piece, pass_key, room.problem.tables[table].key, at, along, across, since, until)
        for (lot, pass_key), (lies, since, until) in run.lies.items()
        for job, (table, at, along, across) in zip(room.lots[lot].jobs, lies, strict=True)
    ]
    return Plan(tuple(placements), tuple(sorted(stays, key=lambda s: (s.since, s.table, s.at))))
