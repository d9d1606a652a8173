"""A cup's colour: read it, say what an eye sees, see what to add, and what the shop has learned from it."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.colour.reading.repeats import repeats
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.colours import cup_actions as steps_cup_actions
from hidewright.workshop.colours import cup_queries as told_cup_queries
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours.actions import read_any
from hidewright.workshop.colours.eye_forms import STATES, EyeForm
from hidewright.workshop.colours.eye_queries import eye_advice
from hidewright.workshop.colours.forms import TypedColourForm
from hidewright.workshop.colours.likeness_queries import aim_of, made_like
from hidewright.workshop.colours.plane import plane_svg
from hidewright.workshop.frame.acts import NotDone, once, submitted
from hidewright.workshop.frame.forms import UploadForm, VolumeField, refuse
from hidewright.workshop.frame.pages import (
    device_of,
    holder_of,
    job_page,
    number_of,
    toast,
    toast_last,
    whole,
)
from hidewright.workshop.pigments import knowledge as told
from hidewright.workshop.pigments import learning_actions as steps
from hidewright.workshop.pigments.memory import EYE
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.words import by_units


class SightForm(UploadForm):
    """A spectrum of the cup from a file; several rows are averaged."""

    state = forms.ChoiceField(label="It was", choices=STATES)


class LabForm(TypedColourForm):
    """A colour of the cup."""

    state = forms.ChoiceField(label="It was", choices=STATES)


class UnknownForm(forms.Form):
    """A cup of unknown contents."""

    reading = forms.TypedChoiceField(label="Its reading", coerce=int)
    volume = VolumeField(
        label="How much is in it", help_text=by_units("Such as 500 mL.", "Such as 16 fl oz.")
    )

    def __init__(self, *args: Any, readings: list[gather.ReadingValue], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reading"].choices = [(r.id, r.name) for r in readings]  # type: ignore[attr-defined]


def _vessel(job_id: int, vessel_id: int) -> MixVessel:
    return get_object_or_404(MixVessel, pk=vessel_id, job_id=job_id)


def _last_state(vessel: MixVessel) -> str:
    """Wet or dry as at the last look at this cup: whoever steers wet goes on wet."""
    last = (
        CupSight.objects.filter(vessel=vessel, strikes=None)
        .exclude(said__isnull=True, delta__isnull=True)
        .last()
    )
    return last.state if last is not None else "dry"


def advice_shown(advice: Any, measured: Callable[[str, float], str]) -> list[dict[str, Any]]:
    """The ways to go on, with names instead of keys; `measured` says how many g of a lot are measured."""
    return [
        {
            "way": way,
            "pours": [
                (key, told.lot_words(key), grams, measured(key, grams)) for key, grams in way.grams.items()
            ],
            "path": way.path,
            "growth": 100 * way.growth,
            "load": 100 * way.load,
        }
        for way in advice.additions
    ]


def _page(
    request: HttpRequest, job: Job, vessel: MixVessel, *, status: int = 200, **sent: Any
) -> HttpResponse:
    state, refused = None, None
    try:
        state = told_cup_queries.cup_state(job, vessel)
    except Refusal as refusal:
        refused = refusal
    aimed, gone = aim_of(vessel), made_like(vessel)
    holder = holder_of(request)
    eye = eye_advice(vessel, holder.pk if holder else None) if state else None
    off, spread = (eye.off, eye.spread) if eye else (state.delta, state.spread) if state else (None, 0.0)
    context = {
        "like": gone[0] if gone else vessel.like.name if vessel.like else "",
        "of": vessel.colour_number,
        "vessel": vessel,
        "state": state,
        "refused": refused,
        "aimed": aimed,
        "swatches": told_cup_queries.cup_swatches(job, state) if state else [],
        "plane": plane_svg(state, aimed) if state and aimed else "",
        "drift": told_cup_queries.wet_drift(state) if state else None,
        "eye": eye,
        "ways": advice_shown(state.advice, state.measured) if state and state.advice else [],
        "step": told_cup_queries.said_step(vessel),
        "sights": [(row, told.is_struck(row)) for row in told.sights_of(vessel)],
        "off": off,
        "spread": spread,
        "enough": aimed is not None and off is not None and off <= aimed.tolerance,
        "sure": aimed is not None and spread <= aimed.tolerance,
        "contents": [(told.lot_words(lot), grams) for lot, grams in state.pours] if state else [],
        "noise": repeats(aimed.target.reflectance) if aimed else None,
        "milk": told.milk(),
        "eye_form": EyeForm(prefix="eye", vessel=vessel, initial={"state": _last_state(vessel)}),
        "sight_form": SightForm(prefix="sight"),
        "lab_form": LabForm(prefix="lab"),
        **sent,
    }
    return job_page(request, job, "colour", "colour/cup.html", context, status=status)


@require_http_methods(["GET"])
def cup(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """How a cup stands against the target, and what to add."""
    vessel = _vessel(job_id, vessel_id)
    return _page(request, get_object_or_404(Job, pk=job_id), vessel)


def _kept(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    toast_last(request, get_object_or_404(Job, pk=job_id))
    return redirect("cup_colour", job_id=job_id, vessel_id=vessel_id)


@require_POST
@once
def by_eye(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Keep what an eye says."""
    vessel = _vessel(job_id, vessel_id)
    form = EyeForm(request.POST, prefix="eye", vessel=vessel)
    return submitted(
        form,
        lambda told: steps_cup_actions.say_by_eye(
            vessel,
            form.words(),
            state=told["state"],
            against=form.other(),
            person=holder_of(request),
            device=device_of(request),
        ),
        lambda _: _kept(request, job_id, vessel_id),
        lambda: _page(request, get_object_or_404(Job, pk=job_id), vessel, status=422, eye_form=form),
    )


@require_POST
@once
def read_file(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Keep a spectrum; several readings in the file are averaged."""
    vessel = _vessel(job_id, vessel_id)
    form = SightForm(request.POST, request.FILES, prefix="sight")

    def keep(told: dict[str, Any]) -> None:
        found = read_any(form.text())
        mean = found[0].averaged(*found[1:])
        steps_cup_actions.read_cup(
            vessel, mean, state=told["state"], person=holder_of(request), device=device_of(request)
        )

    return submitted(
        form,
        keep,
        lambda _: _kept(request, job_id, vessel_id),
        lambda: _page(request, get_object_or_404(Job, pk=job_id), vessel, status=422, sight_form=form),
    )


@require_POST
@once
def type_lab(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Keep a colour."""
    vessel = _vessel(job_id, vessel_id)
    form = LabForm(request.POST, prefix="lab")
    return submitted(
        form,
        lambda told: steps_cup_actions.read_colour(
            vessel,
            told["lab"],
            light=told["light"],
            observer=told["observer"],
            state=told["state"],
            person=holder_of(request),
            device=device_of(request),
        ),
        lambda _: _kept(request, job_id, vessel_id),
        lambda: _page(request, get_object_or_404(Job, pk=job_id), vessel, status=422, lab_form=form),
    )


@require_POST
@once
def strike(request: HttpRequest, job_id: int, vessel_id: int, sight_id: int) -> HttpResponse:
    """Strike out a reading of a cup."""
    row = get_object_or_404(CupSight, pk=sight_id, vessel=_vessel(job_id, vessel_id), strikes=None)
    try:
        steps_cup_actions.strike_sight(
            row, note=request.POST.get("reason", ""), person=holder_of(request), device=device_of(request)
        )
    except Refusal as refusal:
        job = get_object_or_404(Job, pk=job_id)
        raise NotDone(
            _page, request, job, _vessel(job_id, vessel_id), status=422, wrong=str(refusal)
        ) from refusal
    toast(request, f"Struck out: {row.name}")
    return redirect("cup_colour", job_id=job_id, vessel_id=vessel_id)


def _additions(request: HttpRequest) -> dict[str, float]:
    found: dict[str, float] = {}
    for text in request.POST.getlist("add"):
        lot, _, amount = text.rpartition("|")
        try:
            found[lot] = float(amount)
        except ValueError:
            raise Refusal("What was to be poured cannot be read.", remedy="Reload the page.") from None
    return found


@require_POST
@once
def pour(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Log what was advised as poured."""
    job, vessel = get_object_or_404(Job, pk=job_id), _vessel(job_id, vessel_id)
    try:
        count = steps_cup_actions.pour_addition(
            job,
            vessel,
            _additions(request),
            seen=whole(request.POST.get("seen", ""), -1),
            device=device_of(request),
        )
    except Refusal as refusal:
        raise NotDone(_page, request, job, vessel, status=422, wrong=str(refusal)) from refusal
    toast(
        request,
        f"Logged {counted(count, 'pour')} into {vessel.name}. Stir, let a drawdown dry, and read it.",
    )
    return redirect("cup_colour", job_id=job_id, vessel_id=vessel_id)


@require_http_methods(["GET"])
def unknown(request: HttpRequest, job_id: int) -> HttpResponse:
    """What to add to a cup of unknown contents."""
    job = get_object_or_404(Job, pk=job_id)
    aimed = gather.target(job, number_of(request))
    readings = [r for r in reversed(gather.readings(job)) if aimed is None or r.id != aimed.target.id]
    form = UnknownForm(request.GET or None, readings=readings)
    advice = None
    if form.is_bound and form.is_valid():
        chosen = next(r for r in readings if r.id == form.cleaned_data["reading"])
        try:
            advice = told_cup_queries.unknown_cup(
                job, chosen, form.cleaned_data["volume"], number_of(request)
            )
        except Refusal as refusal:
            refuse(form, refusal)
    context = {
        "form": form,
        "advice": advice,
        "ways": advice_shown(advice, lambda _lot, grams: f"{grams:g} g") if advice else [],
        "step": f"a step of the balance, {the_shop().balance_step:g} g,",
        "readings": readings,
    }
    return job_page(
        request, job, "colour", "colour/unknown.html", context, status=422 if form.errors else 200
    )


@require_POST
@once
def learn_anew(request: HttpRequest) -> HttpResponse:
    """Begin to learn anew: everything, or one lot."""
    lot = request.POST.get("lot", "")[:120]
    steps.learn_anew(lot)
    toast_last(request, None)
    if lot == EYE:
        return redirect("eye_memory")
    row = Pigment.objects.filter(key=told.kind_of(lot)).first() if lot else None
    return redirect("pigment", pigment_id=row.pk) if row else redirect("pigments")


urlpatterns = [
    path("jobs/<int:job_id>/colour/cups/<int:vessel_id>/", cup, name="cup_colour"),
    path("jobs/<int:job_id>/colour/cups/<int:vessel_id>/eye/", by_eye, name="cup_by_eye"),
    path("jobs/<int:job_id>/colour/cups/<int:vessel_id>/file/", read_file, name="cup_reading"),
    path("jobs/<int:job_id>/colour/cups/<int:vessel_id>/typed/", type_lab, name="cup_typed"),
    path("jobs/<int:job_id>/colour/cups/<int:vessel_id>/pour/", pour, name="pour_addition"),
    path(
        "jobs/<int:job_id>/colour/cups/<int:vessel_id>/readings/<int:sight_id>/strike/",
        strike,
        name="strike_sight",
    ),
    path("jobs/<int:job_id>/colour/unknown-cup/", unknown, name="unknown_cup"),
    path("pigments/learn-anew/", learn_anew, name="learn_anew"),
]
