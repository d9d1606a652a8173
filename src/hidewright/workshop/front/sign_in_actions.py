"""Who a person is: a PIN at the bench, a password in the office; wrong ones are counted, and after a few there is a pause."""

from datetime import timedelta

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.shop.models import Device, Person, Role
from hidewright.workshop.shop.undo import record

TRIES, PAUSE = 5, timedelta(minutes=5)
"""So many wrong PINs or passwords in a row, and then so long a pause for that person."""
SHORTEST = {Role.OWNER: 10, Role.BENCH: 4, Role.VIEWER: 4}
"""Characters of a secret: an owner's password carries everything out of the shop."""


def set_secret(person: Person, role: Role, secret: str) -> None:
    """Give a person a role and a PIN or password, or none; on all devices they must sign in anew. Refuses to leave the shop without an owner."""
    if secret and len(secret) < SHORTEST[role]:
        raise Refusal(
            f"{'A password' if role is Role.OWNER else 'A PIN'} has at least {SHORTEST[role]} characters.",
            where="secret",
            remedy="Choose a longer one.",
        )
    if role is Role.OWNER and not secret:
        raise Refusal("An owner needs a password.", where="secret", remedy="Write one.")
    with transaction.atomic():
        others = Person.objects.filter(active=True, role=Role.OWNER).exclude(secret="").exclude(pk=person.pk)
        was_owner = Person.objects.filter(pk=person.pk, role=Role.OWNER).exclude(secret="").exists()
        if was_owner and role is not Role.OWNER and not others.exists():
            raise Refusal(
                f"{person.name} is the only owner.", where="role", remedy="Make somebody else owner first."
            )
        Person.objects.filter(pk=person.pk).update(
            role=role, secret=make_password(secret) if secret else "", wrong_tries=0, paused_until=None
        )
        Device.objects.filter(person=person).update(signed_in=None)
        record(None, f"{person.name} now works for {role.label}")


def make_owner(name: str, password: str) -> Person:
    """The person of that name, added where need be, as owner with a password."""
    with transaction.atomic():
        person = Person.objects.filter(name=name.strip(), active=True).first() or add_person(name)
        set_secret(person, Role.OWNER, password)
        return person


def sign_in(device: Device, person: Person, secret: str) -> None:
    """Let a person act on a device; refuses a wrong PIN or password, and for a while everything after `TRIES` wrong ones.

    The count of wrong ones is kept though the act is refused: call it outside a transaction that would be rolled back.
    """
    now = timezone.now()
    with transaction.atomic():
        row = Person.objects.select_for_update().get(pk=person.pk)
        paused = row.paused_until is not None and row.paused_until > now
        right = bool(not paused and row.active and row.secret and check_password(secret, row.secret))
        if right:
            Person.objects.filter(pk=row.pk).update(wrong_tries=0, paused_until=None)
            Device.objects.filter(pk=device.pk).update(person=row, signed_in=now)
        elif not paused:
            wrong = row.wrong_tries + 1
            pause = (
                {"wrong_tries": 0, "paused_until": now + PAUSE} if wrong >= TRIES else {"wrong_tries": wrong}
            )
            Person.objects.filter(pk=row.pk).update(**pause)
    if paused:
        raise Refusal(
            f"There were {TRIES} wrong tries for {row.name}.",
            where="secret",
            remedy=f"Wait {PAUSE.seconds // 60} minutes, then try again.",
        )
    if not right:
        raise Refusal(
            "That is not right.", where="secret", remedy="Try again, or ask an owner for a new one."
        )


def sign_out(device: Device) -> None:
    """Nobody acts on the device any more; it may still look."""
    Device.objects.filter(pk=device.pk).update(person=None, signed_in=None)
