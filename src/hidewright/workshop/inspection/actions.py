"""Inspection: noting checks, keeping certificates, signing. Nothing is erased; a counter-entry strikes out."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from hidewright.refusals import Refusal, Refusals
from hidewright.safety.finish import EYES, NAMES, Check, compare
from hidewright.workshop.colours.models import ColourVersion
from hidewright.workshop.days.models import Redo
from hidewright.workshop.inspection import queries as gather
from hidewright.workshop.inspection.again_actions import send_through
from hidewright.workshop.inspection.models import BurnRecord, CheckEntry, Signature
from hidewright.workshop.inspection.sign_off_queries import hindrances
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes

RESULTS = ("good", "again", "noted")


def note_checks(
    job: Job,
    pieces: Sequence[str],
    kind: str,
    *,
    value: str = "",
    result: str = "noted",
    note: str = "",
    way: str = "",
    version: ColourVersion | None = None,
    person: Person | None = None,
    device: Device | None = None,
) -> list[CheckEntry]:
    """Note the same check for one piece or several; undoing it adds counter-entries.

    What is to be done again becomes work: its piece goes through the steps again in the next plan, where a plan can be made.
    """
    wanted = [piece.strip() for piece in pieces if piece.strip()]
    if not wanted:
        raise Refusal("Say which piece was checked.", where="Piece")
    if result not in RESULTS:
        raise Refusal(f"“{result}” is no result.", where="Result")
    compared = compare(kind, value)
    if Check(kind) in EYES and result == "noted":
        raise Refusal("Say whether it is good or to be done again.", where="Result")
    kept = compared.value or result
    with transaction.atomic():
        rows = [
            CheckEntry.objects.create(
                job=job,
                piece=piece[:120],
                kind=kind,
                value=kept,
                result=result,
                note=note.strip(),
                way=way,
                version=version,
                person=person,
                device=device,
            )
            for piece in wanted
        ]
        again = send_through(job, wanted, Check(kind), note) if result == "again" else []
        where = wanted[0] if len(wanted) == 1 else f"{len(wanted)} pieces"
        words = {"good": "good", "again": "to be done again"}.get(result, kept)
        record(
            job,
            f"{where}: {NAMES[Check(kind)].lower()}: {words}" + ("; it goes through again" if again else ""),
            undo="inspection.checks",
            undo_with={"ids": [row.pk for row in rows], "again": [row.pk for row in again]},
            device=device,
        )
        return rows


@undoes("inspection.checks")
def _strike_checks(data: dict[str, Any]) -> None:
    Redo.objects.filter(pk__in=data.get("again", [])).update(withdrawn=timezone.now())
    for row in CheckEntry.objects.filter(pk__in=data["ids"], struck_by=None):
        strike_check(row, note="Undone")


def strike_check(row: CheckEntry, *, note: str, person: Person | None = None) -> CheckEntry:
    """Strike out a check by a counter-entry with its reason."""
    if not note.strip():
        raise Refusal("Say why it is struck out.", where="Reason")
    try:
        with transaction.atomic():
            return CheckEntry.objects.create(
                job=row.job,
                piece=row.piece,
                kind=row.kind,
                value="struck out",
                note=note.strip()[:240],
                strikes=row,
                person=person,
            )
    except IntegrityError:
        raise Refusal("This check was struck out already.", where=row.piece) from None


def keep_certificate(
    job: Job,
    test: str,
    *,
    specimen: str,
    certificate: str,
    house: str = "",
    tested: date | None = None,
    figures: dict[str, Any] | None = None,
    note: str = "",
    person: Person | None = None,
) -> BurnRecord:
    """Keep a burn-test certificate; its figures are compared, and a licensed or authorised person judges."""
    if test not in gather.BURN_TESTS:
        raise Refusal(f"“{test}” is no test that is known here.", where="Test")
    if not specimen.strip() or not certificate.strip():
        raise Refusal("A certificate needs its number and what was tested.", where="Certificate")
    gather.comparison(test, figures or {})
    with transaction.atomic():
        row = BurnRecord.objects.create(
            job=job,
            test=test,
            specimen=specimen.strip()[:160],
            certificate=certificate.strip()[:120],
            house=house.strip()[:120],
            tested=tested,
            figures=figures or {},
            note=note.strip()[:240],
            person=person,
        )
        record(
            job, f"Kept the certificate {row.certificate}", undo="inspection.burn", undo_with={"id": row.pk}
        )
        return row


@undoes("inspection.burn")
def _strike_certificate(data: dict[str, Any]) -> None:
    row = BurnRecord.objects.filter(pk=data["id"], struck_by=None).first()
    if row is not None:
        strike_certificate(row, note="Undone")


def strike_certificate(row: BurnRecord, *, note: str, person: Person | None = None) -> BurnRecord:
    """Strike out a certificate by a counter-entry with its reason."""
    if not note.strip():
        raise Refusal("Say why it is struck out.", where="Reason")
    try:
        with transaction.atomic():
            return BurnRecord.objects.create(
                job=row.job,
                test=row.test,
                specimen=row.specimen,
                certificate=row.certificate,
                note=note.strip()[:240],
                strikes=row,
                person=person,
            )
    except IntegrityError:
        raise Refusal("This certificate was struck out already.", where=row.certificate) from None


def sign(
    job: Job, person: Person, words: str, device: Device | None = None, *, final: bool = False
) -> Signature:
    """Sign for how things stand; what stood then is kept with it.

    The final sign-off is refused, saying why, while a blocking snag is open or work is not done.
    """
    if not words.strip():
        raise Refusal("Say what is signed for.", where="For")
    if not person.active:
        raise Refusal(f"{person.name} is not on the list of people any more.", where="Who")
    if final and (left := hindrances(job)):
        raise Refusals([Refusal(words) for words in left], what="The final sign-off must wait.")
    stands = gather.standing(job)
    with transaction.atomic():
        row = Signature.objects.create(
            job=job,
            person=person,
            words=words.strip()[:240],
            covers={"words": stands.words, "again": stands.again, "snags": stands.snags, "seen": stands.seen},
            final=final,
            device=device,
        )
        record(job, f"{person.name} signed{' off' * final}: {row.words}", device=device)
        return row


def strike_signature(
    row: Signature, *, person: Person, reason: str, device: Device | None = None
) -> Signature:
    """Strike out a signature by a counter-entry; both stay on record."""
    if not reason.strip():
        raise Refusal("Say why it is struck out.", where="Reason")
    try:
        with transaction.atomic():
            counter = Signature.objects.create(
                job=row.job, person=person, words=reason.strip()[:240], strikes=row, device=device
            )
            record(row.job, f"{person.name} struck out the signature of {row.person.name}", device=device)
    except IntegrityError:
        raise Refusal("This signature was struck out already.", where=row.person.name) from None
    return counter
