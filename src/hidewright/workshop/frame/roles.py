"""Who may do what: owner, bench, viewer, and a stranger who was never let in.

Until somebody is made owner (`hidewright owner`), the shop is one person's own computer: every device that came in may do everything. From then
on each device acts for the person who signed in on it, and one on which nobody did may only look.
"""

import re

from django.db.models import Exists, QuerySet

from hidewright.workshop.shop.models import Device, Person, Role

OWNERS_ALONE = re.compile(r"/(devices|shop|people)(/|$)")
"""Settings, people, devices and copies: what lets somebody in, and what carries everything out."""
EVERYBODYS = re.compile(r"/(sign-in|sign-out|people/who|shop/trust|theme)/")
"""What each device needs to say who holds it, and how it wants its pages."""
LOOKING = ("GET", "HEAD", "OPTIONS")


def devices_in() -> QuerySet[Device]:
    """The devices that are in, each with its person and whether the shop has an owner (`owned`): one query for a request."""
    return Device.objects.filter(shut_out=None).select_related("person").annotate(owned=Exists(_owners()))


def role_of(device: Device) -> Role:
    """The role in which a device of `devices_in` acts."""
    if not device.owned:  # type: ignore[attr-defined]
        return Role.OWNER
    person = device.person if device.signed_in else None
    return Role(person.role) if person is not None and person.active and person.secret else Role.VIEWER


def may(role: Role, path: str, method: str) -> bool:
    """Whether somebody in that role may send a request of that kind to an address."""
    if role is Role.OWNER or EVERYBODYS.match(path):
        return True
    if OWNERS_ALONE.match(path):
        return False
    return role is Role.BENCH or method in LOOKING


def has_owner() -> bool:
    """Whether somebody is owner, with a password."""
    return _owners().exists()


def _owners() -> QuerySet[Person]:
    return Person.objects.filter(active=True, role=Role.OWNER).exclude(secret="").order_by()
