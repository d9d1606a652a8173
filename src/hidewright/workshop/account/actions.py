"""Lines of an account, what a job taught, and claims. Each act can be undone."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from hidewright.money import show_money
from hidewright.refusals import Refusal
from hidewright.workshop.account.models import AccountLine, Claim
from hidewright.workshop.account.queries import WHOSE
from hidewright.workshop.bench.touch_up_actions import open_touch_up_of
from hidewright.workshop.frame.past_days import refuse_other_than_past
from hidewright.workshop.inspection import snag_actions
from hidewright.workshop.inspection.models import Snag, Weight
from hidewright.workshop.papers.models import Lesson
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def charge(
    job: Job,
    text: str,
    amount: Decimal,
    *,
    snag: Snag | None = None,
    person: Person | None = None,
    device: Device | None = None,
) -> AccountLine:
    """Put a line beside the quote on the account; below nothing it is taken off. Refuses nothing, and a line without words."""
    words = text.strip() or (snag.what if snag else "")
    if not words:
        raise Refusal("Say what it is for.", where="Text")
    if not amount.is_finite() or not amount:
        raise Refusal(
            "A line has an amount.", where="Amount", remedy="Write money, with a minus to take off."
        )
    if snag is not None and snag.job_id != job.pk:
        raise Refusal("This is of another job.", where="Snag")
    with transaction.atomic():
        row = AccountLine.objects.create(
            job=job, text=words[:160], amount=amount.quantize(Decimal("0.01")), snag=snag, person=person, device=device
        )  # fmt: skip
        told = f"Put on the account: {row.text}, {show_money(row.amount, the_shop().currency)}"
        record(job, told, undo="account.charge", undo_with={"line": row.pk}, device=device)
        return row


@undoes("account.charge")
def _not_charged(data: dict[str, Any]) -> None:
    AccountLine.objects.filter(pk=data["line"]).update(withdrawn=timezone.now())


def learn(job: Job, text: str, *, person: Person | None = None, device: Device | None = None) -> Lesson:
    """Keep what a job taught; it is shown where the next price is made."""
    if not text.strip():
        raise Refusal("Write what it taught.", where="Lesson")
    with transaction.atomic():
        row = Lesson.objects.create(job=job, text=text.strip()[:400], person=person)
        record(job, f"Noted: {row.text}", undo="account.learn", undo_with={"lesson": row.pk}, device=device)
        return row


@undoes("account.learn")
def _not_learned(data: dict[str, Any]) -> None:
    Lesson.objects.filter(pk=data["lesson"]).update(withdrawn=timezone.now())


def claim(
    job: Job,
    what: str,
    pieces: Sequence[Piece],
    *,
    day: date,
    reported_by: str = "",
    whose: str = "open",
    person: Person | None = None,
    device: Device | None = None,
) -> Claim:
    """Note a claim or later damage, and open a touch-up job on the same colour with these pieces on its list, each with what is wrong.

    Refuses pieces of another job, of several colours at once, and a day to come.
    """
    if not what.strip():
        raise Refusal("Say what is wrong.", where="What")
    if whose not in WHOSE:
        raise Refusal("Choose one of what is offered.", where="Whose")
    refuse_other_than_past(day, "Nothing was reported on a day to come.")
    if not pieces or any(piece.job_id != job.pk for piece in pieces):
        raise Refusal("Which pieces?", where="Pieces", remedy="Tick pieces of this job.")
    numbers = {piece.colour_number for piece in pieces}
    if len(numbers) > 1:
        raise Refusal(
            "These pieces have several colours.", where="Pieces", remedy="Note a claim for each colour."
        )
    number = numbers.pop()
    with transaction.atomic():
        Job.objects.select_for_update().get(pk=job.pk)
        opened = open_touch_up_of(job, number, device=device)
        for n, piece in enumerate(pieces):
            _again(piece, opened, n)
            snag_actions.add(
                opened, what, piece=piece.key, weight=Weight.BLOCKS, person=person, device=device
            )
        last = Claim.objects.filter(job=job).aggregate(last=Max("number"))["last"] or 0
        row = Claim.objects.create(
            job=job,
            number=last + 1,
            what=what.strip()[:240],
            whose=whose,
            reported_by=reported_by.strip()[:120],
            day=day,
            colour_number=number,
            pieces=[piece.key for piece in pieces],
            touch_up=opened,
            person=person,
            device=device,
        )
        words = f"Claim {row.number}: {row.what}; opened {opened.name}"
        undo_with = {"claim": row.pk, "job": opened.pk}
        record(job, words, undo="account.claim", undo_with=undo_with, device=device)
        return row


def _again(piece: Piece, job: Job, order: int) -> None:
    """The piece on the touch-up job's list, of its one colour."""
    copied = {
        name: getattr(piece, name)
        for name in ("key", "name", "group", "shape", "length", "width", "thickness", "measured", "material", "sat_on", "turned")
    }  # fmt: skip
    Piece.objects.create(job=job, order=order, condition="damaged", **copied)


@undoes("account.claim")
def _no_claim(data: dict[str, Any]) -> None:
    now = timezone.now()
    Claim.objects.filter(pk=data["claim"]).update(withdrawn=now)
    Job.objects.filter(pk=data["job"], put_away=None).update(put_away=now)


def settle(row: Claim, whose: str, outcome: str, *, day: date, device: Device | None = None) -> None:
    """Say whose it was and how a claim ended; can be undone."""
    if whose not in WHOSE or whose == "open":
        raise Refusal("Say whose it was.", where="Whose")
    with transaction.atomic():
        before = {"claim": row.pk, "whose": row.whose}
        changed = Claim.objects.filter(pk=row.pk, settled=None, withdrawn=None).update(
            settled=day, whose=whose, outcome=outcome.strip()[:240]
        )
        if changed != 1:
            raise Refusal("This claim is settled already.", remedy="Reload the page.")
        words = f"Settled claim {row.number}: {WHOSE[whose]}"
        record(row.job, words, undo="account.settle", undo_with=before, device=device)


@undoes("account.settle")
def _not_settled(data: dict[str, Any]) -> None:
    Claim.objects.filter(pk=data["claim"]).update(settled=None, outcome="", whose=data["whose"])
