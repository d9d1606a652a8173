"""Comparisons on a page: the photo of a stick that holds both colours, and what the eye has taught."""

from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.colour.reading.stick import StickDifference, difference_on_stick, marks_found
from hidewright.refusals import Refusal
from hidewright.workshop.colours import cup_actions as steps
from hidewright.workshop.colours.eye_forms import MARKS, MarksForm, StickForm
from hidewright.workshop.colours.eye_queries import near_colour
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import refuse
from hidewright.workshop.frame.pages import device_of, holder_of, job_page, went
from hidewright.workshop.frame.pictures import keep_picture, picture_path
from hidewright.workshop.pigments.memory import EYE, eyes
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shop.models import Job, Person

SIDES = ("against", "sample", "state")
NEAR = 3.0
"""CIELAB distance below which an eye sees more than a phone (a convention of this tool)."""


def _vessel(job_id: int, vessel_id: int) -> MixVessel:
    return get_object_or_404(MixVessel.objects.select_related("job", "like"), pk=vessel_id, job_id=job_id)


@require_http_methods(["GET", "POST"])
@once
def stick(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Bring a photo of one stick that holds the cup's colour and the other; with a `picture`, mark the two colours and see the difference."""
    vessel = _vessel(job_id, vessel_id)
    if request.method == "GET" and "picture" in request.GET:
        return _marks(request, vessel)
    sent = request.method == "POST"
    form = StickForm(request.POST if sent else None, request.FILES if sent else None, vessel=vessel)
    if sent:
        return submitted(
            form,
            lambda cleaned: keep_picture(cleaned["photo"], quality=97).removesuffix(".jpg"),
            lambda picture: _to_marks(vessel, form, picture),
            lambda: _page(request, vessel, form, 422),
        )
    return _page(request, vessel, form)


def _page(request: HttpRequest, vessel: MixVessel, form: StickForm, status: int = 200) -> HttpResponse:
    context = {"vessel": vessel, "form": form, "of": vessel.colour_number}
    return job_page(request, _job(vessel), "colour", "colour/stick.html", context, status=status)


def _job(vessel: MixVessel) -> Job:
    return get_object_or_404(Job, pk=vessel.job_id)


def _to_marks(vessel: MixVessel, form: StickForm, picture: str) -> HttpResponse:
    asked = {"picture": picture, **{side: form.cleaned_data[side] for side in SIDES}}
    where = reverse("stick_photo", args=[vessel.job_id, vessel.pk])
    return redirect(f"{where}?{urlencode({**asked, **_found(picture)})}")


def _found(picture: str) -> dict[str, str]:
    """The two marks in per cent where they are found by themselves."""
    try:
        marks = marks_found(picture_path(f"{picture}.jpg").read_bytes())
    except Refusal:
        return {}
    places = [value for mark in marks for value in (mark.x, mark.y)]
    return {name: f"{100 * value:.1f}" for name, value in zip(MARKS, places, strict=True)}


def _marks(
    request: HttpRequest, vessel: MixVessel, form: MarksForm | None = None, status: int = 200
) -> HttpResponse:
    """The picture with its marks, and the difference that they show."""
    sent = request.POST if request.method == "POST" else request.GET
    form = form or MarksForm(sent, vessel=vessel)
    marked, seen = all(sent.get(name) for name in MARKS), None
    picture = sent.get("picture", "")
    _picture(picture)
    if form.is_valid() and marked:
        try:
            seen = _seen(vessel, form)
        except Refusal as refusal:
            refuse(form, refusal)
    turned = {name: sent.get(other, "") for name, other in zip(MARKS, (*MARKS[2:], *MARKS[:2]), strict=True)}
    kept = {"picture": picture, **{side: sent.get(side, "") for side in SIDES}}
    context = {
        "vessel": vessel,
        "form": form,
        "kept": kept,
        "picture": picture,
        "seen": _shown(seen) if seen else [],
        "doubts": seen.doubts if seen else (),
        "near": seen is not None and float((seen.delta**2).sum()) < NEAR**2,
        "marked": marked,
        "against": form.other().words if form.is_valid() else "the other",
        "turned": urlencode({**kept, **turned}),
        "of": vessel.colour_number,
    }
    return job_page(request, _job(vessel), "colour", "colour/stick_marks.html", context, status=status)


def _picture(name: str) -> bytes:
    try:
        return picture_path(f"{name}.jpg").read_bytes()
    except Refusal as refusal:
        raise Http404 from refusal


@require_POST
@once
def keep_stick(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Keep the difference between the two marks."""
    vessel = _vessel(job_id, vessel_id)
    form = MarksForm(request.POST, vessel=vessel)
    return submitted(
        form,
        lambda cleaned: steps.keep_stick(
            vessel,
            _seen(vessel, form),
            state=cleaned["state"],
            against=form.other(),
            person=holder_of(request),
            device=device_of(request),
        ),
        lambda _: went(request, _job(vessel), "cup_colour", job_id=job_id, vessel_id=vessel_id),
        lambda: _marks(request, vessel, form, 422),
    )


def _seen(vessel: MixVessel, form: MarksForm) -> StickDifference:
    first, second = form.marks()
    near = near_colour(vessel, form.other().beside)
    return difference_on_stick(_picture(form.cleaned_data["picture"]), first, second, near)


def _shown(seen: StickDifference) -> list[tuple[str, str, str]]:
    """Each axis: its words, the difference and its sd."""
    words = (("darker", "lighter"), ("greener", "redder"), ("bluer", "yellower"))
    return [
        (pair[int(value > 0)], f"{abs(value):.1f}", f"{sd:.1f}")
        for pair, value, sd in zip(words, seen.delta, seen.sd, strict=True)
    ]


@require_http_methods(["GET"])
def eye_memory(request: HttpRequest) -> HttpResponse:
    """What stays from job to job of what was seen: the bottles and every person's eye."""
    names = dict(Person.objects.values_list("pk", "name"))
    rows = [(names.get(each.person or 0, "Nobody named"), each) for each in eyes()]
    bottles = [
        (row, [(key, *rest) for key, *rest in row.learned["lots"]])
        for row in Pigment.objects.filter(active=True)
        if row.learned and row.learned.get("lots")
    ]
    shown: dict[str, Any] = {"eyes": rows, "bottles": bottles, "eye_key": EYE}
    return render(request, "colour/eye_memory.html", shown)


urlpatterns = [
    path("jobs/<int:job_id>/colour/cups/<int:vessel_id>/stick/", stick, name="stick_photo"),
    path("jobs/<int:job_id>/colour/cups/<int:vessel_id>/stick/keep/", keep_stick, name="keep_stick"),
    path("eye/", eye_memory, name="eye_memory"),
]
