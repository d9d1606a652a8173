"""The audit of the rules of the room: dust and wet coats, changes of a gun, and the minutes that getting ready takes. It shares no code with the planner."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from ..problem.calendar import Stretch
from ..problem.kinds import COATS, SPRAYED, Kind
from ..problem.model import Held, Operation, Problem
from .schedule import Placement, Plan


@dataclass(frozen=True, slots=True)
class Broken:
    """One broken rule of the room: the rule, where, and what is wrong in words."""

    rule: str
    where: str
    words: str


def broken_rules(
    problem: Problem, plan: Plan, wanted: Mapping[str, tuple[str, Operation]], done: frozenset[str]
) -> Iterator[Broken]:
    """All rules of the room that what is planned breaks; of what is `done` nothing is asked."""
    placed = sorted(plan.placements, key=lambda p: (p.start, p.end))
    yield from _dust(problem, plan, placed, wanted, done)
    days = day_openings(problem)
    colours = {job.piece: job.colour for job in problem.jobs}
    yield from _changes(problem, placed, days, colours, done)
    yield from _ready(problem, placed, days, colours, done)
    yield from _taken(problem, plan, placed, done)
    yield from _after_others(placed, wanted, done)


def _after_others(
    placed: Sequence[Placement], wanted: Mapping[str, tuple[str, Operation]], done: frozenset[str]
) -> Iterator[Broken]:
    """What waits for other pieces begins when all that it waits for is over and dry; what is no longer part of the work keeps nobody waiting."""
    over: dict[str, int] = defaultdict(int)
    for p in placed:
        for name in (p.operation, p.piece):
            over[name] = max(over[name], p.end, p.dry_until)
    for p in placed:
        for name in wanted[p.operation][1].after if p.operation not in done else ():
            if p.start < over.get(name, 0):
                yield Broken(
                    "after others", p.operation, f"starts {over[name] - p.start} min before {name} is over"
                )


def day_openings(problem: Problem) -> list[int]:
    """The minutes at which days of work begin: four hours without anybody part two days, and none is longer than 24 hours."""
    hours = sorted(s for person in problem.people for s in problem.calendar.stretches(person))
    openings: list[int] = []
    until = -(10**9)
    for start, end in hours:
        if start >= until + 240 or (openings and start >= openings[-1] + 1440):
            openings.append(start)
        until = max(until, end)
        while openings and until > openings[-1] + 1440:
            openings.append(openings[-1] + 1440)
    return openings


def day_at(days: Sequence[int], minute: int) -> int:
    return bisect_right(days, minute)


def _product(kind: Kind, colour: str) -> str:
    if kind is Kind.PRIME:
        return "primer"
    if kind is Kind.CLEAR:
        return "clear"
    return f"colour {colour}".strip() if kind in COATS else ""


def _dust(
    problem: Problem,
    plan: Plan,
    placed: Sequence[Placement],
    wanted: Mapping[str, tuple[str, Operation]],
    done: frozenset[str],
) -> Iterator[Broken]:
    airs = {(s.piece, s.pass_key): problem.rules.air.get(s.table, "") for s in plan.stays}
    wet: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
    for p in placed:
        if p.kind in COATS and (p.piece, p.pass_key) in airs:
            until = p.end + wanted[p.operation][1].wet
            until += sum(b - max(a, p.end) for a, b in problem.calendar.gaps if p.end < b and a < until)
            wet[airs[(p.piece, p.pass_key)]].append((p.start, until, p.operation))
    starts = {air: [start for start, _, _ in coats] for air, coats in wet.items()}
    latest = {air: list(accumulate((until for _, until, _ in coats), max)) for air, coats in wet.items()}
    for p in placed:
        if p.kind not in problem.rules.dusty or p.operation in done or (p.piece, p.pass_key) not in airs:
            continue
        air = airs[(p.piece, p.pass_key)]
        begun = bisect_left(starts.get(air, ()), p.end)
        if begun and latest[air][begun - 1] > p.start:
            coat = next(name for _, until, name in wet[air][:begun] if until > p.start)
            yield Broken("no dust beside wet", p.operation, f"makes dust while {coat} is wet in the same air")


def _changes(
    problem: Problem,
    placed: Sequence[Placement],
    days: Sequence[int],
    colours: Mapping[str, str],
    done: frozenset[str],
) -> Iterator[Broken]:
    inside: dict[tuple[int, int], str] = {}
    count: dict[tuple[int, int], int] = defaultdict(int)
    for p in placed:
        if p.kind not in SPRAYED or p.gun is None:
            continue
        gun = (p.gun, day_at(days, p.start))
        product = _product(p.kind, colours.get(p.piece, ""))
        if inside.get(gun, product) != product:
            count[gun] += 1
            if count[gun] > problem.rules.changes and p.operation not in done:
                yield Broken(
                    "changes of a gun",
                    p.operation,
                    f"is change {count[gun]} of gun {p.gun + 1} that day; {problem.rules.changes} are allowed",
                )
        inside[gun] = product


def _taken(
    problem: Problem, plan: Plan, placed: Sequence[Placement], done: frozenset[str]
) -> Iterator[Broken]:
    """What other jobs hold is not used meanwhile."""
    for held in problem.taken:
        for p in placed:
            busy = p.person == held.key if held.what is Held.PERSON else str(p.gun) == held.key
            if held.what not in (Held.PERSON, Held.GUN) or p.operation in done or not busy:
                continue
            if p.start < held.until and held.since < p.end:
                yield Broken(
                    "what others hold", p.operation, f"needs {held.key}, which another job holds then"
                )
        for s in plan.stays:
            if (
                held.what is Held.TABLE
                and s.table == held.key
                and s.since < held.until
                and held.since < s.until
            ):
                left, right = (s.at, held.at) if s.at <= held.at else (held.at, s.at)
                along = s.along if s.at <= held.at else held.along
                if right < left + along - 1e-6:
                    yield Broken(
                        "what others hold", s.piece, f"lies where another job has its pieces on {s.table}"
                    )


def _ready(
    problem: Problem,
    placed: Sequence[Placement],
    days: Sequence[int],
    colours: Mapping[str, str],
    done: frozenset[str],
) -> Iterator[Broken]:
    """Before each operation there is time for what must be got ready for it: other work, other clothes, another product, a load. What is got ready earlier in the same session counts too."""
    rules = problem.rules
    hours = {person.key: problem.calendar.stretches(person) for person in problem.people}
    last: dict[str, Placement] = {}
    dressed: dict[str, bool] = {}
    inside: dict[tuple[int, int], str] = {}
    until: dict[tuple[str, int], int] = {}
    spare: dict[str, int] = {}
    for p in placed:
        day = day_at(days, p.start)
        before = last.get(p.person)
        today = before is not None and day_at(days, before.start) == day
        family = rules.families[p.kind]
        same = today and before is not None and rules.families[before.kind] == family
        needed = rules.change if today and not same else 0
        if not same:
            dressed[p.person] = False
        product = _product(p.kind, colours.get(p.piece, ""))
        if p.kind in SPRAYED:
            needed += 0 if dressed.get(p.person) else rules.suit
            dressed[p.person] = True
            gun = (p.gun or 0, day)
            needed += rules.flush if inside.get(gun, product) != product else 0
            inside[gun] = product
        if product and product != "primer" and until.get((product, day), -1) < p.end:
            needed += rules.load
            life = problem.pot_life.get(product, problem.pot_life.get(product.split(" ")[0], 10**9))
            until[(product, day)] = p.start + life
        since = before.end if today and before is not None else -(10**9)
        free = _worked(hours.get(p.person, ()), since, p.start) + (spare.get(p.person, 0) if same else 0)
        spare[p.person] = max(0, free - needed)
        if needed > free and p.operation not in done:
            yield Broken("getting ready", p.operation, f"needs {needed} min of getting ready and has {free}")
        last[p.person] = p


def _worked(hours: Sequence[Stretch], since: int, until: int) -> int:
    """Minutes worked between two moments; before the first work of a day, those since the stretch began."""
    at = bisect_right(hours, (until, -1)) - 1
    total = 0
    while at >= 0:
        start, end = hours[at]
        total += max(0, min(end, until) - max(start, since))
        if start <= since or since < 0:
            break
        at -= 1
    return total
