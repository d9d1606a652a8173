"""The colours of a job: which there are, and which group gets which."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_GET, require_POST

from hidewright.workshop.frame.acts import once, submitted, tried
from hidewright.workshop.frame.pages import job_page, toast_last
from hidewright.workshop.pieces import colour_actions as steps
from hidewright.workshop.pieces import colour_queries as gather
from hidewright.workshop.pieces.queries import rows
from hidewright.workshop.shop.models import Job

NOT_BY_US = "-"
"""The choice for pieces that somebody else coats."""
MIXED = ""
"""The choice that leaves a group as it is."""


class NameForm(forms.Form):
    """What a colour is called."""

    name = forms.CharField(label="Name", max_length=60, help_text="Such as Tan, or Trim.")


def colour_choices(job: Job) -> list[tuple[str, str]]:
    """What pieces can be given: the job's colours by number, or that somebody else coats them."""
    return [*((str(c.number), c.label) for c in gather.job_colours(job)), (NOT_BY_US, "not by us")]


def number_given(text: str) -> int | None:
    """The number of a colour that was chosen; None for “not by us”."""
    return None if text == NOT_BY_US else int(text)


def _groups(job: Job) -> list[dict[str, Any]]:
    """Each group with its pieces and what they get now: one choice, or none where they get several."""
    found: dict[str, list[tuple[int, str]]] = {}
    for pk, group, number, by_us in rows(job).values_list("pk", "group", "colour_number", "by_us"):
        found.setdefault(group, []).append((pk, str(number) if by_us else NOT_BY_US))
    return [
        {
            "name": group or "Without a group",
            "field": f"group_{n}",
            "ids": [pk for pk, _ in members],
            "pieces": len(members),
            "now": members[0][1] if len({now for _, now in members}) == 1 else MIXED,
        }
        for n, (group, members) in enumerate(found.items())
    ]


def _page(request: HttpRequest, job: Job, *, status: int = 200, **sent: Any) -> HttpResponse:
    shares, others = gather.shares(job)
    shown = {
        "shares": shares,
        "others": others,
        "groups": _groups(job),
        "choices": colour_choices(job),
        "name_form": NameForm(),
        **sent,
    }
    return job_page(request, job, "colour", "job_colours/page.html", shown, status=status)


def _went(request: HttpRequest, job: Job) -> HttpResponse:
    toast_last(request, job)
    return redirect("job_colours", job.pk)


@require_GET
def job_colours(request: HttpRequest, job_id: int) -> HttpResponse:
    """The colours of a job, and which group gets which."""
    return _page(request, get_object_or_404(Job, pk=job_id))


@require_POST
@once
def add_colour(request: HttpRequest, job_id: int) -> HttpResponse:
    """Give the job another colour."""
    job = get_object_or_404(Job, pk=job_id)
    form = NameForm(request.POST)
    return submitted(
        form,
        lambda cleaned: steps.add_colour(job, cleaned["name"]),
        lambda _: _went(request, job),
        lambda: _page(request, job, status=422, name_form=form),
        {"Name": "name"},
    )


@require_POST
@once
def rename_colour(request: HttpRequest, job_id: int, number: int) -> HttpResponse:
    """Call a colour something else."""
    job = get_object_or_404(Job, pk=job_id)
    form = NameForm(request.POST)
    return submitted(
        form,
        lambda cleaned: steps.rename_colour(job, number, cleaned["name"]),
        lambda _: _went(request, job),
        lambda: _page(request, job, status=422, renamed=number, rename_form=form),
        {"Name": "name"},
    )


@require_POST
@once
def remove_colour(request: HttpRequest, job_id: int, number: int) -> HttpResponse:
    """Take a colour off the job."""
    job = get_object_or_404(Job, pk=job_id)
    return tried(
        lambda: steps.remove_colour(job, number),
        lambda _: _went(request, job),
        lambda refusal: _page(request, job, status=422, refusal=refusal),
    )


@require_POST
@once
def give_groups(request: HttpRequest, job_id: int) -> HttpResponse:
    """Give every group the colour that was chosen for it; a group whose choice did not change is left alone."""
    job = get_object_or_404(Job, pk=job_id)
    allowed = {key for key, _ in colour_choices(job)}
    wanted: dict[str, list[int]] = {}
    for group in _groups(job):
        choice = request.POST.get(group["field"], MIXED)
        if choice in allowed and choice != group["now"]:
            wanted.setdefault(choice, []).extend(group["ids"])
    return tried(
        lambda: steps.give_colours(job, [(ids, number_given(choice)) for choice, ids in wanted.items()]),
        lambda _: _went(request, job),
        lambda refusal: _page(request, job, status=422, refusal=refusal),
    )


urlpatterns = [
    path("jobs/<int:job_id>/colours/", job_colours, name="job_colours"),
    path("jobs/<int:job_id>/colours/add/", add_colour, name="add_job_colour"),
    path("jobs/<int:job_id>/colours/give/", give_groups, name="give_groups"),
    path("jobs/<int:job_id>/colours/<int:number>/name/", rename_colour, name="rename_job_colour"),
    path("jobs/<int:job_id>/colours/<int:number>/remove/", remove_colour, name="remove_job_colour"),
]
