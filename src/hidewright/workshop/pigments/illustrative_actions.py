"""Starting with the generic pigments, where a shop has no drawdowns yet."""

from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from hidewright.colour.pigments.generic import Generic, generic_set
from hidewright.refusals import Refusal
from hidewright.workshop.pigments.saving import numbers
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop.undo import record, undoes


def waiting() -> tuple[Generic, ...]:
    """Those of the set that the shop could still take: K and S of none of them are known here."""
    known = set(Pigment.objects.filter(k__isnull=False).values_list("key", flat=True))
    return tuple(one for one in generic_set() if one.pigment.key not in known)


def load_illustrative() -> int:
    """Take the generic pigments onto the list; returns how many.

    A pigment of the same key that is listed without K and S keeps its facts and gets them; one whose K and S are known is left alone.
    """
    with transaction.atomic():
        wanted = waiting()
        if not wanted:
            raise Refusal(
                "K and S of every pigment of the set are known here already.",
                remedy="Nothing needs to be done.",
            )
        keys = [one.pigment.key for one in wanted]
        listed = set(Pigment.objects.filter(key__in=keys, active=True).values_list("key", flat=True))
        for one in wanted:
            _keep(one, facts=one.pigment.key not in listed)
        record(
            None,
            f"Took {len(wanted)} generic pigment{'s' * (len(wanted) > 1)} onto the list",
            undo="pigments.illustrative",
            undo_with={"new": [key for key in keys if key not in listed], "filled": sorted(listed)},
        )
    return len(wanted)


def _keep(one: Generic, *, facts: bool) -> None:
    pigment = one.pigment
    told: dict[str, Any] = {
        "k": numbers(pigment.k),
        "s": numbers(pigment.s),
        "provenance": one.words,
        "characterised": timezone.now(),
        "active": True,
    }
    if facts:
        told |= {
            "name": pigment.name,
            "index": pigment.index,
            "density": pigment.density,
            "solids": pigment.solids,
        }
    Pigment.objects.update_or_create(key=pigment.key, defaults=told)


@undoes("pigments.illustrative")
def _give_back(data: dict[str, Any]) -> None:
    """Take them back, but for those whose K and S were found from drawdowns since."""
    still = Pigment.objects.exclude(provenance="")
    cleared = {
        "k": None,
        "s": None,
        "learned": None,
        "provenance": "",
        "characterised": None,
        "version": F("version") + 1,
    }
    still.filter(key__in=data["new"]).update(**cleared, active=False)
    still.filter(key__in=data["filled"]).update(**cleared)
