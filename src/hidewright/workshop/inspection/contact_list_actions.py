"""The list of a job's contacts: what it can hold (common practice, no source), and how it is taken: those the job does not have are added."""

from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.lists.draft import Draft
from hidewright.lists.kinds import ListKind, Meaning
from hidewright.refusals import Refusal
from hidewright.sheets import Row
from hidewright.units import counted
from hidewright.workshop.lists.queries import Prospect, Taker, Way, takes
from hidewright.workshop.shop.models import Act, Contact, Job
from hidewright.workshop.shop.undo import record, undoes


@dataclass(frozen=True, slots=True)
class Reach:
    """Somebody outside the shop: name (up to 120 letters), what they answer for (80), and how they are reached (160)."""

    name: str
    does: str = ""
    reach: str = ""

    def __post_init__(self) -> None:
        for field, most in (("name", 120), ("does", 80), ("reach", 160)):
            if len(getattr(self, field)) > most:
                raise Refusal(f"This is longer than {most} letters.", where=field, remedy="Shorten it.")
        if not self.name.strip():
            raise Refusal("A contact needs a name.", where="name")


def _one(row: Row) -> tuple[Reach, ...]:
    reach = ", ".join(filter(None, (row.get("reach"), row.get("phone"))))
    return (Reach(row.get("name"), row.get("does"), reach),)


CONTACTS = ListKind(
    "contacts",
    "contacts",
    "contact",
    (
        Meaning("name", "Name", words=("contact", "who", "person", "company", "firma", "ansprechpartner"), must=True),
        Meaning("does", "What for", words=("role", "for", "function", "trade", "title", "rolle", "aufgabe", "what")),
        Meaning("reach", "Mail", words=("email", "e-mail", "mail address", "reach", "address")),
        Meaning("phone", "Telephone", words=("tel", "phone", "mobile", "cell", "telefon", "handy", "number")),
    ),
    one=_one,
)  # fmt: skip
"""The list of contacts."""


def _new(job: Job, draft: Draft) -> list[Reach]:
    known = {
        (row.name.casefold(), row.does.casefold()) for row in Contact.objects.filter(job=job, removed=None)
    }
    return [one for one in draft.values if (one.name.casefold(), one.does.casefold()) not in known]


def _take(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    assert job is not None
    with transaction.atomic():
        made = [
            Contact.objects.create(job=job, name=one.name, does=one.does, reach=one.reach).pk
            for one in _new(job, draft)
        ]
        return record(
            job,
            f"Added {counted(len(made), 'contact')} from {name}",
            undo="contacts.list",
            undo_with={"ids": made},
        )


@undoes("contacts.list")
def _off(old: dict[str, Any]) -> None:
    Contact.objects.filter(pk__in=old["ids"], removed=None).update(removed=timezone.now())


def _prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    assert job is not None
    new = len(_new(job, draft))
    facts = (("New", str(new)), ("Known already: left as they are", str(len(draft.values) - new)))
    return Prospect((Way("take", f"Add the {counted(new, 'contact')}"),) if new else (), facts)


takes(Taker(CONTACTS, of_job=True, to="contacts", take=_take, prospect=_prospect, stage="snags"))
