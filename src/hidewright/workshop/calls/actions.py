"""Keeping a first call with its answer, and making a job of it."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.survey.typical import typical_pieces
from hidewright.workshop.calls import queries as gather
from hidewright.workshop.calls.models import Call
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.actions import add
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes


def keep_call(
    who: str,
    counts: Mapping[str, int],
    *,
    material: str = "leather",
    strip: str = "unknown",
    reach: str = "",
    what: str = "",
    device: Device | None = None,
) -> Call:
    """Keep what a caller counted, and what is said to them; refuses a call without a name or a count."""
    if not who.strip():
        raise Refusal("Who calls?", where="Who", remedy="Write a name.")
    kept = {key: count for key, count in counts.items() if count}
    made = gather.ballpark(kept, material, strip)
    with transaction.atomic():
        row = Call.objects.create(
            who=who.strip()[:120],
            reach=reach.strip()[:120],
            what=what.strip()[:120],
            counts=kept,
            material=material,
            strip=strip,
            answer=gather.answer_of(made),
            device=device,
        )
        words = f"Kept the call of {row.who}: {gather.counted_words(kept)}"
        record(None, words, undo="calls.away", undo_with={"call": row.pk}, device=device)
        return row


@undoes("calls.away")
def _away(data: dict[str, Any]) -> None:
    Call.objects.filter(pk=data["call"]).update(withdrawn=timezone.now())


def begin_survey(row: Call, starts: date, device: Device | None = None) -> Job:
    """Open a job from a call, its list begun with typical pieces to measure; refuses a call that is a job already."""
    with transaction.atomic():
        if Call.objects.select_for_update().filter(pk=row.pk, job=None, withdrawn=None).first() is None:
            raise Refusal(
                "This call is a job already.", where=row.who, remedy="Open it from the list of calls."
            )
        pieces = typical_pieces(row.counts, material=row.material, strip=row.strip == "yes")
        job = open_job(row.what or f"Interior of {row.who}", starts=starts, client=row.who, notes=_notes(row))
        add(job, pieces, 1)
        Call.objects.filter(pk=row.pk).update(job=job)
        words = f"Began the survey with {len(pieces)} typical pieces from the call of {row.who}"
        record(job, words, undo="calls.job", undo_with={"call": row.pk, "job": job.pk}, device=device)
        return job


def _notes(row: Call) -> str:
    asked = f"First call: {gather.counted_words(row.counts)}; {row.material}."
    return f"{asked} Reach: {row.reach}." if row.reach else asked


@undoes("calls.job")
def _no_job(data: dict[str, Any]) -> None:
    Call.objects.filter(pk=data["call"]).update(job=None)
    Job.objects.filter(pk=data["job"]).update(put_away=timezone.now())
