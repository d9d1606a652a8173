"""The audit: checks a plan against the rules of the shop. It knows nothing of who made the plan, and shares no code with the planner.

Each rule is one function; one list calls them all. A plan that is shown to anybody has passed every one.
"""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from hidewright.dates import short_day, short_moment
from hidewright.units import counted

from ..problem.calendar import Stretch
from ..problem.model import GAP, MIXED, SPRAYED, Kind, Operation, Problem
from .lying import at_once, off_the_tables
from .room_audit import broken_rules, day_at, day_openings
from .schedule import Placement, Plan, Stay
from .state import Standing, broken_hands, broken_state
from .zone_audit import broken_zones

SLACK = 1e-6  # m by which lengths may differ from rounding


@dataclass(frozen=True, slots=True)
class Fault:
    """One broken rule: its name, the operation or piece, and what is wrong in words."""

    rule: str
    where: str
    words: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.where}: {self.words}"


@dataclass(frozen=True, slots=True)
class _Case:
    """A plan with its problem, looked up once."""

    problem: Problem
    plan: Plan
    wanted: dict[str, tuple[str, Operation]]
    placed: dict[str, Placement]
    stays: dict[tuple[str, str], Stay]
    done: frozenset[str]
    now: int = 0

    def clock(self, minute: int) -> str:
        return short_moment(self.problem.calendar.moment(minute))

    @property
    def begun(self) -> set[tuple[str, str]]:
        """(piece, pass) of every pass that has begun: it lies where it lies, whatever was planned."""
        return {
            (self.placed[key].piece, self.placed[key].pass_key) for key in self.done if key in self.placed
        }

    @property
    def future(self) -> Iterator[Placement]:
        """Placements that are planned, not those already done as they happened."""
        return (p for p in self.plan.placements if p.operation not in self.done)


def audit(
    problem: Problem,
    plan: Plan,
    *,
    done: frozenset[str] = frozenset(),
    now: int = 0,
    standing: Standing | None = None,
) -> tuple[Fault, ...]:
    """All broken rules of a plan; empty when it passed.

    `done` are keys of operations that were done already: they stand as they happened (pace, hours and windows are not asked of them), but nothing planned may clash with them.
    Nothing may be planned before minute `now`. `standing` is how things stand now: with it nothing that lies there may be moved, laid onto or cut short in its drying.
    """
    wanted = {o.key: (job.piece, o) for job, o in problem.operations()}
    placed = {p.operation: p for p in plan.placements}
    case = _Case(problem, plan, wanted, placed, {(s.piece, s.pass_key): s for s in plan.stays}, done, now)
    whole = tuple(_everything_once(case))
    if whole:
        return whole
    faults = tuple(fault for rule in RULES for fault in rule(case))
    if standing is None:
        return faults
    state = broken_state(standing, plan, {t.key for t in problem.tables})
    hands = broken_hands(standing, plan, problem.rules.dusty, problem.rules.air_of)
    return (*faults, *(Fault(*one) for one in (*state, *hands)))


def _everything_once(case: _Case) -> Iterator[Fault]:
    counts: dict[str, int] = defaultdict(int)
    for p in case.plan.placements:
        counts[p.operation] += 1
        if p.operation not in case.wanted:
            yield Fault("only what is wanted", p.operation, "is planned, but nobody asked for it")
        elif (p.piece, p.kind, p.pass_key, p.side) != (
            case.wanted[p.operation][0],
            *_facts(case.wanted[p.operation][1]),
        ):
            yield Fault("only what is wanted", p.operation, "is planned for another piece, kind or side")
    for key in case.wanted:
        if counts[key] != 1:
            yield Fault("everything once", key, f"is planned {counts[key]} times")
    seen: dict[tuple[str, str], int] = defaultdict(int)
    for stay in case.plan.stays:
        seen[(stay.piece, stay.pass_key)] += 1
    for (piece, pass_key), count in seen.items():
        if count > 1:
            yield Fault("one stretch", piece, f"lies in {count} places for its side {pass_key}")


def _facts(operation: Operation) -> tuple[Kind, str, str]:
    return operation.kind, operation.pass_key, operation.side


def _minutes(case: _Case) -> Iterator[Fault]:
    for p in case.future:
        minutes = case.wanted[p.operation][1].minutes
        if p.end - p.start != minutes:
            yield Fault("pace", p.operation, f"is given {p.end - p.start} min and needs {minutes}")
        if p.start < 0:
            yield Fault("pace", p.operation, "starts before the first day")


def _not_in_the_past(case: _Case) -> Iterator[Fault]:
    for p in case.future:
        if p.start < case.now:
            yield Fault("not in the past", p.operation, f"is planned before {case.clock(case.now)}")


def _drying(case: _Case) -> Iterator[Fault]:
    for p in case.future:
        dry = case.wanted[p.operation][1].dry
        # Of the hour that the clock leaves out nothing dries: counted here from the times on the wall.
        left_out = sum(max(0, min(b, p.dry_until) - max(a, p.end)) for a, b in case.problem.calendar.gaps)
        short = dry - (p.dry_until - p.end - left_out)
        if short > 0:
            yield Fault("drying", p.operation, f"is called dry {short} min too early")


def _order(case: _Case) -> Iterator[Fault]:
    for job in case.problem.jobs:
        for before, after in zip(job.operations, job.operations[1:], strict=False):
            a, b = case.placed[before.key], case.placed[after.key]
            if after.key in case.done:
                continue
            if b.start < a.end:
                yield Fault("order", after.key, f"starts before {before.kind} has ended")
            elif b.start < a.dry_until:
                words = f"starts {a.dry_until - b.start} min before it is dry"
                yield Fault("dry before the next", after.key, words)


def _windows(case: _Case) -> Iterator[Fault]:
    for job in case.problem.jobs:
        for before, after in zip(job.operations, job.operations[1:], strict=False):
            if before.window is None or after.key in case.done:
                continue
            gap = case.placed[after.key].start - case.placed[before.key].end
            if gap > before.window:
                words = f"starts {gap} min after {before.kind}; {before.window} min are allowed"
                yield Fault("window", after.key, words)


def _releases(case: _Case) -> Iterator[Fault]:
    for p in case.future:
        release = case.wanted[p.operation][1].release
        if p.start < release:
            yield Fault("hold", p.operation, f"starts before {case.clock(release)}, for which it waits")


def _hours(case: _Case) -> Iterator[Fault]:
    hours = {p.key: case.problem.calendar.stretches(p) for p in case.problem.people}
    for p in case.future:
        if p.person not in hours:
            yield Fault("hours", p.operation, f"is given to {p.person or 'nobody'}, who does not work here")
        elif not _inside(hours[p.person], p):
            yield Fault(
                "hours", p.operation, f"at {case.clock(p.start)} lies outside the hours of {p.person}"
            )


def _inside(hours: Sequence[Stretch], p: Placement) -> bool:
    begun = bisect_right(hours, (p.start, 10**9))
    return begun > 0 and p.end <= hours[begun - 1][1]


def _skills(case: _Case) -> Iterator[Fault]:
    people = {p.key: p for p in case.problem.people}
    for p in case.future:
        person = people.get(p.person)
        if person is not None and person.skills is not None and p.kind not in person.skills:
            yield Fault("skills", p.operation, f"{person.name} does not do “{p.kind}”")


def _one_thing_at_a_time(case: _Case) -> Iterator[Fault]:
    by_person: dict[str, list[Placement]] = defaultdict(list)
    for p in case.future:
        by_person[p.person].append(p)
    for person, placed in by_person.items():
        placed.sort(key=lambda p: (p.start, p.end))
        for a, b in pairwise(placed):
            if b.start < a.end:
                yield Fault("one thing at a time", b.operation, f"{person} is still at {a.operation}")


def _guns(case: _Case) -> Iterator[Fault]:
    by_gun: dict[int, list[Placement]] = defaultdict(list)
    for p in case.future:
        if p.kind in SPRAYED:
            if p.gun is None or not 0 <= p.gun < case.problem.guns:
                yield Fault("gun", p.operation, "is sprayed without one of the shop's guns")
            else:
                by_gun[p.gun].append(p)
        elif p.gun is not None:
            yield Fault("gun", p.operation, "holds a gun it does not need")
    for placed in by_gun.values():
        placed.sort(key=lambda p: (p.start, p.end))
        for a, b in pairwise(placed):
            if b.start < a.end:
                yield Fault("gun", b.operation, f"needs the gun while it is at {a.operation}")


def _lies_somewhere(case: _Case) -> Iterator[Fault]:
    for job in case.problem.jobs:
        for pass_key in dict.fromkeys(o.pass_key for o in job.operations if o.on_table):
            placed = [case.placed[o.key] for o in job.operations if o.pass_key == pass_key]
            open_ = [p for p in placed if p.operation not in case.done]
            if not open_:
                continue
            stay = case.stays.get((job.piece, pass_key))
            if stay is None:
                yield Fault("one stretch", job.piece, f"lies nowhere for its side {pass_key}")
                continue
            first = min(p.start for p in open_)
            last = max(max(p.end, p.dry_until) for p in placed)
            if stay.since > first:
                yield Fault(
                    "one stretch", job.piece, f"is worked on for its side {pass_key} before it lies there"
                )
            if stay.until < last:
                yield Fault(
                    "no move while wet",
                    job.piece,
                    f"leaves its place for its side {pass_key} before it has cured",
                )


def _on_the_table(case: _Case) -> Iterator[Fault]:
    tables = {t.key: t for t in case.problem.tables}
    jobs = {j.piece: j for j in case.problem.jobs}
    for stay in case.plan.stays:
        table, job = tables.get(stay.table), jobs.get(stay.piece)
        if job is None:
            yield Fault("only what is wanted", stay.piece, "lies on a table, but is not in the job")
            continue
        if stay.pass_key not in job.passes or stay.pass_key.startswith(("start", "end")):
            yield Fault(
                "only what is wanted",
                stay.piece,
                f"lies there for its side {stay.pass_key}, which needs no table",
            )
        if table is None:
            yield Fault("table", stay.piece, f"lies on “{stay.table}”, which is not there")
            continue
        size = {(job.length, job.depth), (job.depth, job.length)}
        if not any(stay.along >= a - SLACK and stay.across >= b - SLACK for a, b in size):
            yield Fault("table", stay.piece, "is given less room than it takes")
        # Written so that a place that is not a number is a fault too.
        if not (stay.at >= -SLACK and stay.at + stay.along + GAP <= table.length + SLACK):
            yield Fault("table", stay.piece, f"reaches over the end of {table.name}")
        if not stay.across <= table.depth + SLACK:
            yield Fault("table", stay.piece, f"is deeper than {table.name}")
        if job.material in table.not_for:
            yield Fault("what may lie where", stay.piece, f"{job.material} must not lie on {table.name}")
        if stay.until <= stay.since:
            yield Fault("table", stay.piece, "leaves the table before it lies there")


def _no_touching(case: _Case) -> Iterator[Fault]:
    by_table: dict[str, list[Stay]] = defaultdict(list)
    for stay in case.plan.stays:
        by_table[stay.table].append(stay)
    begun = case.begun
    for stays in by_table.values():
        for a, b in at_once(stays):
            if (a.piece, a.pass_key) in begun and (b.piece, b.pass_key) in begun:
                continue
            left, right = (a, b) if a.at <= b.at else (b, a)
            if not right.at >= left.at + left.along + GAP - SLACK:
                yield Fault("no touching", right.piece, f"lies too near {left.piece} on {a.table}")


def _one_place(case: _Case) -> Iterator[Fault]:
    by_piece: dict[str, list[Stay]] = defaultdict(list)
    for stay in case.plan.stays:
        by_piece[stay.piece].append(stay)
    begun = case.begun
    for piece, stays in by_piece.items():
        stays.sort(key=lambda s: s.since)
        for a, b in pairwise(stays):
            happened = {(piece, a.pass_key), (piece, b.pass_key)} <= begun
            if b.since < a.until and not happened:
                yield Fault("one stretch", piece, f"lies in two places at {case.clock(b.since)}")


def _racks(case: _Case) -> Iterator[Fault]:
    """A piece that has lain on a table and is not done stands in the rack whenever it lies on none."""
    if case.problem.rack is None:
        return
    last = {job.piece: max(case.placed[o.key].end for o in job.operations) for job in case.problem.jobs}
    for since, piece, there in off_the_tables(case.plan.stays, last):
        # What stood there already when planning began is told of by the page; it cannot be planned away.
        if since > case.now and there > case.problem.rack:
            places = f"the racks have {counted(case.problem.rack or 0, 'place')}"
            yield Fault(
                "rack", piece, f"makes {there} pieces off the tables at {case.clock(since)}; {places}"
            )


def _turned_cured(case: _Case) -> Iterator[Fault]:
    for job in case.problem.jobs:
        front = [case.placed[o.key] for o in job.operations if o.pass_key == "front"]
        for operation in job.operations:
            if operation.kind is Kind.TURN and operation.key not in case.done:
                turn = case.placed[operation.key]
                cured = max((max(p.end, p.dry_until) for p in front), default=0)
                if turn.start < cured:
                    words = f"is turned {cured - turn.start} min before it has cured"
                    yield Fault("turn after cure", operation.key, words)


def _masks(case: _Case) -> Iterator[Fault]:
    for job in case.problem.jobs:
        for index, operation in enumerate(job.operations):
            if operation.key in case.done:
                continue
            p = case.placed[operation.key]
            if operation.kind is Kind.MASK:
                coats = [o for o in job.operations if o.kind in SPRAYED and o.pass_key == operation.pass_key]
                if coats and p.end > min(case.placed[o.key].start for o in coats):
                    yield Fault("mask first", operation.key, "is masked after it was sprayed")
            if operation.kind is Kind.UNMASK:
                cured = [case.placed[o.key] for o in job.operations[:index] if o.kind in SPRAYED]
                if cured and p.start < max(max(c.end, c.dry_until) for c in cured):
                    yield Fault("unmask last", operation.key, "is unmasked before the last coat has cured")


def _pot_life(case: _Case) -> Iterator[Fault]:
    by_day: dict[tuple[str, int], list[Placement]] = defaultdict(list)
    openings = day_openings(case.problem)
    for p in case.future:
        product = MIXED.get(p.kind)
        if product in case.problem.pot_life:
            by_day[(str(product), day_at(openings, p.start))].append(p)
    for (product, day), uses in by_day.items():
        life = case.problem.pot_life[product]
        opened, count = -(10**9), 0
        left = sorted(uses, key=lambda p: (p.start, p.end))
        while left:
            opened, count = left[0].start, count + 1
            over = [p for p in left if p.end - p.start > life]
            if over:
                yield Fault("pot life", over[0].operation, f"takes longer than the pot life of {life} min")
                break
            left = [p for p in left if p.end > opened + life]
        if count > case.problem.most_mixes:
            yield Fault(
                "pot life",
                product,
                f"must be mixed {count} times on {case.clock(openings[day - 1] if day else 0)[:10]}; {case.problem.most_mixes} are allowed",
            )


def _fan(case: _Case) -> Iterator[Fault]:
    if not case.problem.fan_off:
        return
    closing: dict[int, int] = {}
    openings = day_openings(case.problem)
    for person in case.problem.people:
        for start, end in case.problem.calendar.stretches(person):
            opening = openings[day_at(openings, start) - 1]
            closing[opening] = max(closing.get(opening, 0), end)
    first = case.problem.calendar.start.weekday()
    dark = sorted(
        end for opening, end in closing.items() if (first + opening // 1440) % 7 in case.problem.fan_off
    )
    for p in case.future:
        wet = case.wanted[p.operation][1].wet
        switched_off = next((end for end in dark if end > p.start), None)
        if wet and switched_off is not None and p.end + wet > switched_off:
            yield Fault(
                "fan off at night",
                p.operation,
                f"gives off vapour until {case.clock(p.end + wet)}; the fan goes off at {case.clock(switched_off)}",
            )


def _room(case: _Case) -> Iterator[Fault]:
    for one in broken_rules(case.problem, case.plan, case.wanted, case.done):
        yield Fault(one.rule, one.where, one.words)


def _zones(case: _Case) -> Iterator[Fault]:
    for one in broken_zones(case.problem, case.plan, case.placed, case.done):
        yield Fault(*one)


def _due(case: _Case) -> Iterator[Fault]:
    for job in case.problem.jobs:
        if job.due is not None:
            last = case.placed[job.operations[-1].key]
            if last.end > case.problem.calendar.end_of(job.due):
                yield Fault("due", job.piece, f"is done after {short_day(job.due)}, its day")


RULES: tuple[Callable[[_Case], Iterator[Fault]], ...] = (
    _minutes,
    _not_in_the_past,
    _drying,
    _order,
    _windows,
    _releases,
    _hours,
    _skills,
    _one_thing_at_a_time,
    _guns,
    _lies_somewhere,
    _on_the_table,
    _no_touching,
    _one_place,
    _racks,
    _turned_cured,
    _masks,
    _pot_life,
    _fan,
    _room,
    _zones,
)
"""Every rule of the shop that no plan may break; `due_faults` apart, since a late plan is still a plan."""


def due_faults(problem: Problem, plan: Plan) -> tuple[Fault, ...]:
    """Pieces that are done after their own due day: a plan may be late, and must say so."""
    case = _Case(problem, plan, {}, {p.operation: p for p in plan.placements}, {}, frozenset())
    return tuple(_due(case))
