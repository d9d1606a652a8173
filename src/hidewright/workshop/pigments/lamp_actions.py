"""What is done about a job's colour: readings, the target, finding recipes, choosing one."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.colour.light.cie import LIGHTS, light_from_spectrum
from hidewright.colour.light.lamps import read_lamp
from hidewright.colour.reading.formats import read_any as read_any
from hidewright.refusals import Refusal
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments.models import Lamp
from hidewright.workshop.shop.undo import record, undoes


def bring_lamp(name: str, text: str) -> Lamp:
    """Keep a lamp's spectrum, so that recipes can be judged under it; a known name takes the new measurement."""
    name = name.strip()[:60]
    if not name or name in LIGHTS:
        raise Refusal("The lamp needs a name of its own.", where="Name", remedy="Such as: saloon, ceiling.")
    nm, power = read_lamp(text)
    light = light_from_spectrum(name, nm, power)
    with transaction.atomic():
        before = Lamp.objects.filter(name=name).values("nm", "power", "table", "removed").first()
        row = keep.keep_lamp(light, nm, power)
        told = {**before, "removed": before["removed"] and before["removed"].isoformat()} if before else None
        record(None, f"Kept the lamp {name}", undo="colour.lamp", undo_with={"id": row.pk, "before": told})
        return row


@undoes("colour.lamp")
def _take_back_lamp(data: dict[str, Any]) -> None:
    row = Lamp.objects.filter(pk=data["id"])
    if data["before"] is None:
        row.update(removed=timezone.now())
    else:
        row.update(**data["before"])


def remove_lamp(row: Lamp) -> None:
    """Take a lamp off the list; recipes that were judged under it keep it."""
    with transaction.atomic():
        if Lamp.objects.filter(pk=row.pk, removed=None).update(removed=timezone.now()):
            record(
                None,
                f"Took the lamp {row.name} off the list",
                undo="colour.lamp_back",
                undo_with={"id": row.pk},
            )


@undoes("colour.lamp_back")
def _bring_lamp_back(data: dict[str, Any]) -> None:
    Lamp.objects.filter(pk=data["id"]).update(removed=None)
