"""What the audit asks of a piece that is coated in zones: one zone after the other, nothing turned or moved before it has cured, and on its spot where it is not moved."""

from collections.abc import Collection, Iterator, Mapping

from ..problem.model import Job, Kind, Problem
from .schedule import Placement, Plan, Stay


def broken_zones(
    problem: Problem, plan: Plan, placed: Mapping[str, Placement], done: Collection[str]
) -> Iterator[tuple[str, str, str]]:
    """(rule, operation or piece, words) for each broken rule of a zone; `placed` operation key → its placement, `done` keys of what happened already."""
    tables = {table.key for table in problem.tables}
    for job in problem.jobs:
        if not job.zones:
            continue
        mine = [placed[o.key] for o in job.operations]
        yield from _in_order(job, mine, done)
        yield from _turned_dry(mine, done)
        yield from _on_its_spot(job, plan, mine, tables, done)


def _of_zones(job: Job, mine: list[Placement]) -> list[tuple[str, bool, list[Placement]]]:
    """(name, moved, placements) of each zone, in the order in which the shop listed them."""
    return [
        (zone.name, zone.moved, [p for p in mine if p.pass_key == f"zone{number}"])
        for number, zone in enumerate(job.zones, start=1)
    ]


def _in_order(job: Job, mine: list[Placement], done: Collection[str]) -> Iterator[tuple[str, str, str]]:
    cured, before = 0, ""
    for name, _, placements in _of_zones(job, mine):
        for p in placements:
            if p.operation not in done and p.start < cured:
                yield (
                    "zones in order",
                    p.operation,
                    f"starts {cured - p.start} min before the zone “{before}” has cured",
                )
                break
        cured = max([cured, *(max(p.end, p.dry_until) for p in placements)])
        before = name


def _turned_dry(mine: list[Placement], done: Collection[str]) -> Iterator[tuple[str, str, str]]:
    for turn in (p for p in mine if p.kind is Kind.TURN and p.operation not in done):
        wet = [p.dry_until - turn.start for p in mine if p.start < turn.start < p.dry_until]
        if wet:
            yield "turn after cure", turn.operation, f"is turned {max(wet)} min before all zones have cured"


def _on_its_spot(
    job: Job, plan: Plan, mine: list[Placement], tables: Collection[str], done: Collection[str]
) -> Iterator[tuple[str, str, str]]:
    last: Stay | None = None
    for number, (name, moved, placements) in enumerate(_of_zones(job, mine), start=1):
        stay = plan.stay_of(job.piece, f"zone{number}")
        to_come = any(p.operation not in done for p in placements)
        if stay and last and to_come and not moved and last.table in tables:
            if (stay.table, round(stay.at, 4)) != (last.table, round(last.at, 4)):
                yield "one stretch", job.piece, f"is moved before “{name}”, for which it stays where it lies"
            elif stay.since > last.until:
                yield "one stretch", job.piece, f"leaves its spot before “{name}”"
        last = stay
