"""The page Air and damp: dew point, drying, and the air that solvents want. It compares and warns; it clears nothing."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path
from django.views.decorators.http import require_GET, require_POST

from hidewright.workshop.days import air_queries as gather
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import NumberField, VolumeField
from hidewright.workshop.frame.pages import device_of, job_page, went
from hidewright.workshop.room import air_actions as steps
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


class AirForm(forms.Form):
    """The air as read."""

    celsius = NumberField(label="Air")
    humidity = NumberField(label="Relative humidity, %")
    surface = NumberField(
        label="The part", required=False, help_text="By a surface thermometer. Empty: as warm as the air."
    )
    speed = NumberField(label="Air over the work, m/s", required=False, help_text="0 in a still room.")

    def __init__(self, *args: Any, us: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.us = us
        for name in ("celsius", "surface"):
            self.fields[name].label = f"{self.fields[name].label}, {'°F' if us else '°C'}"

    def degrees(self, name: str) -> float | None:
        """In °C."""
        value = self.cleaned_data[name]
        return (value - 32) / 1.8 if self.us and value is not None else value


class RoomForm(forms.Form):
    """The room and its fan."""

    room = NumberField(label="The room", required=False)
    fresh = NumberField(
        label="Fresh air", required=False, help_text="As measured, or from the fan’s plate less its ducts."
    )
    mixing = NumberField(
        label="Mixing factor K", help_text="3 where the air sweeps past the work, 10 in a corner."
    )

    def __init__(self, *args: Any, us: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.us = us
        self.fields["room"].label = f"The room, {'ft³' if us else 'm³'}"
        self.fields["fresh"].label = f"Fresh air, {'cfm' if us else 'm³/h'}"

    def metric(self, name: str, factor: float) -> float | None:
        """In m³ or m³/h; `factor` of the US unit."""
        value = self.cleaned_data[name]
        return value * factor if self.us and value is not None else value


class RateForm(forms.Form):
    """How much solvent an hour."""

    hourly = VolumeField(label="Solvent used in an hour", required=False)


def _page(
    request: HttpRequest, job: Job, *, form: AirForm | None = None, room: RoomForm | None = None
) -> HttpResponse:
    us = the_shop().units == "us"
    now, setup = gather.air_now(job), gather.setup()
    rate = RateForm(request.GET) if request.GET else RateForm()
    hourly = rate.cleaned_data["hourly"] if request.GET and rate.is_valid() else None
    lines = gather.solvents(job, hourly)
    leaves = gather.emissions(job)
    shown = {
        "now": now,
        "damp_words": now.damp.told(lambda kelvins: gather.kelvins_shown(kelvins, "us" if us else "metric")),
        "dry": gather.drying_now(now.air),
        "lines": lines,
        "rate": rate,
        "setup": setup,
        "form": form or AirForm(us=us, initial=_initial(now, us)),
        "room_form": room or RoomForm(us=us, initial=_room_initial(setup, us)),
        "emissions": leaves,
        "grams": sum(e.grams or 0.0 for e in leaves),
        "cautions": gather.cautions(lines),
        "us": us,
    }
    wrong = (form and form.errors) or (room and room.errors) or rate.errors
    return job_page(request, job, "days", "air/page.html", shown, status=422 if wrong else 200)


def _initial(now: gather.Now, us: bool) -> dict[str, str]:
    def shown(celsius: float) -> str:
        return f"{celsius * 1.8 + 32 if us else celsius:.4g}"

    found = {
        "celsius": shown(now.air.celsius),
        "humidity": f"{100 * now.air.humidity:.4g}",
        "speed": f"{now.air.speed:g}",
    }
    if now.reading is not None and now.reading.surface is not None:
        found["surface"] = shown(now.reading.surface)
    return found


def _room_initial(setup: Any, us: bool) -> dict[str, str]:
    found = {"mixing": f"{setup.mixing:g}"}
    for name, factor in (("room", gather.CUBIC_FOOT), ("fresh", gather.CFM)):
        value = getattr(setup, name)
        if value is not None:
            found[name] = f"{value / factor if us else value:.5g}"
    return found


@require_GET
def air(request: HttpRequest, job_id: int) -> HttpResponse:
    """Air and damp of a job today."""
    return _page(request, get_object_or_404(Job, pk=job_id))


@require_POST
@once
def note_air(request: HttpRequest, job_id: int) -> HttpResponse:
    """Note the air as read."""
    job = get_object_or_404(Job, pk=job_id)
    form = AirForm(request.POST, us=the_shop().units == "us")
    return submitted(
        form,
        lambda told: steps.note_air(
            job,
            form.degrees("celsius") or 0.0,
            told["humidity"] / 100,
            surface=form.degrees("surface"),
            speed=told["speed"] or 0.0,
            device=device_of(request),
        ),
        lambda _: went(request, job, "air", job.pk),
        lambda: _page(request, job, form=form),
        {"temperature": "celsius", "humidity": "humidity", "speed": "speed"},
    )


@require_POST
@once
def set_room(request: HttpRequest, job_id: int) -> HttpResponse:
    """Set the room and its fan."""
    job = get_object_or_404(Job, pk=job_id)
    form = RoomForm(request.POST, us=the_shop().units == "us")
    return submitted(
        form,
        lambda told: steps.set_room(
            form.metric("room", gather.CUBIC_FOOT),
            form.metric("fresh", gather.CFM),
            told["mixing"],
        ),
        lambda _: went(request, None, "air", job.pk),
        lambda: _page(request, job, room=form),
        {"room": "room", "fresh": "fresh", "mixing": "mixing"},
    )


urlpatterns = [
    path("jobs/<int:job_id>/air/", air, name="air"),
    path("jobs/<int:job_id>/air/read/", note_air, name="note_air"),
    path("jobs/<int:job_id>/air/room/", set_room, name="set_air_room"),
]
