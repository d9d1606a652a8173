"""Opening, editing and putting away jobs."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.undo import record, undoes


def _check_days(starts: date, promised: date | None) -> None:
    if promised is not None and promised < starts:
        raise Refusal(
            "The promised day is before the first working day.",
            where="Promised",
            remedy="Choose a later day, or leave it empty.",
        )


def open_job(
    name: str,
    *,
    starts: date,
    promised: date | None = None,
    kind: str = "",
    client: str = "",
    registration: str = "",
    notes: str = "",
    rank: int | None = None,
    is_demo: bool = False,
) -> Job:
    """Open a job; refuses an empty name or a promised day before the start."""
    if not name.strip():
        raise Refusal("The job needs a name.", where="Name", remedy="Write what you call this interior.")
    _check_days(starts, promised)
    with transaction.atomic():
        job = Job.objects.create(
            name=name.strip(),
            kind=kind,
            client=client,
            registration=registration,
            notes=notes,
            starts=starts,
            promised=promised,
            rank=rank,
            is_demo=is_demo,
        )
        record(job, f"Opened the job {job.name}")
        return job


def edit_job(
    job: Job,
    *,
    name: str,
    starts: date,
    promised: date | None,
    kind: str,
    client: str,
    notes: str,
    registration: str = "",
    rank: int | None = None,
) -> None:
    """Change a job's facts; can be undone."""
    if not name.strip():
        raise Refusal("The job needs a name.", where="Name", remedy="Write what you call this interior.")
    _check_days(starts, promised)
    with transaction.atomic():
        before = {
            "job": job.pk,
            "name": job.name,
            "kind": job.kind,
            "client": job.client,
            "registration": job.registration,
            "notes": job.notes,
            "starts": job.starts.isoformat(),
            "promised": job.promised.isoformat() if job.promised else None,
            "rank": job.rank,
        }
        Job.objects.filter(pk=job.pk).update(
            name=name.strip(),
            starts=starts,
            promised=promised,
            kind=kind,
            client=client,
            notes=notes,
            registration=registration,
            rank=rank,
        )
        record(job, "Changed the job's facts", undo="jobs.facts", undo_with=before)


@undoes("jobs.facts")
def _restore_facts(before: dict[str, Any]) -> None:
    facts = {key: value for key, value in before.items() if key != "job"}
    Job.objects.filter(pk=before["job"]).update(**facts)


def put_away(job: Job) -> None:
    """Take a job off the list of open jobs; nothing is erased."""
    with transaction.atomic():
        if Job.objects.filter(pk=job.pk, put_away=None).update(put_away=timezone.now()):
            record(job, f"Put away {job.name}", undo="jobs.bring_back", undo_with={"job": job.pk})


@undoes("jobs.bring_back")
def _bring_back(before: dict[str, Any]) -> None:
    Job.objects.filter(pk=before["job"]).update(put_away=None)
