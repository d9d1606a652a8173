"""Taps: the work of the day told with a finger. A tap is kept once, however often a bad connection sends it."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.days.models import Tap, TapKind
from hidewright.workshop.shop.models import Device, Job, Person

CLOCK_SLIP = timedelta(minutes=5)
"""A device's clock may run this far ahead; a tap from further ahead is taken as of now."""


def tap(
    job: Job,
    act_key: str,
    kind: str,
    token: str,
    *,
    at: datetime | None = None,
    person: Person | None = None,
    device: Device | None = None,
    minutes: float | None = None,
    note: str = "",
) -> tuple[Tap, bool]:
    """Keep a tap; returns it and whether it is new. A token that was kept already changes nothing.

    `at` is when the finger touched; `minutes` how long the act really took (0 < minutes ≤ 1440), when told.
    """
    if kind not in TapKind.values:
        raise Refusal(f"“{kind}” is no kind of tap.", remedy=f"Use {', '.join(TapKind.values)}.")
    if not act_key or len(act_key) > 160:
        raise Refusal("The tap does not say which piece of work.", remedy="Reload the page and tap again.")
    if not token or len(token) > 64:
        raise Refusal("The tap has no token.", remedy="Reload the page and tap again.")
    if minutes is not None and not 0 < minutes <= 1440:
        raise Refusal("A step takes between a moment and a day.", where="Minutes")
    if kind == TapKind.SNAG and not note.strip():
        raise Refusal("Say in a word or two what is wrong.", where="Snag")
    now = timezone.now()
    moment = at if at is not None and at <= now + CLOCK_SLIP else now
    facts = {
        "job": job,
        "act_key": act_key,
        "kind": kind,
        "at": moment,
        "person": person,
        "device": device,
        "minutes": minutes,
        "note": note.strip()[:240],
    }
    try:
        with transaction.atomic():
            return Tap.objects.create(token=token, **facts), True
    except IntegrityError:
        return Tap.objects.get(token=token), False


def taps(
    job: Job,
    act_keys: list[str],
    kind: str,
    token: str,
    *,
    minutes: float | None = None,
    planned: Mapping[str, float] | None = None,
    **facts: Any,
) -> tuple[Tap, bool]:
    """Keep one finger's tap on several like acts, all or none; returns the last of them and whether it is new.

    `minutes` is what they took together; it is shared out as the `planned` minutes of each act go (default: evenly).
    """
    if not act_keys:
        raise Refusal("The tap does not say which piece of work.", remedy="Reload the page and tap again.")
    if len(act_keys) == 1:
        return tap(job, act_keys[0], kind, token, minutes=minutes, **facts)
    weights = [(planned or {}).get(key, 1.0) for key in act_keys]
    each = [None if minutes is None else minutes * weight / sum(weights) for weight in weights]
    with transaction.atomic():
        kept = [
            tap(job, key, kind, f"{token[:56]}-{n}", minutes=took, **facts)
            for n, (key, took) in enumerate(zip(act_keys, each, strict=True))
            if token
        ]
        if not kept:
            raise Refusal("The tap has no token.", remedy="Reload the page and tap again.")
        return kept[-1]
