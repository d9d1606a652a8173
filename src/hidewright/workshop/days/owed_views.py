"""The answer to whether work of days before, which nobody tapped, was done."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_POST

from hidewright.refusals import Refusal
from hidewright.workshop.days.owed_actions import done_as_planned
from hidewright.workshop.frame.acts import once, tried
from hidewright.workshop.frame.pages import back_to, device_of, holder_of, toast, toast_last
from hidewright.workshop.shop.models import Job


@require_POST
@once
def as_planned(request: HttpRequest, job_id: int) -> HttpResponse:
    """Say that all that is open of days before was done as planned."""
    job = get_object_or_404(Job, pk=job_id)

    def done(_: int) -> HttpResponse:
        toast_last(request, job)
        return back_to(request) if request.POST.get("back") else redirect("days", job_id=job.pk)

    def refused(refusal: Refusal) -> HttpResponse:
        toast(request, str(refusal))
        return redirect("days", job_id=job.pk)

    return tried(lambda: done_as_planned(job, holder_of(request), device_of(request)), done, refused)


urlpatterns = [path("jobs/<int:job_id>/days/as-planned/", as_planned, name="done_as_planned")]
