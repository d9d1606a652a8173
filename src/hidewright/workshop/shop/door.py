"""Letting devices in and out."""

import hashlib
import secrets
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.shop.models import Device, OneTimeLink, Shop
from hidewright.workshop.shop.page_cache import remembered

LINK_LIFE = timedelta(minutes=30)


def hash_token(token: str) -> str:
    """SHA-256 of a link's token; only this is kept."""
    return hashlib.sha256(token.encode()).hexdigest()


def make_link(life: timedelta = LINK_LIFE) -> str:
    """Make a one-time link; returns its path (`/door/<token>/`), which is shown once and not kept."""
    token = secrets.token_urlsafe(24)
    OneTimeLink.objects.create(token_hash=hash_token(token), expires=timezone.now() + life)
    return f"/door/{token}/"


def open_link(token: str, device_name: str) -> Device:
    """Use the link once and let a device in; refuses a used, expired or unknown link."""
    name = device_name.strip()[:80] or "A device"
    with transaction.atomic():
        now = timezone.now()
        claimed = OneTimeLink.objects.filter(token_hash=hash_token(token), used=None, expires__gt=now).update(
            used=now
        )
        if claimed != 1:
            raise Refusal(
                "This link has been used, or its time is over.",
                remedy="Make a new one: run `hidewright link` on the shop's computer, or use Devices on a device that is in.",
            )
        device = Device.objects.create(name=name)
        OneTimeLink.objects.filter(token_hash=hash_token(token)).update(device=device)
        return device


def shut_out(device_id: int) -> bool:
    """Shut a device out; True if it was in until now."""
    return Device.objects.filter(pk=device_id, shut_out=None).update(shut_out=timezone.now()) == 1


@remembered
def the_shop() -> Shop:
    """The one shop, made on first use."""
    return Shop.objects.get_or_create(pk=1)[0]
