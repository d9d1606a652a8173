"""The list of jobs, a job's facts, and undo."""

from datetime import date

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.workshop.account.queries import open_claims
from hidewright.workshop.bench.jar_queries import due_jars
from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.forms import acted, made
from hidewright.workshop.frame.pages import back_to, job_page, paged, toast, toast_last
from hidewright.workshop.front import job_actions as steps
from hidewright.workshop.front.header import job_header
from hidewright.workshop.front.interior_queries import in_words, interior
from hidewright.workshop.front.summary_queries import SHOWN, job_list, open_jobs
from hidewright.workshop.front.way import way
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


class JobForm(forms.Form):
    """A job's facts."""

    name = forms.CharField(label="What do you call this job?", max_length=120)
    kind = forms.CharField(
        label="What is it?", max_length=60, required=False, help_text="Rail car, aircraft cabin, yacht …"
    )
    client = forms.CharField(label="For whom?", max_length=120, required=False)
    registration = forms.CharField(
        label="Registration", max_length=40, required=False, help_text="Tail, hull, road or fleet number."
    )
    starts = forms.DateField(
        label="First working day", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    promised = forms.DateField(
        label="Must leave on",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text="The day you promised. May stay empty.",
    )
    rank = forms.IntegerField(
        label="Rank",
        required=False,
        min_value=1,
        max_value=999,
        help_text="1 goes first when all open jobs are planned again. Empty: after those, by the promised day.",
    )
    notes = forms.CharField(label="Notes", required=False, widget=forms.Textarea(attrs={"rows": 3}))


FIELDS = {"Name": "name", "Promised": "promised"}
"""Where a refusal of the step stands on the form."""


@require_http_methods(["GET"])
def jobs(request: HttpRequest) -> HttpResponse:
    """Every open job with its three answers; those put away below."""
    page, due = paged(request, open_jobs(), SHOWN), due_jars()
    shown = {"found": job_list(list(page)), "page": page, "due": due, "due_first": due[:SHOWN]}
    return render(request, "jobs/list.html", {**shown, "claims": open_claims()})


@require_http_methods(["GET", "POST"])
@once
def new_job(request: HttpRequest) -> HttpResponse:
    """Open a job."""
    form = JobForm(request.POST or None, initial={"starts": date.today()})
    job = made(form, lambda told: steps.open_job(**told), FIELDS) if request.method == "POST" else None
    if job is not None:
        return redirect("job", job_id=job.pk)
    return render(request, "jobs/new.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET"])
def job(request: HttpRequest, job_id: int) -> HttpResponse:
    """A job's first page: the way through it, its facts and what was done lately."""
    found = get_object_or_404(Job, pk=job_id)
    header = job_header(found)
    groups = interior(found)
    shown = {
        "acts": list(found.acts.all()[:30]),
        "way": way(found, header, the_shop().units),
        "interior": groups,
        "interior_words": in_words(one for group in groups for one in group.pieces),
    }
    return job_page(request, found, "job", "jobs/job.html", shown)


@require_http_methods(["GET", "POST"])
@once
def edit_job(request: HttpRequest, job_id: int) -> HttpResponse:
    """Change a job's facts."""
    found = get_object_or_404(Job, pk=job_id)
    initial = {field: getattr(found, field) for field in JobForm.base_fields}
    form = JobForm(request.POST or None, initial=initial)
    if request.method == "POST" and acted(form, lambda told: steps.edit_job(found, **told), FIELDS):
        toast_last(request, found)
        return redirect("job", job_id=found.pk)
    return job_page(
        request, found, "job", "jobs/edit.html", {"form": form}, status=422 if form.errors else 200
    )


@require_POST
@once
def put_away(request: HttpRequest, job_id: int) -> HttpResponse:
    """Put a job away; nothing is erased."""
    found = get_object_or_404(Job, pk=job_id)
    steps.put_away(found)
    toast_last(request, found)
    return redirect("jobs")


@require_POST
@once
def undo(request: HttpRequest, act_id: int) -> HttpResponse:
    """Undo one act and go back to where it was offered."""
    act = acts.undo(act_id)
    toast(request, f"Undone: {act.text}")
    return back_to(request)


urlpatterns = [
    path("", jobs, name="jobs"),
    path("jobs/new/", new_job, name="new_job"),
    path("jobs/<int:job_id>/", job, name="job"),
    path("jobs/<int:job_id>/edit/", edit_job, name="edit_job"),
    path("jobs/<int:job_id>/put-away/", put_away, name="put_away"),
    path("undo/<int:act_id>/", undo, name="undo"),
]
