"""Drying: noting how long something really took. Nothing is erased; a counter-entry strikes out."""

from typing import Any

from django.db import IntegrityError, transaction

from hidewright.refusals import Refusal
from hidewright.workshop.room.drying_queries import DRYING_WORDS, product_of, starting_drying, value
from hidewright.workshop.room.models import DryingSeen
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def note_dry(
    what: str,
    minutes: float,
    *,
    celsius: float = 20.0,
    humidity: float = 0.5,
    job: Job | None = None,
    piece: str = "",
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> DryingSeen:
    """Note that something was dry after so many minutes at so many °C and a humidity of 0..1; the next plan learns from it.

    Refuses air and times that cannot be, and what is out of all proportion to the starting value. Undoing it adds a counter-entry.
    """
    product = product_of(what)
    row = DryingSeen(
        what=what,
        minutes=minutes,
        celsius=celsius,
        humidity=humidity,
        product=product.key if product else "",
        job=job,
        piece=piece.strip()[:40],
        note=note.strip()[:240],
        person=person,
        device=device,
    )
    value(row).against(starting_drying())
    with transaction.atomic():
        row.save()
        told = f"{DRYING_WORDS[what]}: {minutes:.0f} min at {celsius:.0f} °C, {humidity:.0%}"
        record(job, told, undo="drying.seen", undo_with={"id": row.pk}, device=device)
        return row


@undoes("drying.seen")
def _strike(old: dict[str, Any]) -> None:
    strike(DryingSeen.objects.get(pk=old["id"]), "undone")


def strike(row: DryingSeen, why: str, *, person: Person | None = None, device: Device | None = None) -> None:
    """Strike an entry out by a counter-entry with its reason; it stays to be read, and is learned from no more."""
    if not why.strip():
        raise Refusal("Say why it is struck out.", where="Reason")
    if row.strikes_id is not None:
        raise Refusal("A correction stays.", remedy="Note the time again instead.")
    try:
        with transaction.atomic():
            DryingSeen.objects.create(
                what=row.what,
                minutes=row.minutes,
                celsius=row.celsius,
                humidity=row.humidity,
                product=row.product,
                job=row.job,
                piece=row.piece,
                note=why.strip()[:240],
                strikes=row,
                person=person,
                device=device,
            )
    except IntegrityError:
        raise Refusal(
            "This entry was struck out already.", remedy="Reload the page to see how things are now."
        ) from None
