"""Rows of their own in the inspection: parts that show in another position only."""

from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.inspection.models import HiddenPart
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.undo import record, undoes


def add_hidden(job: Job, piece: str, part: str, position: str) -> HiddenPart:
    """List a part that shows in another position only; can be undone. Refuses a piece that is not listed and a part that is already."""
    mark, part, position = piece.strip(), part.strip(), position.strip()
    if not Piece.objects.filter(job=job, key=mark, removed=None).exists():
        raise Refusal("There is no such piece.", where="Piece", remedy="Choose one of the list.")
    if not part or not position:
        raise Refusal("Say what shows, and when.", where="Part", remedy="Such as: underside, flap up.")
    try:
        with transaction.atomic():
            row = HiddenPart.objects.create(job=job, piece=mark, part=part[:60], position=position[:80])
            record(
                job,
                f"{row.mark} is looked at by itself",
                undo="inspection.hidden",
                undo_with={"id": row.pk, "there": False},
            )
            return row
    except IntegrityError:
        raise Refusal("This part is listed already.", where="Part") from None


def remove_hidden(row: HiddenPart) -> None:
    """Take such a row away; its checks stay on record. Can be undone."""
    with transaction.atomic():
        if HiddenPart.objects.filter(pk=row.pk, removed=None).update(removed=timezone.now()):
            record(
                row.job,
                f"{row.mark} is no row of its own any more",
                undo="inspection.hidden",
                undo_with={"id": row.pk, "there": True},
            )


@undoes("inspection.hidden")
def _hidden_as_before(data: dict[str, Any]) -> None:
    row = HiddenPart.objects.get(pk=data["id"])
    if (
        data["there"]
        and HiddenPart.objects.filter(job=row.job, piece=row.piece, part=row.part, removed=None).exists()
    ):
        raise Refusal("This part is listed again already.")
    HiddenPart.objects.filter(pk=row.pk).update(removed=None if data["there"] else timezone.now())
