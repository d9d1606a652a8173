"""The pages of lists: bring one, look at it, mend it, take it."""

from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods

from hidewright.lists.draft import tidied
from hidewright.lists.grid import grid_of_file
from hidewright.refusals import Refusal
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import job_page, toast, went
from hidewright.workshop.lists import actions as steps
from hidewright.workshop.lists import queries as gather
from hidewright.workshop.lists.forms import BringForm, answers_in
from hidewright.workshop.lists.models import BroughtList
from hidewright.workshop.lists.queries import Taker
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

LINES_AT_ONCE = 60
"""How many rows of a list come with its page; the others come, as many at a time, when they are unfolded."""


def _place(kind: str, job_id: int | None) -> tuple[Taker, Job | None]:
    taker = gather.taker_of(kind, of_job=job_id is not None)
    if taker is None:
        raise Http404
    return taker, get_object_or_404(Job, pk=job_id) if job_id is not None else None


def _rendered(
    request: HttpRequest, taker: Taker, job: Job | None, template: str, shown: dict[str, Any], status: int
) -> HttpResponse:
    context = {**shown, "kind": taker.kind, "back": _back(taker, job), "bring": bring_at(taker, job)}
    if job is None:
        return render(request, template, {**context, "frame": "base.html"}, status=status)
    return job_page(request, job, taker.stage, template, {**context, "frame": "job.html"}, status=status)


def _back(taker: Taker, job: Job | None) -> str:
    return reverse(taker.to, args=[job.pk] if job else [])


def bring_at(taker: Taker, job: Job | None) -> str:
    """Where a list of this kind is brought."""
    key = taker.kind.key
    return reverse("bring_job_list", args=[job.pk, key]) if job else reverse("bring_list", args=[key])


@require_http_methods(["GET", "POST"])
@once
def bring_list(request: HttpRequest, kind: str, job_id: int | None = None) -> HttpResponse:
    """Bring a list: a file or a paste. It is shown before anything is taken."""
    taker, job = _place(kind, job_id)
    if request.method == "GET":
        return _rendered(request, taker, job, "lists/bring.html", {"form": BringForm(kind=taker.kind)}, 200)
    form = BringForm(request.POST, request.FILES, kind=taker.kind)
    return submitted(
        form,
        lambda cleaned: steps.bring(job, kind, cleaned["name"], cleaned["grid"]),
        lambda row: redirect(_look_at(row)),
        lambda: _rendered(request, taker, job, "lists/bring.html", {"form": form}, 422),
    )


def look_instead(job: Job | None, kind: str, name: str, data: bytes) -> HttpResponse | None:
    """Lead to the page where a table is looked at and mended, for a file that its own reader refused; None where it is no table."""
    taker = gather.taker_of(kind, of_job=job is not None)
    assert taker is not None
    try:
        grid = tidied(taker.kind, grid_of_file(data))
    except Refusal:
        return None
    if grid.width < 2 or len(grid.rows) < 2:
        return None
    return redirect(_look_at(steps.bring(job, kind, name, grid)))


def _look_at(row: BroughtList) -> str:
    if row.job_id is None:
        return reverse("brought_list", args=[row.pk])
    return reverse("brought_job_list", args=[row.job_id, row.pk])


@require_http_methods(["GET", "POST"])
@once
def brought_list(request: HttpRequest, list_id: int, job_id: int | None = None) -> HttpResponse:
    """Look at a list that was brought: what its columns and words mean, what is wrong; then take it."""
    found = get_object_or_404(BroughtList, pk=list_id, job=job_id)
    taker, job = _place(found.kind, job_id)
    try:
        row = gather.brought(job, list_id)
    except Refusal as refusal:
        form = BringForm(kind=taker.kind)
        return _rendered(request, taker, job, "lists/bring.html", {"form": form, "refusal": refusal}, 422)
    if request.method == "GET":
        return _look(request, taker, job, row)
    units = the_shop().units
    before = gather.answers_of(row)
    answers = answers_in(request.POST, before, gather.draft(row, taker.kind, units))
    fingerprint, how = request.POST.get("print", ""), request.POST.get("take", "")
    if answers != before:
        steps.answer(row, taker, answers, units)
    ready = gather.draft(row, taker.kind, units)
    if not how:
        return redirect(_look_at(row))
    if ready.fingerprint != fingerprint and ready.ready:
        toast(request, "What you changed is read. Look it over, then take it.")
        return redirect(_look_at(row))
    try:
        steps.take(row, taker, how=how, fingerprint=fingerprint, units=units)
    except Refusal as refusal:
        return _look(request, taker, job, row, refusal=refusal)
    return went(request, job, taker.to, *([job.pk] if job else []))


def _look(
    request: HttpRequest, taker: Taker, job: Job | None, row: BroughtList, *, refusal: Refusal | None = None
) -> HttpResponse:
    units, grid = the_shop().units, gather.grid_of(row)
    draft = gather.draft(row, taker.kind, units)
    labels, lines = gather.shown_lines(draft, taker, units)
    parts = Paginator(lines, LINES_AT_ONCE)
    label = {meaning.key: meaning.label for meaning in draft.kind.meanings}
    shown = {
        "row": row,
        "draft": draft,
        "prospect": taker.prospect(job, draft, units) if draft.ready else None,
        "faults": [(fault, label.get(fault.meaning, "")) for fault in draft.faults[: gather.MOST_FAULTS]],
        "more_faults": max(len(draft.faults) - gather.MOST_FAULTS, 0),
        "questions": _questions(draft, taker, label),
        "columns": gather.shown_columns(draft, grid),
        "bands": gather.shown_bands(draft),
        "meanings": gather.meanings_offered(taker.kind),
        "missing": [label[key] for key in draft.missing],
        "labels": labels,
        "lines": lines,
        "parts": list(parts),
        "part": parts.get_page(request.GET.get("part")).number,
        "drawings": taker.drawings(v for line in draft.lines for v in line.values) if taker.drawings else "",
        "things": sum(len(line.values) for line in draft.lines),
        "refusal": refusal,
    }
    return _rendered(request, taker, job, "lists/look.html", shown, 422 if refusal else 200)


def _questions(draft: Any, taker: Taker, label: dict[str, str]) -> list[dict[str, Any]]:
    """Every word that is asked for, with what it can mean and its pictures."""
    shown = []
    for n, question in enumerate(draft.questions):
        meaning = draft.kind.meaning(question.meaning)
        values = list(meaning.choices) or ["yes", "no"]
        pictures = taker.pictures(question.meaning) if taker.pictures else {}
        choices = [(value, pictures.get(value, "")) for value in values]
        shown.append(
            {
                "n": n,
                "question": question,
                "label": label[question.meaning],
                "choices": choices,
                "drawn": bool(pictures),
            }
        )
    return shown


urlpatterns = [
    path("lists/brought/<int:list_id>/", brought_list, name="brought_list"),
    path("lists/<slug:kind>/", bring_list, name="bring_list"),
    path("jobs/<int:job_id>/lists/brought/<int:list_id>/", brought_list, name="brought_job_list"),
    path("jobs/<int:job_id>/lists/<slug:kind>/", bring_list, name="bring_job_list"),
]
