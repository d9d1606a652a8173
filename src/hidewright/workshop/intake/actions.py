"""Taking in: a delivery with its pieces, how each looked, a signature. Each act can be undone."""

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
from hidewright.workshop.intake.models import Arrival, Delivery
from hidewright.workshop.intake.queries import arrivals
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.queries import rows
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def take_in(
    job: Job,
    pieces: Iterable[int],
    *,
    brought_by: str,
    day: date,
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> Delivery:
    """Take pieces in, as one delivery; refuses none, those that came in before, and a delivery that nobody brought."""
    if not brought_by.strip():
        raise Refusal("Who brought it?", where="Brought by", remedy="Write a name.")
    refuse_other_than_past(day, "A delivery does not come in on a day to come.")
    wanted = set(pieces)
    with transaction.atomic():
        coming = [row for row in rows(job) if row.pk in wanted]
        if not coming:
            raise Refusal("No piece was chosen.", where="Pieces", remedy="Tick what came in.")
        last = Delivery.objects.filter(job=job).aggregate(last=Max("number"))["last"] or 0
        delivery = Delivery.objects.create(
            job=job,
            number=last + 1,
            day=day,
            brought_by=brought_by.strip()[:120],
            note=note.strip()[:400],
            person=person,
            device=device,
        )
        _put_in(delivery, coming)
        words = f"Took in {counted(len(coming), 'piece')}, brought by {delivery.brought_by}"
        record(job, words, undo="intake.delivery", undo_with={"delivery": delivery.pk}, device=device)
        return delivery


def _put_in(delivery: Delivery, coming: Sequence[Piece]) -> None:
    here = arrivals(delivery.job)
    double = [row.key for row in coming if row.pk in here]
    if double:
        raise Refusal(
            f"{', '.join(double[:5])} came in before.",
            where="Pieces",
            remedy="Leave out what is here already.",
        )
    try:
        with transaction.atomic():
            Arrival.objects.bulk_create(Arrival(delivery=delivery, piece=row) for row in coming)
    except IntegrityError:
        raise Refusal(
            "Somebody took these in meanwhile.", where="Pieces", remedy="Reload the page."
        ) from None


@undoes("intake.delivery")
def _send_back(data: dict[str, Any]) -> None:
    now = timezone.now()
    Delivery.objects.filter(pk=data["delivery"], withdrawn=None).update(withdrawn=now)
    Arrival.objects.filter(delivery=data["delivery"], withdrawn=None).update(withdrawn=now)


def see_condition(arrival: Arrival, condition: str, device: Device | None = None) -> None:
    """Write down how a piece looked when it came; what stood there before comes back when this is undone."""
    words = condition.strip()[:240]
    with transaction.atomic():
        before = Arrival.objects.select_for_update().get(pk=arrival.pk).condition
        Arrival.objects.filter(pk=arrival.pk).update(condition=words)
        piece = arrival.piece
        record(
            piece.job,
            f"{piece.key} came in: {words or 'nothing said'}",
            undo="intake.condition",
            undo_with={"arrival": arrival.pk, "condition": before},
            device=device,
        )


@undoes("intake.condition")
def _condition_back(data: dict[str, Any]) -> None:
    Arrival.objects.filter(pk=data["arrival"]).update(condition=data["condition"])


def sign_receipt(row: Delivery, name: str, strokes: object, device: Device | None = None) -> None:
    """Sign a receipt on the screen; refuses one that is signed."""
    if not name.strip():
        raise Refusal("Who signs?", where="Name", remedy="Write a name.")
    signature = signature_of(strokes)
    with transaction.atomic():
        changed = Delivery.objects.filter(pk=row.pk, signed=None, withdrawn=None).update(
            signature=signature.data(), signed_by=name.strip()[:120], signed=timezone.now()
        )
        if changed != 1:
            raise Refusal("This receipt is signed already.", where="Name", remedy="Reload the page.")
        words = f"{name.strip()[:120]} signed the receipt of delivery {row.number}"
        record(row.job, words, undo="intake.unsign", undo_with={"delivery": row.pk}, device=device)


@undoes("intake.unsign")
def _unsign(data: dict[str, Any]) -> None:
    Delivery.objects.filter(pk=data["delivery"]).update(signature=None, signed_by="", signed=None)
