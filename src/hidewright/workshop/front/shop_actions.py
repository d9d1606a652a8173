"""The shop's settings and people."""

from typing import Any

from django.db import transaction
from django.utils.text import slugify

from hidewright.refusals import Refusal
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Device, Person, Shop
from hidewright.workshop.shop.undo import record, undoes


def change_settings(
    *,
    name: str,
    units: str,
    currency: str,
    balance_step: float = 0.1,
    drop: float = 0.05,
    snag_word: str = "snag",
) -> None:
    """Change the shop's settings; can be undone."""
    with transaction.atomic():
        old = (
            Shop.objects.filter(pk=the_shop().pk)
            .values("name", "units", "currency", "balance_step", "drop", "snag_word")
            .get()
        )
        Shop.objects.filter(pk=1).update(
            name=name,
            units=units,
            currency=currency,
            balance_step=balance_step,
            drop=drop,
            snag_word=snag_word or "snag",
        )
        record(None, "Changed the shop's settings", undo="shop.settings", undo_with=dict(old))


@undoes("shop.settings")
def _restore_settings(old: dict[str, Any]) -> None:
    Shop.objects.filter(pk=1).update(**old)


def add_person(name: str, credentials: str = "", key: str = "") -> Person:
    """Add a person; refuses an empty name or one that is listed already."""
    key = key or slugify(name)[:40]
    if not key:
        raise Refusal("A person needs a name with letters in it.", where="Name")
    with transaction.atomic():
        known = Person.objects.filter(key=key).first()
        if known is not None and known.active:
            raise Refusal(
                f"{known.name} is listed already.", where="Name", remedy="Add an initial to tell them apart."
            )
        person, _ = Person.objects.update_or_create(
            key=key, defaults={"name": name.strip(), "credentials": credentials, "active": True}
        )
        record(None, f"Added {person.name}", undo="shop.person", undo_with={"id": person.pk, "active": False})
        return person


def edit_person(person: Person, *, name: str, credentials: str) -> None:
    """Change a person's facts; can be undone."""
    old = {"id": person.pk, "name": person.name, "credentials": person.credentials}
    with transaction.atomic():
        Person.objects.filter(pk=person.pk).update(name=name.strip(), credentials=credentials)
        record(None, f"Changed {name}'s facts", undo="shop.person", undo_with=dict(old))


def remove_person(person: Person) -> None:
    """Take a person off the list; can be undone, and their records stay."""
    with transaction.atomic():
        if Person.objects.filter(pk=person.pk, active=True).update(active=False):
            record(
                None,
                f"Removed {person.name}",
                undo="shop.person",
                undo_with={"id": person.pk, "active": True},
            )


@undoes("shop.person")
def _restore_person(old: dict[str, Any]) -> None:
    Person.objects.filter(pk=old["id"]).update(**{key: value for key, value in old.items() if key != "id"})


def hold_device(device: Device, person: Person | None) -> None:
    """Note who holds a device, so that pours and taps carry a name."""
    Device.objects.filter(pk=device.pk).update(person=person, signed_in=None)
