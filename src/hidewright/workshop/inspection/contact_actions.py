"""Contacts of a job: adding and taking off."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.shop.models import Contact, Job
from hidewright.workshop.shop.undo import record, undoes


def add_contact(job: Job, name: str, *, does: str = "", reach: str = "") -> Contact:
    """Add somebody outside the shop who has a say or must act; can be undone. Refuses one without a name."""
    if not name.strip():
        raise Refusal("A contact needs a name.", where="Name")
    with transaction.atomic():
        row = Contact.objects.create(
            job=job, name=name.strip()[:120], does=does.strip()[:80], reach=reach.strip()[:160]
        )
        record(job, f"Added {row}", undo="contacts.added", undo_with={"id": row.pk, "there": False})
        return row


def remove_contact(row: Contact) -> None:
    """Take a contact off the job; what they were asked stays on record. Can be undone."""
    with transaction.atomic():
        if Contact.objects.filter(pk=row.pk, removed=None).update(removed=timezone.now()):
            record(
                row.job,
                f"Took {row.name} off",
                undo="contacts.added",
                undo_with={"id": row.pk, "there": True},
            )


@undoes("contacts.added")
def _contact_as_before(data: dict[str, Any]) -> None:
    Contact.objects.filter(pk=data["id"]).update(removed=None if data["there"] else timezone.now())
