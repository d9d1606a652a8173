"""Work of days before that nobody tapped: one answer says that all of it was done as planned, and can be undone."""

from datetime import datetime, time, timedelta
from typing import Any
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.days.models import TapKind
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.days.sharing_queries import owed_lines, shared
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def done_as_planned(job: Job, person: Person | None = None, device: Device | None = None) -> int:
    """Tap all that the job owes of days before as done when it was planned to end; returns how many steps. Colour and clear are not drawn for it. Refuses a job that owes nothing."""
    line = next((line for line in owed_lines() if line.job.pk == job.pk), None)
    if line is None:
        raise Refusal("Nothing of the days before is open here.", remedy="Reload the page.")
    one = next(one for one in shared() if one.job.pk == job.pk)
    wanted = set(line.keys)
    zero = datetime.combine(one.first, time(0))
    with transaction.atomic():
        for p in one.plan.placements:
            if p.operation in wanted:
                at = timezone.make_aware(zero + timedelta(minutes=p.end))
                tap(job, p.operation, TapKind.DONE, uuid4().hex, at=at, person=person, device=device)
        words = f"{counted(line.steps, 'step')} of days before {'was' if line.steps == 1 else 'were'} done as planned"
        record(job, words, undo="days.as_planned", undo_with={"job": job.pk, "keys": line.keys})
    return line.steps


@undoes("days.as_planned")
def _not_done(old: dict[str, Any]) -> None:
    job = Job.objects.get(pk=old["job"])
    for key in old["keys"]:
        tap(job, key, TapKind.UNDO, uuid4().hex)
