"""The planner's plan as it is shown: clock times, names, and the state of each piece that lies on a table."""

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from hidewright.charts.plan import ActShown, LyingShown, PlanShown
from hidewright.charts.sessions import SIDES
from hidewright.charts.tables import TableTop
from hidewright.planning.plan.schedule import Placement, Plan, Stay
from hidewright.planning.problem.calendar import open_hours
from hidewright.planning.problem.model import NAMED, Kind, Operation, Problem
from hidewright.survey.zones import zone_keys

CAUTIONS = {
    "strip": "Gloves and moving air; the data sheet of the product rules.",
    "wipe down": "Solvent: moving air, no flame; the data sheet of the product rules.",
    "prime": "Breathing protection and moving air; the data sheet of the product rules.",
    "spray colour": "Breathing protection and moving air; the data sheet of the product rules.",
    "spray second coat": "Breathing protection and moving air; the data sheet of the product rules.",
    "spray clear": "Breathing protection and moving air; the data sheet of the product rules.",
    "sand": "Dust: breathing protection.",
}
"""The usual caution beside the act."""


def shown(problem: Problem, plan: Plan, bound_day: date | None = None) -> PlanShown:
    """The plan in clock times, for pictures, pages and papers."""
    moment = problem.calendar.moment
    operations = {o.key: o for _, o in problem.operations()}
    placed = _by_pass(plan)
    hours = open_hours(problem.calendar, problem.people)
    last = problem.calendar.end_of(problem.calendar.day(plan.finish))
    return PlanShown(
        tables=tuple(TableTop(t.name, t.length, t.depth) for t in problem.tables),
        people=tuple(p.name for p in problem.people),
        acts=tuple(_acts(problem, plan)),
        lying=tuple(
            part
            for stay in plan.stays
            for part in _lying(problem, stay, placed.get((stay.piece, stay.pass_key), []), operations)
        ),
        hours=tuple((moment(a), moment(b)) for a, b in hours if a < last),
        finish=moment(plan.finish),
        bound=bound_day,
        promised=problem.promised,
        own_hours=tuple(
            (p.name, tuple((moment(a), moment(b)) for a, b in problem.calendar.stretches(p) if a < last))
            for p in problem.people
        ),
    )


def _acts(problem: Problem, plan: Plan) -> Iterator[ActShown]:
    names = {p.key: p.name for p in problem.people}
    tables = {t.key: t.name for t in problem.tables}
    stays = {(s.piece, s.pass_key): s for s in plan.stays}
    parts, masks = _parts(problem, plan), _masks(problem)
    for p in plan.placements:
        stay = stays.get((p.piece, p.pass_key))
        yield ActShown(
            key=p.operation,
            piece=p.piece,
            part=parts.get((p.piece, p.pass_key), ""),
            act=act_words(p.operation) + masks.get(p.operation, ""),
            person=names.get(p.person, p.person),
            start=problem.calendar.moment(p.start),
            end=problem.calendar.moment(p.end),
            table=tables.get(stay.table, "") if stay else "",
            place=f"{tables.get(stay.table, stay.table)}, from {stay.at:.2f} m" if stay else "",
            kind="gun" if p.gun is not None else "hands",
            caution=CAUTIONS.get(str(p.kind), ""),
        )


def _parts(problem: Problem, plan: Plan) -> dict[tuple[str, str], str]:
    """(piece, pass) → what of the piece is coated in it, where it is not coated in one go: which side, or the name of the zone."""
    found: dict[tuple[str, str], str] = {}
    for piece in {p.piece for p in plan.placements if p.pass_key == "back"}:
        found |= {(piece, "front"): SIDES[0], (piece, "back"): SIDES[1]}
    for job in problem.jobs:
        keys = zip(zone_keys(job.zones), job.zones, strict=True)
        found |= {(job.piece, key): zone.name for key, zone in keys}
    return found


def _masks(problem: Problem) -> dict[str, str]:
    """Masking before a zone → what is masked or held up, to follow its words."""
    return {
        operation.key: f": {zone.masked}"
        for job in problem.jobs
        for operation in (job.operations if job.zones else ())
        if operation.kind is Kind.MASK and (zone := job.zone(operation.pass_key)) and zone.masked
    }


NUMBERS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
)


def act_words(operation: str) -> str:
    """An operation's key in words: which coat of several it is, but not which of several sandings."""
    tail, comma, part = operation.rsplit("/", 1)[1].partition(", part ")
    own, named, _ = tail.partition(NAMED)
    if named:
        return f"{own}{comma}{part}"
    kind, _, number = tail.rpartition(" ")
    if number.isdigit():
        words = {
            Kind.SECOND: f"spray {_nth(int(number) + 1)} coat",
            Kind.CLEAR: f"spray {_nth(int(number))} clear",
        }
        tail = words.get(Kind(kind), kind)
    return f"{tail}{comma}{part}"


def _nth(number: int) -> str:
    return NUMBERS[number - 1] if number <= len(NUMBERS) else f"{number}th"


def _lying(
    problem: Problem, stay: Stay, placed: list[Placement], operations: dict[str, Operation]
) -> Iterator[LyingShown]:
    moment = problem.calendar.moment
    name = next((t.name for t in problem.tables if t.key == stay.table), stay.table)
    for since, until, state in _states(stay, placed, operations):
        if until > since:
            yield LyingShown(
                stay.piece, name, stay.at, stay.along, stay.across, moment(since), moment(until), state
            )


def _by_pass(plan: Plan) -> dict[tuple[str, str], list[Placement]]:
    found: dict[tuple[str, str], list[Placement]] = defaultdict(list)
    for p in plan.placements:
        found[(p.piece, p.pass_key)].append(p)
    return found


def _states(
    stay: Stay, placed: list[Placement], operations: dict[str, Operation]
) -> Iterator[tuple[int, int, str]]:
    at, coated = stay.since, False
    for p in sorted(placed, key=lambda p: p.start):
        if p.start > at:
            yield at, p.start, "dry" if coated else "waiting"
        yield p.start, p.end, "handling"
        wet_until = p.end + operations[p.operation].wet
        yield p.end, wet_until, "wet"
        yield wet_until, p.dry_until, "curing"
        at, coated = max(at, p.dry_until, p.end), coated or p.dry_until > p.end
    yield at, stay.until, "dry"
