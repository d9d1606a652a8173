"""What the other jobs hold in the shop: hands, guns, stretches of table, places in the racks, and the air, out of their plans."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from ..plan.schedule import Placement, Plan, Stay
from ..problem.calendar import Stretch
from ..problem.kinds import COATS, Kind, product_of
from ..problem.model import GAP, Problem
from .at_work import Took
from .together import merged

CLOSE = 45
"""min: hands that are held again within so many are held meanwhile, so that nobody is sent from job to job."""


@dataclass(frozen=True, slots=True)
class Spray:
    """A gun in use by another job, with what is in it."""

    start: int
    end: int
    product: str


@dataclass(frozen=True, slots=True)
class Lain:
    """A stretch of a table from `at` to `end` m on which a piece of another job lies from `since` to `until`."""

    since: int
    until: int
    at: float
    end: float


@dataclass(frozen=True, slots=True)
class Holds:
    """What is held, in minutes of the shop's problem: `hands` by person with what getting ready takes, `guns` by number, `tables` by key, `wet` and `dust` by the name of the air, `racks` one stretch for each place."""

    hands: Mapping[str, tuple[Stretch, ...]]
    guns: Mapping[int, tuple[Spray, ...]]
    tables: Mapping[str, tuple[Lain, ...]]
    wet: Mapping[str, tuple[Stretch, ...]]
    dust: Mapping[str, tuple[Stretch, ...]]
    racks: tuple[Stretch, ...]

    @property
    def ends(self) -> list[int]:
        """The minutes at which something is free again."""
        found = {end for stretches in (*self.wet.values(), *self.dust.values()) for _, end in stretches}
        found |= {spray.end for sprays in self.guns.values() for spray in sprays}
        found |= {lain.until for lains in self.tables.values() for lain in lains}
        return sorted(found | {end for _, end in self.racks})

    def standing(self, since: int, until: int) -> int:
        """The most places of the racks that are held at once between two minutes."""
        inside = [(a, b) for a, b in self.racks if a < until and b > since]
        starts = {max(a, since) for a, _ in inside}
        return max((sum(a <= at < b for a, b in inside) for at in starts), default=0)


def holds_of(problem: Problem, plan: Plan, done: Mapping[str, Took] | None = None) -> Holds:
    """What the work of a plan holds in the shop of `problem`, whose operations it places; what is `done` holds no hands any more, whatever was planned: the gun was at it, and its coat is wet, from when it really was done."""
    done = done or {}
    rules = problem.rules
    operations = {o.key: (job, o) for job, o in problem.operations()}
    airs = {(s.piece, s.pass_key): rules.air_of(s.table) for s in plan.stays}
    hands: dict[str, list[Stretch]] = defaultdict(list)
    guns: dict[int, list[Spray]] = defaultdict(list)
    wet: dict[str, list[Stretch]] = defaultdict(list)
    dust: dict[str, list[Stretch]] = defaultdict(list)
    for p in plan.placements:
        job, operation = operations[p.operation]
        start, end = done.get(p.operation, (p.start, p.end))
        if p.operation not in done:
            hands[p.person].append((start, end))
        if p.gun is not None:
            guns[p.gun].append(Spray(start, end, product_of(p.kind, job.colour) or ""))
        air = airs.get((p.piece, p.pass_key))
        if air is not None and p.kind in COATS:
            wet[air].append((start, problem.calendar.dries(end, operation.wet)))
        if air is not None and p.kind in rules.dusty:
            dust[air].append((start, end))
    tables: dict[str, list[Lain]] = defaultdict(list)
    for s in plan.stays:
        tables[s.table].append(Lain(s.since, s.until, s.at, s.at + s.along + GAP))
    before = rules.change + rules.suit + rules.flush + rules.load
    after = rules.change + rules.suit + rules.flush
    return Holds(
        {
            person.key: _blocks(hands[person.key], problem.calendar.stretches(person), before, after)
            for person in problem.people
            if person.key in hands
        },
        {gun: tuple(sorted(each, key=lambda s: s.start)) for gun, each in guns.items()},
        {table: tuple(sorted(each, key=lambda lain: lain.since)) for table, each in tables.items()},
        {air: merged(each) for air, each in wet.items()},
        {air: merged(each) for air, each in dust.items()},
        tuple(sorted(_off_the_tables(problem, plan))),
    )


def with_sprays(holds: Holds, problem: Problem, placements: Iterable[Placement]) -> Holds:
    """What is held, and besides what the guns have been at already: what is in them, and how often that changed today."""
    colours = {job.piece: job.colour for job in problem.jobs}
    guns = {gun: list(sprays) for gun, sprays in holds.guns.items()}
    for p in placements:
        if p.gun is not None:
            spray = Spray(p.start, p.end, product_of(p.kind, colours[p.piece]) or "")
            guns.setdefault(p.gun, []).append(spray)
    return replace(
        holds, guns={gun: tuple(sorted(each, key=lambda s: s.start)) for gun, each in guns.items()}
    )


def _blocks(held: list[Stretch], hours: tuple[Stretch, ...], before: int, after: int) -> tuple[Stretch, ...]:
    """Stretches of work with the working minutes of getting ready before and after, and the short breaks between."""
    found: list[Stretch] = []
    for start, end in sorted(held):
        begin, until = _earlier(hours, start, before), _later(hours, end, after)
        if found and begin <= found[-1][1] + CLOSE:
            found[-1] = (found[-1][0], max(found[-1][1], until))
        else:
            found.append((begin, until))
    return tuple(found)


def _earlier(hours: tuple[Stretch, ...], minute: int, by: int) -> int:
    """The moment so many working minutes before a minute."""
    at = bisect_right(hours, (minute, -1)) - 1
    while at >= 0 and by > 0:
        a, b = hours[at]
        there = max(0, min(b, minute) - a)
        if there >= by:
            return min(b, minute) - by
        by, at, minute = by - there, at - 1, a
    return max(0, minute)


def _later(hours: tuple[Stretch, ...], minute: int, by: int) -> int:
    """The moment so many working minutes after a minute."""
    at = max(0, bisect_right(hours, (minute, -1)) - 1)
    while at < len(hours) and by > 0:
        a, b = hours[at]
        there = max(0, b - max(a, minute))
        if there >= by:
            return max(a, minute) + by
        by, at = by - there, at + 1
    return minute + by


def _off_the_tables(problem: Problem, plan: Plan) -> Iterator[Stretch]:
    """When each piece that has lain on a table, and is not done, lies on none."""
    last: dict[str, int] = defaultdict(int)
    for p in plan.placements:
        last[p.piece] = max(last[p.piece], p.end)
    stays: dict[str, list[Stay]] = defaultdict(list)
    for stay in plan.stays:
        stays[stay.piece].append(stay)
    for piece, each in stays.items():
        each.sort(key=lambda s: s.since)
        for a, b in pairwise(each):
            if a.until < b.since:
                yield a.until, b.since
        if each[-1].until < last[piece]:
            yield each[-1].until, last[piece]


def overlapping(held: tuple[Stretch, ...], start: int, end: int) -> bool:
    """Whether any of these stretches, in order and apart from each other, is held between two minutes."""
    before = bisect_right(held, (end, -1))
    return before > 0 and held[before - 1][1] > start


CLEAR = product_of(Kind.CLEAR) or ""
"""The one mix that all jobs share."""
