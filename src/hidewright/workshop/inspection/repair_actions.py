"""A snag that is to be repaired becomes work of its piece: a step of its own before the next coat, in the next plan."""

import re
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from hidewright.planning.problem.kinds import Kind
from hidewright.planning.problem.repairs import Repair
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.days.models import Redo
from hidewright.workshop.days.progress_queries import NOT_STARTED, standings
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.inspection.snag_queries import last_part
from hidewright.workshop.pieces.queries import rows as piece_rows


@dataclass(frozen=True, slots=True)
class RepairWork:
    """What a repair takes: min of hands, the kind of the shop's own work, min of drying. Common practice, no source: filler and thread take about half an hour, and the filler dries four hours."""

    minutes: int = 30
    kind: str = str(Kind.OWN_PREP)
    dry: int = 240


STARTING = RepairWork()


def ask_repair(row: Snag, work: RepairWork) -> str:
    """Put the repair of a snag into the work of its piece, in place of one that was asked before and is not done; says so in words. Refuses minutes and drying that cannot be."""
    if row.piece not in set(piece_rows(row.job).values_list("key", flat=True)):
        return "It is on no piece of the list, so that nothing is added to the plan"
    if work.kind not in set(Kind):
        raise Refusal("There is no such family of work.", where="Family")
    name = f"repair: {' '.join(re.sub('[/·]', ' ', row.what).split())}"[:40].strip()
    value = Repair(0, name, Kind(work.kind), work.minutes, work.dry)
    made = Redo.objects.create(
        job=row.job, piece=row.piece, kinds=[str(value.kind)], why=row.what[:240],
        name=value.name, minutes=value.minutes, dry=value.dry,
    )  # fmt: skip
    set_repair(row, made.pk)
    return f"{row.piece} is repaired before its next coat ({counted(value.minutes, 'minute')}), once the days are planned again"


def set_repair(row: Snag, redo_id: int | None) -> None:
    """Let only this repair of a snag be work to come (None: none); what is done already stays done."""
    old = Redo.objects.filter(pk=row.repair_id or 0, withdrawn=None).exclude(pk=redo_id or 0).first()
    if old is not None and not is_done(row, old):
        Redo.objects.filter(pk=old.pk).update(withdrawn=timezone.now())
    if redo_id is not None:
        Redo.objects.filter(pk=redo_id).exclude(withdrawn=None).update(withdrawn=None, made=timezone.now())
    Snag.objects.filter(pk=row.pk).update(repair=redo_id)
    row.repair_id = redo_id


def is_done(row: Snag, redo: Redo) -> bool:
    """Whether a repair was tapped done."""
    return standings(row.job).get(last_part(redo), NOT_STARTED).done


def leave_repair(row: Snag) -> None:
    """Nothing is to be repaired any more: what is not done yet leaves the plan."""
    if row.repair is not None and not is_done(row, row.repair):
        set_repair(row, None)


def bring_back(data: dict[str, Any]) -> None:
    """The repair of a snag as it was before a change."""
    row = Snag.objects.select_related("repair").get(pk=data["id"])
    set_repair(row, data.get("repair"))
