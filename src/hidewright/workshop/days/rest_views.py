"""What else the job takes: the shop's list, changed in place, and what a job waits for."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_GET, require_POST

from hidewright.planning.problem.milestones import Before
from hidewright.planning.problem.rest import Per, When
from hidewright.workshop.days import queries as days
from hidewright.workshop.days import rest_actions as steps
from hidewright.workshop.days import rest_queries as gather
from hidewright.workshop.days.models import Milestone, OtherWork
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.frame.pages import job_page, went
from hidewright.workshop.pieces.queries import rows as piece_rows
from hidewright.workshop.shop.models import Job


class RestForm(forms.Form):
    """The whole list: minutes of every line."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for item in gather.rest_items():
            self.fields[f"m-{item.key}"] = NumberField(
                label=f"Minutes to {item.name}, {item.per}",
                required=False,
                min_value=0,
                max_value=4800,
                initial=f"{item.minutes:g}",
            )
            if item.per is Per.JOB:
                self.fields[f"e-{item.key}"] = NumberField(
                    label=f"Minutes more a piece to {item.name}",
                    required=False,
                    min_value=0,
                    max_value=480,
                    initial=f"{item.each:g}",
                )
            if item.per is Per.COLOUR:
                self.fields[f"d-{item.key}"] = forms.IntegerField(
                    label=f"Days to wait for others, after: {item.name}",
                    required=False,
                    min_value=0,
                    max_value=90,
                    initial=item.days,
                )

    def minutes(self) -> dict[str, steps.Minutes]:
        """What was filled in, by the key of the line."""
        told = self.cleaned_data
        return {
            name[2:]: (
                float(told[name]),
                float(told.get(f"e-{name[2:]}") or 0),
                int(told.get(f"d-{name[2:]}") or 0),
            )
            for name in self.fields
            if name.startswith("m-") and told[name] is not None
        }


class AddRestForm(forms.Form):
    """A line of the shop's own."""

    name = forms.CharField(label="What is done", max_length=40, help_text="Such as: wash the covers.")
    when = forms.ChoiceField(label="When", choices=[(str(w), str(w).capitalize()) for w in When])
    per = forms.ChoiceField(
        label="How often",
        choices=[(str(Per.PIECE), "For every piece"), (str(Per.JOB), "Once a job")],
        help_text="What is done before the first colour is done for each colour; what is done in the morning or in the evening, every day.",
    )
    minutes = NumberField(label="Minutes", min_value=1, max_value=4800)


class MilestoneForm(forms.Form):
    """Something that others do."""

    what = forms.CharField(
        label="What do you wait for", max_length=80, help_text="Such as: the owner approves the sample."
    )
    day = forms.DateField(
        label="Expected on", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    before = forms.ChoiceField(
        label="What waits for it", choices=[(str(b), str(b).capitalize()) for b in Before]
    )
    group = forms.ChoiceField(label="On which pieces", required=False)

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        groups = piece_rows(job).exclude(group="").values_list("group", flat=True)
        choice = self.fields["group"]
        assert isinstance(choice, forms.ChoiceField)
        choice.choices = [("", "all of them"), *((name, name) for name in dict.fromkeys(groups))]


def _shop_page(
    request: HttpRequest, form: RestForm | None = None, add: AddRestForm | None = None
) -> HttpResponse:
    form = form or RestForm(initial={"version": gather.version()})
    rows = gather.changed_rows()
    lines = [
        (
            when,
            [
                (
                    line,
                    form[f"m-{line.item.key}"],
                    form[f"e-{line.item.key}"] if f"e-{line.item.key}" in form.fields else None,
                    form[f"d-{line.item.key}"] if f"d-{line.item.key}" in form.fields else None,
                    rows.get(line.item.key),
                )
                for line in found
            ],
        )
        for when, found in gather.rest_lines(days.learned_names())
    ]
    status = 422 if form.errors or (add is not None and add.errors) else 200
    context = {"form": form, "lines": lines, "add": add or AddRestForm()}
    return render(request, "days/rest.html", context, status=status)


@require_GET
def other_work(request: HttpRequest) -> HttpResponse:
    """What every job takes besides coating."""
    return _shop_page(request)


@require_POST
@once
def set_other_work(request: HttpRequest) -> HttpResponse:
    """Change minutes of the list."""
    form = RestForm(request.POST)
    return submitted(
        form,
        lambda told: steps.set_rest(form.minutes(), told["version"]),
        lambda _: went(request, None, "other_work"),
        lambda: _shop_page(request, form),
    )


@require_POST
@once
def add_other_work(request: HttpRequest) -> HttpResponse:
    """Add a line of the shop's own."""
    form = AddRestForm(request.POST)
    return submitted(
        form,
        lambda told: steps.add_rest(**told),
        lambda _: went(request, None, "other_work"),
        lambda: _shop_page(request, add=form),
        {"name": "name"},
    )


@require_POST
@once
def remove_other_work(request: HttpRequest, row_id: int) -> HttpResponse:
    """Take a line off the list, or give it its starting value back."""
    row = get_object_or_404(OtherWork, pk=row_id, removed=None)
    steps.remove_rest(row)
    return went(request, None, "other_work")


def _job_page(request: HttpRequest, job: Job, form: MilestoneForm | None = None) -> HttpResponse:
    factors = {name: found.factor for name, found in days.learned_names().items()}
    context = {
        "form": form or MilestoneForm(job=job),
        "milestones": gather.milestones(job),
        "takes": gather.rest_hours(job, factors),
        "items": [
            (item, item.total(gather.pieces_of(job), gather.colours_of(job)) / 60)
            for item in gather.rest_items()
        ],
    }
    return job_page(
        request,
        job,
        "days",
        "days/milestones.html",
        context,
        status=422 if form is not None and form.errors else 200,
    )


@require_GET
def milestones(request: HttpRequest, job_id: int) -> HttpResponse:
    """What a job waits for, and what else it takes."""
    return _job_page(request, get_object_or_404(Job, pk=job_id))


@require_POST
@once
def add_milestone(request: HttpRequest, job_id: int) -> HttpResponse:
    """Let the job wait for something."""
    job = get_object_or_404(Job, pk=job_id)
    form = MilestoneForm(request.POST, job=job)
    return submitted(
        form,
        lambda told: steps.add_milestone(job, **told),
        lambda _: went(request, job, "milestones", job.pk),
        lambda: _job_page(request, job, form),
        {"what": "what", "group": "group"},
    )


@require_POST
@once
def settle_milestone(request: HttpRequest, job_id: int, row_id: int) -> HttpResponse:
    """It is there, or it is not waited for any more."""
    row = get_object_or_404(Milestone, pk=row_id, job_id=job_id, lifted=None)
    if "away" in request.POST:
        steps.lift_milestone(row)
    elif row.came is None:
        steps.milestone_came(row)
    else:
        return redirect("milestones", job_id=job_id)
    return went(request, row.job, "milestones", job_id)


urlpatterns = [
    path("other-work/", other_work, name="other_work"),
    path("other-work/set/", set_other_work, name="set_other_work"),
    path("other-work/add/", add_other_work, name="add_other_work"),
    path("other-work/<int:row_id>/remove/", remove_other_work, name="remove_other_work"),
    path("jobs/<int:job_id>/milestones/", milestones, name="milestones"),
    path("jobs/<int:job_id>/milestones/add/", add_milestone, name="add_milestone"),
    path("jobs/<int:job_id>/milestones/<int:row_id>/", settle_milestone, name="settle_milestone"),
]
