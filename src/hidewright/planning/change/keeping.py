"""Keeping days: the bench goes on with as few pieces as can be on another day than before.

Pieces that keep their days go in the old order and wait for their old day; single pieces are let go, and fill what room is left from some day on. First a few plain ways of
choosing whom to let go, then a local search: one is held again, one more let go, one let go on another day, a few nudged within their day; what does not make it worse is kept.
"""

import random
import time
from collections.abc import Callable, Mapping, Set
from dataclasses import dataclass

from ..plan.schedule import Plan
from ..problem.calendar import DAY
from ..problem.model import GAP
from ..solve.dispatch import Room, Run
from ..solve.floor import Lies
from ..solve.listplan import deadline_of, latest_starts
from ..solve.search import score_of

TRIES = 20
"""How many times pieces may be let go before the rest is taken as it comes."""
IDLE = 150
"""Rounds without a gain after which the search ends."""
WAYS = 0.2
"""Share of the time for the plain ways."""
SETTLED = 0.3
"""Share of the time after which the fewest moves are taken as found, where an earlier end is to be looked for."""
EARLIER = 0.9
"""Share of the time for an earlier end; the rest holds again what need not move for it."""
MAY_MOVE = 0.18
"""Share of the pieces that may move for an earlier end: a little below the fifth that may, since a piece counts as a whole."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A run with what made it: `loose` piece → the minute from which it may fill in, `nudges` min by piece within its day; `slipped` piece → first day (of the old plan) that it did not keep."""

    run: Run
    loose: Mapping[str, int]
    nudges: Mapping[str, float]
    slipped: Mapping[str, int]
    rank: tuple[int, int, int]
    """Days after the promised day, pieces that moved though they need not, finish: smaller is better."""
    eager: bool = False
    """Whether what is let go goes by its own urgency, not after all else."""


class Keeper:
    """The room as it stands, with the old plan: lets the bench run with this or that piece let go. `free` pieces are to move anyway."""

    def __init__(self, room: Room, before: Plan, free: set[str]) -> None:
        self.room = room
        self.free = frozenset(free)
        self.old = {p.operation: p.start for p in before.placements}
        self.starts = latest_starts(room, deadline_of(room.problem))
        self.rows = [
            (lot.jobs[0].piece, [self.old.get(stop.offsets[0][0].key) for stop in lot.stops])
            for lot in room.lots
        ]
        self.bound = frozenset(
            piece
            for piece, keys in self.rows
            if piece not in self.free and not any(key is None for key in keys)
        )
        self.places = self._places(before)
        self.on_table = frozenset(
            lot.jobs[0].piece
            for index, lot in enumerate(room.lots)
            if index in room.begun and room.begun[index].lies
        )
        self.last = max([p.start for p in before.placements], default=room.now)
        self.behind = deadline_of(room.problem) - (self.last // DAY + 1) * DAY
        self.days = self._days()

    def _places(self, before: Plan) -> dict[tuple[int, str], tuple[Lies, ...]]:
        """Where the old plan lays each piece, as far as it still fits there."""
        tables = {t.key: (index, t) for index, t in enumerate(self.room.problem.tables)}
        lots = {piece: index for index, (piece, _) in enumerate(self.rows) if piece in self.bound}
        found: dict[tuple[int, str], tuple[Lies, ...]] = {}
        for stay in before.stays:
            if stay.piece not in lots or stay.table not in tables:
                continue
            index, table = tables[stay.table]
            ways = self.room.lying[lots[stay.piece]][0]
            fits = stay.at + stay.along + GAP <= table.length + 1e-9
            if fits and (index, stay.along, stay.across) in ways:
                lies = (index, stay.at, stay.along, stay.across)
                found[(lots[stay.piece], stay.pass_key)] = (lies,)
        return found

    def _days(self) -> list[int]:
        """Minutes from which a piece that was let go may fill in: now, and the morning of each later day up to the old plan's last."""
        mornings = {a // DAY * DAY for a, _ in self.room.open if self.room.now < a <= self.last}
        return sorted({self.room.now, *(m for m in mornings if m > self.room.now)})

    def try_out(self, loose: Mapping[str, int], nudges: Mapping[str, float]) -> Kept:
        """Let the bench run."""
        kept = self.try_eager(loose, nudges, 10**9, eager=False)
        assert kept is not None
        return kept

    def try_eager(
        self, loose: Mapping[str, int], nudges: Mapping[str, float], limit: int, *, eager: bool = True
    ) -> Kept | None:
        """Let the bench run; None when it goes on after minute `limit`."""
        urgency, waits = self._pull(loose, nudges, eager)
        run = self.room.run(urgency, not_before=waits, places=self.places, give_up=lambda now: now > limit)
        if run is None:
            return None
        slipped = self._slipped(run)
        moved = sum(1 for piece in slipped if piece in self.bound)
        return Kept(run, loose, nudges, slipped, (self._late(run), moved, run.finish), eager)

    def _late(self, run: Run) -> int:
        promised = self.room.problem.promised
        day = self.room.problem.calendar.day(run.finish)
        return max(0, (day - promised).days) if promised is not None else 0

    def _pull(
        self, loose: Mapping[str, int], nudges: Mapping[str, float], eager: bool
    ) -> tuple[list[list[float]], list[list[int]]]:
        """Urgency and waits: who keeps their days goes in the old order and not before the old day; who is loose comes after them, from its minute on (or among them, by what is most
        pressing for the last day of the old plan)."""
        urgency: list[list[float]] = []
        waits: list[list[int]] = []
        for lot, row, (piece, keys) in zip(self.room.lots, self.starts, self.rows, strict=True):
            by = nudges.get(piece, 0.0)
            if piece in self.bound and piece not in loose:
                planned = [key for key in keys if key is not None]
                urgency.append([key + by for key in planned])
                waits.append([max(self.room.now, key // DAY * DAY) for key in planned])
                continue
            since = loose.get(piece, self.room.now)
            begun = lot.stops[0].pass_key if lot.stops and not lot.stops[0].opens else None
            urgency.append(
                [start - self.behind + by for start in row] if eager else [1e7 + start for start in row]
            )
            waits.append([0 if stop.pass_key == begun else since for stop in lot.stops])
        return urgency, waits

    def _slipped(self, run: Run) -> dict[str, int]:
        found: dict[str, int] = {}
        for done in run.done:
            lot = self.room.lots[done.lot]
            for operation, a, _ in lot.stops[done.stop].offsets:
                before = self.old.get(operation.key)
                if before is not None and before // DAY != (done.start + a) // DAY:
                    piece = lot.jobs[0].piece
                    found[piece] = min(found.get(piece, 10**9), before // DAY)
        return found

    def work_on(self, day: int) -> dict[str, int]:
        """Minutes of hands that each piece was to get on a day (number) of the old plan."""
        work: dict[str, int] = {}
        for lot, (piece, keys) in zip(self.room.lots, self.rows, strict=True):
            for stop, key in zip(lot.stops, keys, strict=True):
                if key is not None and key // DAY == day:
                    work[piece] = work.get(piece, 0) + stop.minutes
        return work

    def next_start(self, piece: str) -> int:
        """The old start of what the piece does next; 0 when it has none."""
        for known, keys in self.rows:
            if known == piece:
                return (keys[0] or 0) if keys else 0
        return 0


Stop = Callable[[], bool]
Pick = Callable[[Keeper, Mapping[str, int], Mapping[str, int]], list[str]]
"""Which pieces to let go: (keeper, those that slipped though they were to keep their days, those let go already)."""


def keeping(
    room: Room,
    before: Plan,
    free: set[str],
    seconds: float,
    rng: random.Random,
    should_stop: Stop,
    goal: int = 0,
) -> Kept:
    """The run found within `seconds` that keeps most: on time before all, then fewest moved pieces, then the earliest end.

    Where nothing is promised, or the promise is missed, it is the run with the earliest last day that still keeps four pieces in five, and of those the one that moves fewest; `goal` is
    the number of the last day that is early enough.
    """
    began = time.monotonic()

    def after(share: float) -> Stop:
        return lambda: should_stop() or time.monotonic() > began + share * seconds

    keeper = Keeper(room, before, free)
    best = _ways(keeper, after(WAYS))
    in_time = room.problem.promised is not None and not best.rank[0]
    if in_time or day_of(best) <= goal:
        return _settle(keeper, best, rng, after(1.0))
    best = _settle(keeper, best, rng, after(SETTLED))
    sooner = Sooner(keeper, rng, goal).improve(best, after(EARLIER), after(1.0))
    return sooner if sooner is not best else _settle(keeper, best, rng, after(1.0))


def day_of(kept: Kept) -> int:
    """The number of its last day."""
    return (kept.run.finish - 1) // DAY


def _ways(keeper: Keeper, stop: Stop) -> Kept:
    """The plain ways: what is free fills in at once, from tomorrow, or after all else; what slipped is let go, or what weighs most on that day."""
    best: Kept | None = None
    last = max(keeper.room.now, keeper.last // DAY * DAY)
    since_all = dict.fromkeys((last, keeper.room.now, *keeper.days[1:2]))
    for since in since_all:
        for pick in (_from_the_rack, _heaviest, _latest):
            if best is not None and stop():
                return best
            best = _let_go(keeper, since, pick, best, stop)
    assert best is not None
    return best


def _let_go(keeper: Keeper, since: int, pick: Pick, best: Kept | None, stop: Stop) -> Kept:
    """Let the bench run with all days kept; let go, a few at a time, pieces so that the others can keep theirs."""
    loose = dict.fromkeys(keeper.free, since)
    for _ in range(TRIES):
        kept = keeper.try_out(loose, {})
        if best is None or kept.rank < best.rank:
            best = kept
        tight = {p: day for p, day in kept.slipped.items() if p in keeper.bound and p not in loose}
        hopeless = len(loose) - len(keeper.free) > best.rank[1] + 4
        if not tight or hopeless or stop():
            break
        loose = loose | dict.fromkeys(pick(keeper, tight, loose), since)
    assert best is not None
    return best


def _latest(keeper: Keeper, tight: Mapping[str, int], loose: Mapping[str, int]) -> list[str]:
    """A third of those that slipped on the first such day, the latest of them."""
    first = min(tight.values())
    worst = sorted((p for p, day in tight.items() if day == first), key=lambda p: (-keeper.next_start(p), p))
    return worst[: max(1, len(worst) // 3)]


def _heaviest(keeper: Keeper, tight: Mapping[str, int], loose: Mapping[str, int]) -> list[str]:
    """Those with most work on the first day on which some slipped, until half of what slipped would fit."""
    return _half(keeper, tight, keeper.bound - loose.keys()) or _latest(keeper, tight, loose)


def _from_the_rack(keeper: Keeper, tight: Mapping[str, int], loose: Mapping[str, int]) -> list[str]:
    """The same of those that stand in the rack: let go, they hold no table meanwhile."""
    there = keeper.bound - loose.keys() - keeper.on_table
    return _half(keeper, tight, there) or _heaviest(keeper, tight, loose)


def _half(keeper: Keeper, tight: Mapping[str, int], among: Set[str]) -> list[str]:
    first = min(tight.values())
    work = keeper.work_on(first)
    over = sum(work.get(piece, 0) for piece, day in tight.items() if day == first) / 2
    chosen: list[str] = []
    for piece in sorted(among & work.keys(), key=lambda p: (-work[p], p)):
        chosen.append(piece)
        over -= work[piece]
        if over <= 0:
            break
    return chosen


def _settle(keeper: Keeper, best: Kept, rng: random.Random, stop: Stop) -> Kept:
    """The local search."""
    idle = 0
    while idle < IDLE and best.rank[1] > 0 and not stop():
        loose, nudges = _neighbour(keeper, best, rng)
        other = keeper.try_out(loose, nudges)
        idle = 0 if other.rank < best.rank else idle + 1
        if other.rank <= best.rank:
            best = other
    return best


def _neighbour(keeper: Keeper, kept: Kept, rng: random.Random) -> tuple[dict[str, int], dict[str, float]]:
    loose, nudges = dict(kept.loose), dict(kept.nudges)
    let_go = sorted(p for p in loose if p in keeper.bound)
    tight = sorted(keeper.bound - loose.keys())
    slipped = sorted(p for p in kept.slipped if p in keeper.bound and p not in loose)
    what = rng.random()
    if what < 0.45 and let_go:
        for piece in rng.sample(let_go, min(len(let_go), rng.choice((1, 1, 2)))):
            del loose[piece]
    if (0.25 < what < 0.6 or not let_go) and tight:
        loose[rng.choice(slipped if slipped and rng.random() < 0.5 else tight)] = rng.choice(keeper.days)
    if 0.55 < what < 0.8 and loose:
        for piece in rng.sample(sorted(loose), min(len(loose), rng.choice((1, 1, 2, 4)))):
            loose[piece] = rng.choice(keeper.days)
    if what > 0.75 and tight:
        for piece in rng.sample(tight, min(len(tight), rng.choice((1, 2, 4, 8)))):
            nudges[piece] = nudges.get(piece, 0.0) + rng.gauss(0.0, 120.0)
    return loose, nudges


class Sooner:
    """Looks for an earlier last day by letting more pieces go, up to `MAY_MOVE` of them, among the others and not after them."""

    def __init__(self, keeper: Keeper, rng: random.Random, goal: int) -> None:
        self.keeper, self.rng, self.goal = keeper, rng, goal
        self.most = int(MAY_MOVE * len(keeper.bound))

    def improve(self, settled: Kept, stop: Stop, end: Stop) -> Kept:
        """The same run, or one that ends on an earlier day."""
        best = self._start(settled)
        while not stop() and (day_of(best) > self.goal or not self._counts(best, settled)):
            best = self._step(best, settled, self._rank)
        if not self._counts(best, settled):
            return settled
        while not end():
            best = self._step(best, settled, self._few)
        return best

    def _counts(self, kept: Kept, settled: Kept) -> bool:
        """Whether it is better than the one that moves fewest."""
        return self._rank(kept)[:3] < self._rank(settled)[:3]

    def _rank(self, kept: Kept) -> tuple[float, ...]:
        late, moved, finish = kept.rank
        last, left, _ = score_of(self.keeper.room, kept.run)
        return late, max(0, moved - self.most), last, left, moved, finish

    def _few(self, kept: Kept) -> tuple[float, ...]:
        late, moved, finish = kept.rank
        return late, max(0, moved - self.most), day_of(kept), moved, finish

    def _start(self, settled: Kept) -> Kept:
        """What was let go goes among the others; with it what would end last."""
        tail = self._tail(settled)
        starts = [settled]
        for more in (0, self.most // 3, self.most):
            loose = dict(settled.loose) | dict.fromkeys(tail[:more], self.keeper.room.now)
            kept = self.keeper.try_eager(loose, settled.nudges, settled.run.finish + DAY)
            if kept is not None:
                starts.append(kept)
        return min(starts, key=self._rank)

    def _tail(self, kept: Kept) -> list[str]:
        """Pieces that are held, those that are worked on last first."""
        ends: dict[str, int] = {}
        for done in kept.run.done:
            ends[self.keeper.rows[done.lot][0]] = done.start
        held = self.keeper.bound - kept.loose.keys()
        return sorted(held & ends.keys(), key=lambda piece: (-ends[piece], piece))

    def _step(self, best: Kept, settled: Kept, rank: Callable[[Kept], tuple[float, ...]]) -> Kept:
        loose, nudges = self._neighbour(best)
        limit = min(settled.run.finish, (day_of(best) + 1) * DAY)
        other = self.keeper.try_eager(loose, nudges, limit, eager=best.eager)
        return other if other is not None and rank(other) <= rank(best) else best

    def _neighbour(self, kept: Kept) -> tuple[dict[str, int], dict[str, float]]:
        rng, keeper = self.rng, self.keeper
        loose, nudges = dict(kept.loose), dict(kept.nudges)
        let_go = sorted(p for p in loose if p in keeper.bound)
        what = rng.random()
        if what < 0.35 and let_go:
            for piece in rng.sample(let_go, min(len(let_go), rng.choice((1, 1, 2, 3)))):
                del loose[piece]
        if what < 0.15 or 0.35 < what < 0.6 or not let_go:
            tail = self._tail(kept)
            among = tail[: max(8, len(tail) // 3)] if rng.random() < 0.6 else tail
            for piece in rng.sample(among, min(len(among), rng.choice((1, 1, 2)))):
                loose[piece] = rng.choice((keeper.room.now, rng.choice(keeper.days)))
        if 0.5 < what < 0.75 and loose:
            for piece in rng.sample(sorted(loose), min(len(loose), rng.choice((1, 1, 2)))):
                loose[piece] = rng.choice(keeper.days)
        if what > 0.65:
            everybody = sorted(keeper.bound | loose.keys())
            for piece in rng.sample(everybody, min(len(everybody), rng.choice((1, 2, 4, 8)))):
                reach = 600.0 if piece in loose else 120.0
                nudges[piece] = nudges.get(piece, 0.0) + rng.gauss(0.0, reach)
        return loose, nudges
