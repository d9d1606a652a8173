"""Taps of the day: what was done is told with one finger, session by session, from the page's queue or as a plain form."""

from collections.abc import Iterator
from datetime import date, datetime

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, reverse
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.views.decorators.http import require_POST

from hidewright.planning.problem.model import piece_of
from hidewright.refusals import Refusal
from hidewright.units import read_volume
from hidewright.workshop.days import queries as days
from hidewright.workshop.days.models import TapKind
from hidewright.workshop.days.progress_actions import taps
from hidewright.workshop.frame.pages import device_of, holder_of, whole
from hidewright.workshop.sessions import actions as steps
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job, Person

POT, FROM = "pot:", "from:"
"""Stand before the name of a pot in the form's fields with what it gave, and out of which vessel."""


@require_POST
def tap_act(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep one tap. Sent by the page's queue (answers JSON) or as a plain form (leads back to the day)."""
    job = get_object_or_404(Job, pk=job_id)
    as_json = "application/json" in request.headers.get("Accept", "")
    try:
        answer = _kept(request, job)
    except Refusal as refusal:
        if as_json:
            return JsonResponse({"error": str(refusal)}, status=422)
        raise
    if as_json:
        return JsonResponse(answer)
    day = request.POST.get("day", "")
    return redirect(reverse("day", args=[job.pk, day]) if _is_day(day) else reverse("days", args=[job.pk]))


def _kept(request: HttpRequest, job: Job) -> dict[str, object]:
    kind, _, only = request.POST.get("only", "").partition(":")
    kind = kind if only else request.POST.get("kind", "")
    keys = [only] if only else _without(request.POST.getlist("act_key"), request.POST.getlist("but"))
    minutes = None if only else _minutes(request.POST.get("minutes", ""))
    token = request.POST.get("token") or request.POST.get("act", "")
    at = _moment(request.POST.get("at", ""))
    person = _person(request.POST.get("person", "")) or holder_of(request)
    planned = _planned_minutes(job) if minutes is not None else None
    if kind == TapKind.SNAG:
        kept, fresh = taps(
            job, keys, kind, token,
            at=at, person=person, device=device_of(request), note=request.POST.get("note", ""),
        )  # fmt: skip
        return {"kind": kept.kind, "fresh": fresh}
    event = steps.tell(
        job, keys, kind, token,
        amounts={} if only else dict(_amounts(request)), sources=dict(_sources(request, job)),
        at=at, person=person, device=device_of(request), minutes=minutes, planned=planned,
    )  # fmt: skip
    return {"kind": event.row.kind, "fresh": event.fresh, "note": event.row.note}


def _without(keys: list[str], pieces: list[str]) -> list[str]:
    """The acts without those on the pieces that were left out."""
    out = set(pieces)
    return [key for key in keys if piece_of(key) not in out]


def _amounts(request: HttpRequest) -> Iterator[tuple[str, float]]:
    """(pot, mL) of what somebody wrote other than the forecast that stood in the field; what cannot be read leaves the forecast."""
    for name, text in request.POST.items():
        if not name.startswith(POT) or not str(text).strip():
            continue
        pot = name.removeprefix(POT)
        if str(text).strip() == request.POST.get(f"forecast:{pot}", ""):
            continue
        try:
            amount = read_volume(str(text), "mL")
        except Refusal:
            continue
        if 0 < amount < 200_000:
            yield pot, amount


def _sources(request: HttpRequest, job: Job) -> Iterator[tuple[str, MixVessel]]:
    """(pot, vessel) of the choices that were sent."""
    for name, text in request.POST.items():
        if name.startswith(FROM):
            found = MixVessel.objects.filter(pk=whole(str(text), 0), job=job).first()
            if found is not None:
                yield name.removeprefix(FROM), found


def _moment(text: str) -> datetime | None:
    try:
        moment = parse_datetime(text)
    except ValueError:
        return None
    if moment is None:
        return None
    return timezone.make_aware(moment) if timezone.is_naive(moment) else moment


def _planned_minutes(job: Job) -> dict[str, float]:
    plan = days.plan_in_force(job)
    return {act.key: (act.end - act.start).total_seconds() / 60 for act in plan.acts} if plan else {}


def _minutes(text: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text)
    except ValueError:
        raise Refusal("The minutes are no number.", where="Minutes") from None


def _person(key: str) -> Person | None:
    return Person.objects.filter(name=key, active=True).first() if key else None


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


urlpatterns = [
    path("jobs/<int:job_id>/days/tap/", tap_act, name="tap_act"),
]
