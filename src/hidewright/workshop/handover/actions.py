"""Packing and handing over. Each act can be undone; what was signed is taken back by an undo, too."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from hidewright.charts.signature import signature_of
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.frame.past_days import refuse_other_than_past
from hidewright.workshop.handover.models import HandOver, PackedPiece
from hidewright.workshop.handover.queries import current, packing
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def pack(job: Job, pieces: Iterable[int], *, stays: str = "", device: Device | None = None) -> int:
    """Pack pieces, or name them as staying with the reason `stays`; returns how many. Refuses none, and those that left or are said already."""
    wanted = set(pieces)
    with transaction.atomic():
        chosen = [p for p in packing(job).pieces if p.row.pk in wanted]
        if not chosen:
            raise Refusal("No piece was chosen.", where="Pieces", remedy="Tick the pieces first.")
        said = [p.row.key for p in chosen if not p.open]
        if said:
            raise Refusal(
                f"{', '.join(said[:5])}: said already.",
                where="Pieces",
                remedy="Take it out of the packing first.",
            )
        row, made = _current(job)
        try:
            with transaction.atomic():
                lines = [
                    PackedPiece.objects.create(hand_over=row, piece=p.row, stays=stays.strip()[:240])
                    for p in chosen
                ]
        except IntegrityError:
            raise Refusal(
                "Somebody packed these meanwhile.", where="Pieces", remedy="Reload the page."
            ) from None
        words = (
            f"{counted(len(lines), 'piece')} {f'stay here: {stays.strip()}' if stays.strip() else 'packed'}"
        )
        record(
            job,
            words,
            undo="handover.pack",
            undo_with={"lines": [line.pk for line in lines], "made": row.pk if made else None},
            device=device,
        )
        return len(lines)


def _current(job: Job) -> tuple[HandOver, bool]:
    row = current(job)
    if row is not None:
        return row, False
    last = HandOver.objects.filter(job=job).aggregate(last=Max("number"))["last"] or 0
    return HandOver.objects.create(job=job, number=last + 1), True


@undoes("handover.pack")
def _unpacked(data: dict[str, Any]) -> None:
    now = timezone.now()
    PackedPiece.objects.filter(pk__in=data["lines"], withdrawn=None).update(withdrawn=now)
    if data["made"] and not PackedPiece.objects.filter(hand_over=data["made"], withdrawn=None).exists():
        HandOver.objects.filter(pk=data["made"], signed=None).update(withdrawn=now)


def unpack(job: Job, pieces: Iterable[int], device: Device | None = None) -> int:
    """Take pieces out of the packing; returns how many. Refuses none."""
    with transaction.atomic():
        lines = PackedPiece.objects.filter(
            hand_over__job=job, hand_over__signed=None, hand_over__withdrawn=None, withdrawn=None, piece__in=list(pieces)
        )  # fmt: skip
        keys = list(lines.values_list("pk", flat=True))
        if not keys:
            raise Refusal("No piece was chosen.", where="Pieces", remedy="Tick the pieces first.")
        lines.update(withdrawn=timezone.now())
        words = f"Took {counted(len(keys), 'piece')} out of the packing"
        record(job, words, undo="handover.repack", undo_with={"lines": keys}, device=device)
        return len(keys)


@undoes("handover.repack")
def _repacked(data: dict[str, Any]) -> None:
    try:
        with transaction.atomic():
            PackedPiece.objects.filter(pk__in=data["lines"]).update(withdrawn=None)
    except IntegrityError:
        raise Refusal("They were packed again meanwhile.", remedy="Reload the page.") from None


def hand_over(
    job: Job,
    *,
    to: str,
    day: date,
    signature: object,
    kit: Sequence[str] = (),
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> HandOver:
    """Hand over what is packed, signed at the other end. Refuses while a piece that came in is neither packed nor named, saying which."""
    if not to.strip():
        raise Refusal("Who takes it over?", where="Name", remedy="Write a name.")
    refuse_other_than_past(day, "Nothing is handed over on a day to come.")
    strokes = signature_of(signature).data()
    with transaction.atomic():
        found = packing(job)
        if found.current is None or not found.packed:
            raise Refusal("Nothing is packed yet.", where="Pieces", remedy="Tick what goes out.")
        if found.open:
            marks = ", ".join(p.row.key for p in found.open[:8])
            more = f" and {len(found.open) - 8} more" if len(found.open) > 8 else ""
            raise Refusal(
                f"Nothing is said of {marks}{more}.",
                where="Pieces",
                remedy="Pack each piece that came in, or say why it stays.",
            )
        row = found.current
        changed = HandOver.objects.filter(pk=row.pk, signed=None, withdrawn=None).update(
            to=to.strip()[:120], day=day, note=note.strip()[:400], kit=[str(each)[:240] for each in kit],
            signature=strokes, signed=timezone.now(), person=person, device=device,
        )  # fmt: skip
        if changed != 1:
            raise Refusal("This was handed over already.", where="Pieces", remedy="Reload the page.")
        words = f"Handed {counted(len(found.packed), 'piece')} over to {to.strip()[:120]}"
        record(job, words, undo="handover.signed", undo_with={"row": row.pk}, device=device)
        row.refresh_from_db()
        return row


@undoes("handover.signed")
def _not_signed(data: dict[str, Any]) -> None:
    row = HandOver.objects.get(pk=data["row"])
    if HandOver.objects.filter(job=row.job, number__gt=row.number, withdrawn=None).exists():
        raise Refusal("A later hand-over was begun.", remedy="Undo that one first.")
    HandOver.objects.filter(pk=row.pk).update(
        to="", day=None, note="", kit=[], signature=None, signed=None, person=None, device=None
    )
