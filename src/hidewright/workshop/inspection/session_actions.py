"""The touch-up session: what is to be touched up later becomes work of one day, on all its pieces together."""

from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from hidewright.dates import short_day
from hidewright.planning.change.replan import redo
from hidewright.planning.problem.kinds import Kind
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.days.actions import refuse_too_far
from hidewright.workshop.days.models import Redo
from hidewright.workshop.days.queries import problem_of
from hidewright.workshop.inspection.models import Snag, SnagEntry
from hidewright.workshop.inspection.snag_queries import to_gather
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes

STEPS = (Kind.SAND, Kind.SPRAY, Kind.CLEAR)
"""What a touch-up takes. Common practice, no source: a piece goes through those of them that are on its route."""


def gather_touch_ups(
    job: Job, day: date, *, person: Person | None = None, device: Device | None = None
) -> list[Redo]:
    """Put what is to be touched up later into one session on a day: the next plan takes it in, not before that day. Can be undone.

    A piece goes through it once, however much is to be touched up on it. Refuses where nothing waits, a day that is past, and pieces that no plan can take yet.
    """
    shop = the_shop()
    if day < timezone.localdate():
        raise Refusal("This day is past.", where="Day", remedy="Choose today or later.")
    waiting = to_gather(job)
    if not waiting:
        raise Refusal(f"No {shop.snag_word} waits to be touched up.", where="Day")
    refuse_too_far(day, waiting[0].piece)
    jobs = {one.piece: one for one in problem_of(job).jobs}
    with transaction.atomic():
        made: dict[str, Redo] = {}
        for row in waiting:
            if row.piece not in jobs:
                continue
            if row.piece not in made:
                had = {operation.kind for operation in jobs[row.piece].operations}
                kinds = tuple(kind for kind in STEPS if kind in had)
                redo(jobs[row.piece], kinds)
                made[row.piece] = Redo.objects.create(
                    job=job, piece=row.piece, kinds=[str(kind) for kind in kinds], not_before=day, why=f"touch up: {row.what}"[:240]
                )  # fmt: skip
            Snag.objects.filter(pk=row.pk).update(touch_up=made[row.piece], version=F("version") + 1)
            text = f"In the touch-up session of {short_day(day)}"
            SnagEntry.objects.create(snag=row, text=text, person=person, device=device)
        if not made:
            raise Refusal(
                "No plan can take these pieces yet.", where="Day", remedy="List them first (Survey)."
            )
        words = f"Gathered {counted(len(waiting), shop.snag_word, shop.snag_words)} into a touch-up session on {short_day(day)}"
        undo_with = {"redos": [row.pk for row in made.values()]}
        record(job, words, undo="snags.gather", undo_with=undo_with, device=device)
        return list(made.values())


@undoes("snags.gather")
def _scatter(data: dict[str, Any]) -> None:
    for row in Snag.objects.filter(touch_up__in=data["redos"]):
        SnagEntry.objects.create(snag=row, text="Out of the touch-up session again")
    Snag.objects.filter(touch_up__in=data["redos"]).update(touch_up=None, version=F("version") + 1)
    Redo.objects.filter(pk__in=data["redos"]).update(withdrawn=timezone.now())
