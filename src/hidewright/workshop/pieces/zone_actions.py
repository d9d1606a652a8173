"""Say in which zones pieces are coated; it can be undone."""

from collections.abc import Sequence

from django.db import transaction
from django.db.models import F

from hidewright.refusals import Refusal
from hidewright.survey.zones import Zone, checked_zones
from hidewright.units import counted
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.zone_queries import alike, begun, zone_facts
from hidewright.workshop.shop.undo import record


def coat_in_zones(row: Piece, zones: Sequence[Zone], version: int, *, others: bool = False) -> int:
    """Coat a piece in these zones, in this order, and with `others` those like it too; without zones in one go. Returns how many pieces.

    Refuses a piece that somebody changed since it was shown (`version`), and one whose coats have begun; of the `others` those are left as they are.
    """
    kept = zone_facts(checked_zones(zones))
    with transaction.atomic():
        coated = begun(row.job)
        if row.key in coated:
            raise Refusal(
                f"The coats of {row.key} have begun.",
                where="zones",
                remedy="Finish it as it was planned, or take the taps of its coats back first.",
            )
        if not Piece.objects.filter(pk=row.pk, version=version, removed=None).exists():
            raise Refusal("Somebody changed this piece meanwhile.", remedy="Reload the page and look again.")
        chosen = [row, *(other for other in alike(row) if others and other.key not in coated)]
        Piece.objects.filter(pk__in=[one.pk for one in chosen]).update(zones=kept, version=F("version") + 1)
        what = f"{row.key} {row.name}" if len(chosen) == 1 else counted(len(chosen), "piece")
        record(
            row.job,
            f"Coats {what} in {counted(len(kept), 'zone')}" if kept else f"Coats {what} in one go",
            undo="survey.facts",
            undo_with={"pieces": {str(one.pk): {"zones": one.zones} for one in chosen}},
        )
        return len(chosen)
