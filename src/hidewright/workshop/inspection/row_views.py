"""Rows of their own in the inspection, and colours against what was agreed."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path
from django.views.decorators.http import require_POST

from hidewright.refusals import Refusal
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, went
from hidewright.workshop.inspection import actions as steps
from hidewright.workshop.inspection import row_actions
from hidewright.workshop.inspection.colour_queries import compared
from hidewright.workshop.inspection.models import HiddenPart
from hidewright.workshop.inspection.row_forms import ColourForm, HiddenForm
from hidewright.workshop.inspection.views import inspection_page
from hidewright.workshop.shop.models import Job


@require_POST
@once
def add_hidden(request: HttpRequest, job_id: int) -> HttpResponse:
    """List a part that shows in another position only."""
    job = get_object_or_404(Job, pk=job_id)
    form = HiddenForm(request.POST, prefix="hidden")
    return submitted(
        form,
        lambda cleaned: row_actions.add_hidden(job, **cleaned),
        lambda _: went(request, job, "inspection", job_id=job.pk),
        lambda: inspection_page(request, job, status=422, hidden_form=form),
        {"Piece": "piece", "Part": "part"},
    )


@require_POST
@once
def remove_hidden(request: HttpRequest, job_id: int, row_id: int) -> HttpResponse:
    """Take such a row away."""
    row = get_object_or_404(HiddenPart, pk=row_id, job_id=job_id, removed=None)
    row_actions.remove_hidden(row)
    return went(request, row.job, "inspection", job_id=job_id)


@require_POST
@once
def check_colour(request: HttpRequest, job_id: int) -> HttpResponse:
    """Hold a piece's colour against what was agreed."""
    job = get_object_or_404(Job, pk=job_id)
    form = ColourForm(job, request.POST)

    def note(cleaned: dict[str, Any]) -> None:
        found = compared(
            job, cleaned["piece"], cleaned["way"], reading=cleaned["reading"], grade=cleaned["grade"]
        )
        result = cleaned["result"] or {True: "good", False: "again", None: ""}[found.within]
        if not result:
            raise Refusal("Say whether it is good or to be done again.", where="Result")
        steps.note_checks(
            job,
            [cleaned["piece"]],
            found.kind,
            value=found.value,
            result=result,
            note=cleaned["note"],
            way=cleaned["way"],
            version=found.version,
            person=holder_of(request),
            device=device_of(request),
        )

    return submitted(
        form,
        note,
        lambda _: went(request, job, "inspection", job_id=job.pk),
        lambda: inspection_page(request, job, status=422, colour_form=form),
        {
            "Piece": "piece",
            "Way": "way",
            "Reading": "reading",
            "Grade": "grade",
            "Result": "result",
            "Found": "grade",
        },
    )


urlpatterns = [
    path("jobs/<int:job_id>/inspection/parts/", add_hidden, name="add_hidden_part"),
    path("jobs/<int:job_id>/inspection/parts/<int:row_id>/remove/", remove_hidden, name="remove_hidden_part"),
    path("jobs/<int:job_id>/inspection/colour/", check_colour, name="check_colour"),
]
