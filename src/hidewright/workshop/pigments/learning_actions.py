"""What is done about a cup's colour: reading it, striking a reading out, learning from it, pouring what was advised."""

from typing import Any

import numpy as np
from django.db import transaction
from django.utils import timezone
from numpy.typing import NDArray

from hidewright.colour.learning.cup import BASE
from hidewright.colour.learning.lots import Prior
from hidewright.workshop.pigments import knowledge as told
from hidewright.workshop.pigments import memory
from hidewright.workshop.pigments.models import Forgetting
from hidewright.workshop.pigments.saving import numbers
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop.models import Run
from hidewright.workshop.shop.runs import RunHandle, runner, start_run
from hidewright.workshop.shop.undo import record, undoes

Array = NDArray[np.float64]


def start_learning() -> Run:
    """Learn from all readings that count, outside the request."""
    return start_run(None, "colour.learn", {})


@runner("colour.learn")
def _learn_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    handle.progress(0.1, "Asking the cups how far bottles stray")
    stray = told.told_straying()
    handle.progress(0.5, "Learning from the cups")
    return {"pigments": learn_now(stray), "stray": {name: getattr(stray, name) for name in told.STRAY}}


def learn_now(stray: Prior | None = None) -> int:
    """Work out what every reading tells of the pigments and keep it; returns how many pigments were told about."""
    sights = told.standing_sights()
    lots = told.current_lots()
    known = memory.known(lots.values(), stray=stray)
    curves = {value.key: value for value in known.pigments()}
    readings: dict[str, int] = {}
    for row in sights:
        for lot in {str(lot) for lot, _ in row.pours} - {BASE}:
            if told.FORGOTTEN not in lot:
                readings[lot] = readings.get(lot, 0) + 1
    kinds = {told.kind_of(lot) for lot in readings}
    with transaction.atomic():
        for pigment in Pigment.objects.all():
            lot = lots.get(pigment.key, pigment.key)
            if pigment.key not in kinds or lot not in curves:
                Pigment.objects.filter(pk=pigment.pk).exclude(learned=None).update(learned=None)
                continue
            mine = [key for key in curves if told.kind_of(key) == pigment.key and told.FORGOTTEN not in key]
            strength, sd = known.strength(lot)
            learned = {
                "k": numbers(curves[lot].k),
                "s": numbers(curves[lot].s),
                "strength": strength,
                "sd": sd,
                "readings": sum(count for key, count in readings.items() if told.kind_of(key) == pigment.key),
                "lot": lot,
                "lots": [
                    [key, *known.strength(key), readings.get(key, 0)]
                    for key in mine
                    if readings.get(key) or key == lot
                ],
            }
            Pigment.objects.filter(pk=pigment.pk).update(learned=learned)
    return len(kinds)


def learn_anew(lot: str = "") -> Forgetting:
    """From now on, what was seen of cups before this no longer counts, for everything, for one lot (by its key), or for the eyes; can be undone."""
    words = f"Began to learn {told.lot_words(lot)} again" if lot else "Began to learn again"
    if lot == memory.EYE:
        words = "Began to learn every eye again"
    with transaction.atomic():
        row = Forgetting.objects.create(lot=lot)
        record(None, words, undo="cups.anew", undo_with={"id": row.pk})
        start_learning()
        return row


@undoes("cups.anew")
def _remember(data: dict[str, Any]) -> None:
    Forgetting.objects.filter(pk=data["id"], withdrawn=None).update(withdrawn=timezone.now())
    start_learning()
