"""Lots: a few like pieces that go through the work together, as a careful person works; it keeps the search small and the day's list short.

Lots are the planner's own business: a plan, its audit and its bound speak of pieces.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from ..problem.chains import runs
from ..problem.model import GAP, MIXED, Job, Operation, Problem, Table, piece_of

Offset = tuple[Operation, int, int]
"""An operation of one piece with its start and end after the start of the stop."""


@dataclass(frozen=True, slots=True)
class Stop:
    """What one person does in one go on all pieces of a lot; `offsets` in order of time.

    `minutes` in all; `dry` min until the lot's next stop; `wet` min after its end until nothing gives off vapour; `gun` and `mixes` the stretches (from, to) in
    which a gun is held or a mix is used; `opens` and `closes` True when a pass on the tables begins or ends with it.
    """

    offsets: tuple[Offset, ...]
    minutes: int
    dry: int
    wet: int
    gun: tuple[int, int] | None
    mixes: tuple[tuple[str, int, int], ...]
    release: int
    pass_key: str
    opens: bool
    closes: bool

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of work in it, in order."""
        return tuple(dict.fromkeys(str(o.kind) for o, _, _ in self.offsets))


@dataclass(frozen=True, slots=True)
class Lot:
    """Like pieces and their stops. `due` minute by which it must be done (None: no day of its own)."""

    jobs: tuple[Job, ...]
    stops: tuple[Stop, ...]
    due: int | None = None

    @property
    def key(self) -> str:
        """The mark of its first piece, and how many more there are."""
        more = len(self.jobs) - 1
        return self.jobs[0].piece + (f"+{more}" if more else "")


@dataclass(frozen=True, slots=True)
class LotRules:
    """How large a lot may be: pieces, m along a table, minutes of one stop."""

    pieces: int = 4
    length: float = 2.8
    minutes: int = 120


def stop_of(group: Sequence[tuple[Operation, ...]], opens: bool, closes: bool) -> Stop:
    """The stop that does one run of operations on each piece of a group: first operation on all, then the next."""
    offsets: list[Offset] = []
    ends = [0] * len(group)
    cursor = 0
    for step in range(len(group[0])):
        for index, run in enumerate(group):
            waits = ends[index] + (run[step - 1].dry if step else 0)
            start = max(cursor, waits)
            cursor = ends[index] = start + run[step].minutes
            offsets.append((run[step], start, cursor))
    guns = [(a, b) for o, a, b in offsets if o.gun]
    mixes: dict[str, tuple[int, int]] = {}
    for operation, a, b in offsets:
        product = MIXED.get(operation.kind)
        if product:
            low, high = mixes.get(product, (a, b))
            mixes[product] = (min(low, a), max(high, b))
    return Stop(
        offsets=tuple(offsets),
        minutes=cursor,
        dry=max(ends[i] + run[-1].dry for i, run in enumerate(group)) - cursor,
        wet=max(max(b + o.wet for o, _, b in offsets) - cursor, 0),
        gun=(min(a for a, _ in guns), max(b for _, b in guns)) if guns else None,
        mixes=tuple((product, a, b) for product, (a, b) in mixes.items()),
        release=max(o.release - a for o, a, _ in offsets),
        pass_key=group[0][0].pass_key,
        opens=opens,
        closes=closes,
    )


def lot_of(
    jobs: Sequence[Job],
    problem: Problem,
    left: Sequence[tuple[Operation, ...]] | None = None,
    *,
    lying: bool = False,
) -> Lot:
    """A lot of jobs whose operations are alike; `left` gives for each job what is still to be done (default: all of it), `lying` whether its pass is under way."""
    columns = [tuple(runs(o)) for o in (left or [j.operations for j in jobs])]
    stops = []
    for number in range(len(columns[0])):
        group = [column[number] for column in columns]
        pass_key, table = group[0][0].pass_key, group[0][0].on_table
        before = columns[0][number - 1][-1].pass_key if number else pass_key if lying else ""
        after = columns[0][number + 1][0].pass_key if number + 1 < len(columns[0]) else ""
        stops.append(stop_of(group, table and before != pass_key, table and after != pass_key))
    dues = [problem.calendar.end_of(j.due) for j in jobs if j.due is not None]
    return Lot(tuple(jobs), tuple(stops), min(dues) if dues else None)


def windows_kept(lot: Lot) -> bool:
    """True when in every stop each piece's next step follows within its window."""
    for stop in lot.stops:
        last: dict[str, tuple[Operation, int]] = {}
        for operation, start, end in stop.offsets:
            piece = piece_of(operation.key)
            before = last.get(piece)
            if before and before[0].window is not None and start - before[1] > before[0].window:
                return False
            last[piece] = (operation, end)
    return True


def place_all(jobs: Iterable[Job], tables: Sequence[Table]) -> bool:
    """True when these pieces fit on the empty tables together (first fit)."""
    free = [t.length for t in tables]
    for job in jobs:
        for index, table in enumerate(tables):
            lies = job.on(table)
            if lies and lies[0] + GAP <= free[index] + 1e-9:
                free[index] -= lies[0] + GAP
                break
        else:
            return False
    return True


def _fits(lot: Lot, problem: Problem, rules: LotRules) -> bool:
    if len(lot.jobs) > rules.pieces or not windows_kept(lot) or not place_all(lot.jobs, problem.tables):
        return False
    if sum(min(j.length, j.depth) + GAP for j in lot.jobs) > rules.length:
        return False
    lives = (
        problem.pot_life.get(product, 10**9) - (b - a) for stop in lot.stops for product, a, b in stop.mixes
    )
    return max(s.minutes for s in lot.stops) <= rules.minutes and min(lives, default=0) >= 0


def _alike(job: Job) -> tuple[object, ...]:
    steps = tuple((o.pass_key, str(o.kind), o.dry, o.wet, o.window, o.release) for o in job.operations)
    return (job.due is None, job.due, job.material, len(steps), steps)


def lots_of(
    problem: Problem, rules: LotRules | None = None, jobs: Sequence[Job] | None = None
) -> tuple[Lot, ...]:
    """All pieces (or only `jobs`) in lots of like pieces within `rules`; a piece that fits with no other is a lot of its own."""
    rules = rules or LotRules()
    found: list[Lot] = []
    ordered = sorted(
        jobs or problem.jobs, key=lambda j: (*map(repr, _alike(j)), -j.length * j.depth, j.length, j.piece)
    )
    for _, like in groupby(ordered, key=_alike):
        found += _split(tuple(like), problem, rules)
    return tuple(found)


def _split(jobs: tuple[Job, ...], problem: Problem, rules: LotRules) -> Iterator[Lot]:
    current: list[Job] = []
    kept: Lot | None = None
    for job in jobs:
        trial = lot_of([*current, job], problem)
        if current and not _fits(trial, problem, rules):
            assert kept is not None
            yield kept
            current, trial = [], lot_of([job], problem)
        current.append(job)
        kept = trial
    if kept is not None:
        yield kept
