"""Papers: what can be opened and printed, and the PDFs themselves."""

from datetime import date

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path, reverse
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods

from hidewright.papers.day_sheet import day_sheet_pdf
from hidewright.papers.from_plan import day_sheet_of, table_maps_of
from hidewright.papers.table_maps import table_maps_pdf
from hidewright.refusals import Refusal

from ..gather import papers as gather
from ..gather.days import done_keys, plan_in_force
from ..models.jobs import Job
from .days import unit_of_shop
from .frame import job_page


@require_http_methods(["GET"])
def papers(request: HttpRequest, job_id: int) -> HttpResponse:
    """Every paper of the job."""
    job = get_object_or_404(Job, pk=job_id)
    groups = [("Days", gather.plan_papers(job, date.today()))]
    return job_page(request, job, "papers", "papers/page.html", {"groups": groups})


@require_http_methods(["GET"])
def day_sheet(request: HttpRequest, job_id: int, day: str) -> HttpResponse:
    """The day sheet of one day as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        raise Http404("no such day") from None
    plan = plan_in_force(job)
    if plan is None:
        raise Refusal("There is no plan yet.", remedy="Make one on the page Days.")
    sheet = day_sheet_of(
        plan,
        wanted,
        job=job.name,
        made_on=date.today(),
        done=done_keys(job),
        unit=unit_of_shop(),
        page_url=request.build_absolute_uri(reverse("day", args=[job.pk, day])),
    )
    return pdf_answer(day_sheet_pdf(sheet), f"{job.name} day sheet {day}")


@require_http_methods(["GET"])
def table_maps(request: HttpRequest, job_id: int) -> HttpResponse:
    """The table maps of the whole plan as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    plan = plan_in_force(job)
    if plan is None:
        raise Refusal("There is no plan yet.", remedy="Make one on the page Days.")
    maps = table_maps_of(
        plan,
        job=job.name,
        made_on=date.today(),
        unit=unit_of_shop(),
        page_url=request.build_absolute_uri(reverse("days", args=[job.pk])),
    )
    return pdf_answer(table_maps_pdf(maps), f"{job.name} table maps")


def pdf_answer(pdf: bytes, name: str) -> HttpResponse:
    """A PDF that the browser shows, and saves under a readable name."""
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="{slugify(name) or "paper"}.pdf"'
    answer.headers["Cache-Control"] = "no-store"
    return answer


urlpatterns = [
    path("jobs/<int:job_id>/papers/", papers, name="papers"),
    path("jobs/<int:job_id>/papers/day-sheet/<str:day>.pdf", day_sheet, name="day_sheet_pdf"),
    path("jobs/<int:job_id>/papers/table-maps.pdf", table_maps, name="table_maps_pdf"),
]
