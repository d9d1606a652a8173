"""What the list of jobs says of each job: worked out once, kept, and worked out again when the shop's books have moved on.

How far the books have come is asked for all jobs together, in a handful of questions, however many jobs and pours there are.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Max, Q, QuerySet
from django.utils import timezone

from hidewright.workshop.days.models import Plan, Tap
from hidewright.workshop.days.promise_queries import Promise
from hidewright.workshop.front.header import ColourHeader, JobHeader, job_header
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf.models import MixEntry, MixVessel
from hidewright.workshop.shop.models import Act, Job, JobSummary, Run, RunState

DAYS = ("finish", "promised", "other_day")
"""What of a header is a day."""
SHOWN = 12
"""Open jobs on one page of the list."""


@dataclass(frozen=True, slots=True)
class JobList:
    """Open jobs with their three answers, and those put away last, of `away_in_all`."""

    rows: tuple[tuple[Job, JobHeader], ...]
    away: tuple[Job, ...]
    away_in_all: int


def open_jobs() -> QuerySet[Job]:
    """The open jobs, the newest first."""
    return Job.objects.filter(put_away=None)


def job_list(shown: Sequence[Job], today: date | None = None) -> JobList:
    """These open jobs with their three answers, and those put away last."""
    headers = summaries(shown, today)
    put_away = Job.objects.exclude(put_away=None).order_by("-put_away")
    rows = tuple((job, headers[job.pk]) for job in shown)
    return JobList(rows, tuple(put_away[:SHOWN]), put_away.count())


def summaries(jobs: Sequence[Job], today: date | None = None) -> dict[int, JobHeader]:
    """Key of a job → its three answers as of `today`."""
    today, now = today or date.today(), timezone.now()
    signs = _signs(jobs, today)
    kept = {row.job_id: row for row in JobSummary.objects.filter(job__in=jobs)}
    found = {}
    for job in jobs:
        row = kept.get(job.pk)
        if row is None or row.sign != signs[job.pk] or (row.until is not None and row.until <= now):
            header = job_header(job, today)
            _keep(job, header, signs[job.pk])
            found[job.pk] = header
        else:
            found[job.pk] = _read(row.header)
    return found


def _keep(job: Job, header: JobHeader, sign: str) -> None:
    JobSummary.objects.update_or_create(
        job=job, defaults={"header": _written(header), "sign": sign, "until": _ends(job)}
    )


def _ends(job: Job) -> datetime | None:
    """When to look again though nothing happened: in five minutes, while a crosslinked load stands there whose pot life may end."""
    loads = MixVessel.objects.filter(job=job, put_away=None).exclude(pot_life=None)
    return timezone.now() + timedelta(minutes=5) if loads.exists() else None


def _written(header: JobHeader) -> dict[str, Any]:
    data = asdict(header)
    for facts, names in ((data, DAYS), (data["odds"] or {}, ("likely", "sure"))):
        facts.update({name: facts[name].isoformat() for name in names if facts.get(name)})
    return data


def _read(data: Mapping[str, Any]) -> JobHeader:
    days = {name: date.fromisoformat(data[name]) if data.get(name) else None for name in DAYS}
    colours = tuple(ColourHeader(**each) for each in data["colours"])
    odds = data["odds"]
    if odds is not None:
        dates = {name: date.fromisoformat(odds[name]) for name in ("likely", "sure")}
        odds = Promise(**{**odds, **dates})
    return JobHeader(**{**data, **days, "colours": colours, "odds": odds})


def _signs(jobs: Iterable[Job], today: date) -> dict[int, str]:
    """Key of a job → how far the shop's books have come for it: acts, pours, taps, plans and runs of its own, and what the whole shop did and learned."""
    mine = list(jobs)
    shop = Act.objects.filter(job=None).aggregate(newest=Max("id"), undone=Count("undone"))
    learned = Use.objects.aggregate(newest=Max("id"), struck=Count("struck"))
    acts = _by_job(Act.objects.filter(job__in=mine), newest=Max("id"), undone=Count("undone"))
    pours = _by_job(MixEntry.objects.filter(job__in=mine), newest=Max("id"))
    taps = _by_job(Tap.objects.filter(job__in=mine), newest=Max("id"), kept=Count("id"))
    plans = _by_job(Plan.objects.filter(job__in=mine), newest=Max("id"), gone=Count("withdrawn"))
    over = Q(state__in=(RunState.DONE, RunState.STOPPED))
    runs = _by_job(Run.objects.filter(job__in=mine), ended=Count("id", filter=over))
    whole = [today.isoformat(), *shop.values(), *learned.values()]
    return {
        job.pk: "·".join(
            str(each)
            for each in (*whole, job.promised, *(t.get(job.pk, "") for t in (acts, pours, taps, plans, runs)))
        )[:200]
        for job in mine
    }


def _by_job(rows: Any, **measures: Any) -> dict[int, str]:
    found = rows.order_by().values("job").annotate(**measures)
    return {row["job"]: "-".join(str(row[name]) for name in measures) for row in found}
