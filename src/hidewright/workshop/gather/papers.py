"""What papers a job has, and their content out of the rows."""

from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from hidewright.charts.plan import PlanShown

from ..models.jobs import Job
from .days import plan_in_force


@dataclass(frozen=True, slots=True)
class PaperLink:
    """One paper that can be opened: its name, what it is for, where it is; `missing` says why it is not there yet."""

    name: str
    what: str
    url: str = ""
    missing: str = ""


def plan_papers(job: Job, today: date) -> list[PaperLink]:
    """Day sheets, table maps and the spray order of the plan in force."""
    plan = plan_in_force(job)
    if plan is None:
        lacks = "Make a plan first (Days)."
        return [
            PaperLink("Day sheet", "who does what, in order, with the tables", missing=lacks),
            PaperLink("Table maps", "the tables of every day, for the wall", missing=lacks),
        ]
    return [*_day_sheets(job, plan, today), _maps(job)]


def _day_sheets(job: Job, plan: PlanShown, today: date) -> list[PaperLink]:
    links = []
    for day in plan.days:
        name = f"Day sheet, {day:%a} {day.day} {day:%b}{' (today)' if day == today else ''}"
        url = reverse("day_sheet_pdf", args=[job.pk, day.isoformat()])
        links.append(PaperLink(name, "who does what, in order, with the tables", url))
    return links


def _maps(job: Job) -> PaperLink:
    return PaperLink(
        "Table maps", "the tables of every day, for the wall", reverse("table_maps_pdf", args=[job.pk])
    )
