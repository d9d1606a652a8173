"""Drying: how long things really took until they were dry, what the shop learned from it, and what the next plan takes."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.planning.problem.pace import DRYING
from hidewright.refusals import Refusal
from hidewright.units import read_duration
from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.forms import NumberField, refuse
from hidewright.workshop.frame.pages import back_to, device_of, holder_of, toast_last
from hidewright.workshop.room import drying_actions as steps
from hidewright.workshop.room import drying_queries as gather
from hidewright.workshop.room.models import DryingSeen
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


class DryForm(forms.Form):
    """One time that somebody saw it dry."""

    what = forms.ChoiceField(label="What dried", choices=[(n, gather.DRYING_WORDS[n]) for n in DRYING])
    after = forms.CharField(
        label="It was dry after",
        max_length=30,
        help_text="Such as 35 min or 14 h: when it first could be worked on, not when you came to it.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    warmth = NumberField(label="Warmth of the room, °C")
    humidity = NumberField(label="Humidity of the room, %", min_value=1, max_value=100)
    job = forms.ModelChoiceField(
        label="On which job", queryset=Job.objects.order_by("-pk"), required=False, empty_label="none"
    )
    piece = forms.CharField(label="On which piece", max_length=40, required=False)
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, *args: Any, units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units = units
        self.fields["warmth"].label = f"Warmth of the room, {degrees(units)}"

    def clean_after(self) -> float:
        """Minutes."""
        try:
            return read_duration(self.cleaned_data["after"], "min") / 60
        except Refusal as refusal:
            raise forms.ValidationError(f"{refusal.what} {refusal.remedy}") from refusal

    def told(self) -> dict[str, Any]:
        """What was filled in, as the step takes it."""
        told = self.cleaned_data
        return {
            "what": told["what"],
            "minutes": told["after"],
            "celsius": celsius_of(told["warmth"], self.units),
            "humidity": told["humidity"] / 100,
            "job": told["job"],
            "piece": told["piece"],
            "note": told["note"],
        }


def degrees(units: str) -> str:
    """The shop's sign of warmth."""
    return "°F" if units == "us" else "°C"


def celsius_of(warmth: float, units: str) -> float:
    """°C from what the shop writes."""
    return (warmth - 32) / 1.8 if units == "us" else warmth


def warmth_of(celsius: float, units: str) -> float:
    """°C as the shop writes it."""
    return round(celsius * 1.8 + 32, 1) if units == "us" else round(celsius, 1)


def _start(request: HttpRequest, units: str) -> dict[str, Any]:
    """What the form begins with: the air of the room, and what a page that led here asks for."""
    air = gather.air_now()
    asked = {name: request.GET[name] for name in ("what", "after", "job", "piece") if request.GET.get(name)}
    return {"warmth": warmth_of(air.celsius, units), "humidity": round(100 * air.humidity), **asked}


@require_http_methods(["GET", "POST"])
@once
def drying(request: HttpRequest) -> HttpResponse:
    """What was learned, and the entries; posting notes one."""
    units = the_shop().units
    posted = request.method == "POST"
    form = DryForm(request.POST if posted else None, units=units, initial=_start(request, units))
    if posted and form.is_valid():
        try:
            row = steps.note_dry(**form.told(), person=holder_of(request), device=device_of(request))
        except Refusal as refusal:
            refuse(form, refusal, {"humidity": "humidity", "temperature": "warmth", "minutes": "after"})
        else:
            toast_last(request, row.job)
            return back_to(request) if request.POST.get("back") else redirect("drying")
    return _page(request, form, 422 if form.errors else 200)


def _page(request: HttpRequest, form: DryForm, status: int, wrong: str = "") -> HttpResponse:
    units = the_shop().units
    air = gather.room_air()
    context = {
        "form": form,
        "lines": gather.lines(),
        "entries": [(entry, warmth_of(entry.row.celsius, units)) for entry in gather.entries()],
        "degrees": degrees(units),
        "warmth": warmth_of(air.celsius, units),
        "humidity": round(100 * air.humidity),
        "factor": gather.planning_drying().factor,
        "wrong": wrong,
    }
    return render(request, "drying/page.html", context, status=status)


@require_POST
@once
def strike(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Strike an entry out, with a reason."""
    row = get_object_or_404(DryingSeen, pk=entry_id, strikes=None)
    try:
        steps.strike(row, request.POST.get("why", ""), person=holder_of(request), device=device_of(request))
    except Refusal as refusal:
        units = the_shop().units
        return _page(request, DryForm(units=units, initial=_start(request, units)), 422, str(refusal))
    return redirect("drying")


urlpatterns = [
    path("drying/", drying, name="drying"),
    path("drying/<int:entry_id>/strike/", strike, name="strike_drying"),
]
