"""What goes into a run of the shop and what comes out: how it stands at the start, a plan to follow, what happens by chance, and what was done."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from ..plan.schedule import Placement, Plan, Stay
from ..problem.calendar import Stretch
from ..problem.model import Operation
from .floor import Begun, Curing, Places, Stayed
from .steps import Shop

NEVER = 10**9


@dataclass(frozen=True, slots=True)
class Start:
    """How the shop stands at minute `now`: what is `begun` by piece number, what only cures, what is wet until when by air, guns and loads of today (product and changes; product → from, until; how
    many were mixed), and at what family of work each person was last today; `busy` until when hands are at what they began, `guns_busy` the same of guns by number, `dust` until when it makes dust by air."""

    now: int = 0
    begun: Mapping[int, Begun] = field(default_factory=dict)
    curing: tuple[Curing, ...] = ()
    wet: Mapping[int, int] = field(default_factory=dict)
    guns: tuple[tuple[str, int], ...] = ()
    loads: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    mixed: Mapping[str, int] = field(default_factory=dict)
    at_work: Mapping[int, str] = field(default_factory=dict)
    busy: Mapping[int, int] = field(default_factory=dict)
    guns_busy: Mapping[int, int] = field(default_factory=dict)
    dust: Mapping[int, int] = field(default_factory=dict)


MORNING = Start()


@dataclass(frozen=True, slots=True)
class Follow:
    """A plan that is to be followed: operation → its `starts` and `people` (numbers); `opens` day number → the minute at which the first coat of that day was to begin; `places` where pieces were
    to lie; `loose` pieces that need not follow it; `lead` min by which work may come before its time, `wait` min for which it is left to whom it was given;
    `after` whether what did not keep its day comes after all that has its day, or goes on in the order of the plan;
    `early` operation → min for which hands were getting ready for it."""

    starts: Mapping[str, float]
    people: Mapping[str, int]
    opens: Mapping[int, int]
    places: Places
    loose: frozenset[int]
    lead: int = 15
    wait: int = 30
    after: bool = True
    early: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Done:
    """One operation as it was placed."""

    operation: Operation
    piece: int
    person: int
    gun: int | None
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Run:
    """What came out: `done` in order of time, `stayed` by (piece, pass), `finish` the minute all is done and dry, `ended` that of each piece."""

    done: tuple[Done, ...]
    stayed: dict[tuple[int, str], Stayed]
    finish: int
    ended: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Chances:
    """What happens in one run: `took` (operation, person, minute) → minutes it takes, `dries` (minutes, minute) → minutes it dries, `fails` piece → whether it must go again, `hours` in which
    each person is there."""

    took: Callable[[Operation, int, int], int]
    dries: Callable[[int, int], int]
    fails: Callable[[int], bool]
    hours: Sequence[tuple[Stretch, ...]]


def plan_of(shop: Shop, run: Run) -> Plan:
    """The plan, operation by operation, of what the shop did."""
    people = [p.key for p in shop.problem.people]
    dries = shop.problem.calendar.dries
    placements = [
        Placement(
            operation=d.operation.key,
            piece=shop.jobs[d.piece].piece,
            kind=d.operation.kind,
            side=d.operation.side,
            pass_key=d.operation.pass_key,
            person=people[d.person],
            gun=d.gun,
            start=d.start,
            end=d.end,
            dry_until=dries(d.end, d.operation.dry),
        )
        for d in run.done
    ]
    placements.sort(key=lambda p: (p.start, p.person, p.end))
    tables = [t.key for t in shop.problem.tables]
    stays = [
        Stay(shop.jobs[piece].piece, pass_key, tables[table], at, along, across, since, until)
        for (piece, pass_key), (lies, since, until) in run.stayed.items()
        for table, at, along, across in lies
    ]
    return Plan(tuple(placements), tuple(sorted(stays, key=lambda s: (s.since, s.table, s.at))))
