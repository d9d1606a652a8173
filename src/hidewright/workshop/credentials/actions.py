"""Keeping credentials, striking one out, and saying which rules a job goes by."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.safety.rule_sets import PaperKind, rule_set
from hidewright.workshop.credentials.models import Credential, JobRules
from hidewright.workshop.shop.models import Job, Person
from hidewright.workshop.shop.undo import record, undoes


def keep(
    job: Job | None,
    kind: str,
    title: str,
    *,
    number: str = "",
    issuer: str = "",
    person: Person | None = None,
    product: str = "",
    issued: date | None = None,
    expires: date | None = None,
    file: str = "",
    note: str = "",
) -> Credential:
    """Keep a credential of a person, a job or the shop; can be undone. `file` is the name of a kept file.

    Refuses one without a title, of an unknown kind, or that ends before its day.
    """
    if not title.strip():
        raise Refusal("Say what it is.", where="Title")
    if kind not in list(PaperKind):
        raise Refusal(f"“{kind}” is no kind of paper.", where="Kind")
    if issued is not None and expires is not None and expires < issued:
        raise Refusal("It would end before its day.", where="Expires", remedy="Look at both days again.")
    with transaction.atomic():
        row = Credential.objects.create(
            job=None if person is not None else job,
            kind=kind,
            title=title.strip()[:120],
            number=number.strip()[:80],
            issuer=issuer.strip()[:120],
            person=person,
            product=product.strip()[:60],
            issued=issued,
            expires=expires,
            file=file,
            note=note.strip()[:240],
        )
        record(job, f"Kept {row.title}", undo="credentials.kept", undo_with={"id": row.pk})
        return row


@undoes("credentials.kept")
def _take_back(data: dict[str, Any]) -> None:
    Credential.objects.filter(pk=data["id"], struck=None).update(
        struck=timezone.now(), why_struck="Taken back"
    )


def strike(row: Credential, why: str, job: Job | None = None) -> None:
    """Strike a credential out, with a reason; can be undone."""
    if not why.strip():
        raise Refusal("Say why it is struck out.", where="Reason")
    with transaction.atomic():
        changed = Credential.objects.filter(pk=row.pk, struck=None).update(
            struck=timezone.now(), why_struck=why.strip()[:240]
        )
        if changed != 1:
            raise Refusal("It was struck out already.", where=row.title)
        record(job, f"Struck out {row.title}", undo="credentials.struck", undo_with={"id": row.pk})


@undoes("credentials.struck")
def _bring_back(data: dict[str, Any]) -> None:
    Credential.objects.filter(pk=data["id"]).update(struck=None, why_struck="")


def set_rules(job: Job, key: str) -> None:
    """Say which rules a job goes by; can be undone."""
    rules = rule_set(key)
    with transaction.atomic():
        before = JobRules.objects.filter(job=job).values_list("rule_set", flat=True).first()
        JobRules.objects.update_or_create(job=job, defaults={"rule_set": rules.key})
        record(
            job,
            f"Goes by the rules of: {rules.name}",
            undo="credentials.rules",
            undo_with={"job": job.pk, "before": before},
        )


@undoes("credentials.rules")
def _rules_as_before(data: dict[str, Any]) -> None:
    rows = JobRules.objects.filter(job_id=data["job"])
    if data["before"] is None:
        rows.delete()
    else:
        rows.update(rule_set=data["before"])
