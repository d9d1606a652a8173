"""Air and damp: note a reading, set the room and its fan."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, judge_damp
from hidewright.workshop.room.models import AirReading, AirSetup
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes

SETUP = ("room", "fresh", "mixing")


def note_air(
    job: Job,
    celsius: float,
    humidity: float,
    *,
    surface: float | None = None,
    speed: float = 0.0,
    device: Device | None = None,
) -> AirReading:
    """Note the air of the room as it was read; refuses what cannot be."""
    Air(celsius, humidity, speed)
    judge_damp(surface if surface is not None else celsius, celsius, humidity)
    with transaction.atomic():
        row = AirReading.objects.create(
            job=job, celsius=celsius, humidity=humidity, surface=surface, speed=speed, device=device
        )
        record(job, f"Read the air: {row}", undo="air.strike", undo_with={"reading": row.pk}, device=device)
    return row


@undoes("air.strike")
def _strike(old: dict[str, Any]) -> None:
    AirReading.objects.filter(pk=old["reading"], struck=None).update(struck=timezone.now())


def set_room(room: float | None, fresh: float | None, mixing: float) -> None:
    """Set the room's volume (m³), its fresh air (m³/h) and the mixing factor; refuses what cannot be."""
    if room is not None and not 1 <= room <= 1e6:
        raise Refusal(
            "A room holds from 1 m³ to a million.", where="room", remedy="Length times width times height."
        )
    if fresh is not None and not 0 <= fresh <= 1e7:
        raise Refusal("A fan moves nothing less than nothing.", where="fresh")
    if not 1 <= mixing <= 10:
        raise Refusal("The mixing factor lies from 1 to 10.", where="mixing", remedy="3 is good, 10 is poor.")
    with transaction.atomic():
        old = AirSetup.objects.filter(pk=1).values(*SETUP).first() or {
            "room": None,
            "fresh": None,
            "mixing": 5.0,
        }
        AirSetup.objects.update_or_create(pk=1, defaults={"room": room, "fresh": fresh, "mixing": mixing})
        record(None, "Set the room and its fan", undo="air.room", undo_with=dict(old))


@undoes("air.room")
def _room_back(old: dict[str, Any]) -> None:
    AirSetup.objects.update_or_create(pk=1, defaults=old)
