"""The shop's calendar: weeks across jobs, all open jobs planned anew, and whether there is room for another."""

from datetime import date
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.refusals import Refusal
from hidewright.workshop.days.forms import AllForm, RoomForm
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.sharing_queries import clash_lines, owed_lines
from hidewright.workshop.days.weeks_queries import answer_of, job_lines, jobs_to_copy
from hidewright.workshop.days.weeks_queries import weeks as weeks_of
from hidewright.workshop.days.whole_actions import ALL_RUN, ROOM_RUN, withdraw_plans
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import toast, toast_last, whole
from hidewright.workshop.shop.models import Run
from hidewright.workshop.shop.runs import start_run

SECONDS_FOR_ROOM = 20
"""How long a copy of a job is fitted into the room that is left."""


@require_http_methods(["GET"])
def weeks(request: HttpRequest) -> HttpResponse:
    """The weeks of the shop across jobs."""
    return _page(request)


def _page(
    request: HttpRequest,
    *,
    every: forms.Form | None = None,
    room: forms.Form | None = None,
    status: int = 200,
) -> HttpResponse:
    page = whole(request.GET.get("page", ""), 1)
    jobs = jobs_to_copy()
    all_run, room_run = (Run.objects.filter(job=None, kind=kind).first() for kind in (ALL_RUN, ROOM_RUN))
    result = all_run.result if all_run and all_run.result else {}
    context: dict[str, Any] = {
        "jobs": job_lines(),
        "clashes": clash_lines(),
        "owed": owed_lines(),
        "run": all_run,
        "left_out": result.get("left_out", []),
        "bound": date.fromisoformat(result["bound"]) if result else None,
        "droppable": _droppable(all_run),
        "room_run": room_run,
        "answer": answer_of(room_run),
        "form": every or AllForm(prefix="all"),
        "room": room
        or RoomForm(
            jobs=jobs,
            prefix="room",
            initial={"start": timezone.localdate(), "job": jobs[0][0] if jobs else None},
        ),
        "can_copy": bool(jobs),
    }
    try:
        context["weeks"], pages = weeks_of(page)
        context["before"] = page - 1 if 1 < page <= pages else 0
        context["after"] = page + 1 if page < pages else 0
    except Refusal as refusal:
        context["wrong"] = str(refusal)
    return render(request, "days/weeks.html", context, status=status)


def _droppable(run: Run | None) -> bool:
    """Whether the plans of the last planning of all jobs are in force still."""
    return run is not None and not run.live and Plan.objects.filter(run=run, withdrawn=None).exists()


@require_POST
@once
def plan_all(request: HttpRequest) -> HttpResponse:
    """Start planning all open jobs anew, by rank."""
    form = AllForm(request.POST, prefix="all")

    def done(_: Run) -> HttpResponse:
        toast(request, "Planning all open jobs. You can go on working; the plans appear here.")
        return redirect("weeks")

    return submitted(
        form,
        lambda cleaned: start_run(None, ALL_RUN, cleaned),
        done,
        lambda: _page(request, every=form, status=422),
    )


@require_POST
@once
def drop_all(request: HttpRequest, run_id: int) -> HttpResponse:
    """Go back to the plans before those that one run made for all jobs."""
    if withdraw_plans(get_object_or_404(Run, pk=run_id, kind=ALL_RUN)):
        toast_last(request, None)
    return redirect("weeks")


@require_POST
@once
def find_room(request: HttpRequest) -> HttpResponse:
    """Ask from when another interior like a job could be taken, and what day could be promised."""
    form = RoomForm(request.POST, jobs=jobs_to_copy(), prefix="room")

    def ask(cleaned: dict[str, Any]) -> Run:
        asked = {"job": cleaned["job"], "start": cleaned["start"].isoformat(), "seconds": SECONDS_FOR_ROOM}
        return start_run(None, ROOM_RUN, asked)

    return submitted(
        form,
        ask,
        lambda _: redirect(f"{reverse('weeks')}#room"),
        lambda: _page(request, room=form, status=422),
    )


urlpatterns = [
    path("weeks/", weeks, name="weeks"),
    path("weeks/plan/", plan_all, name="plan_all"),
    path("weeks/plan/<int:run_id>/drop/", drop_all, name="drop_all_plans"),
    path("weeks/room/", find_room, name="find_room"),
]
