"""The page What was used: yields of coats, and what hands used up, each with its entries and what was learned."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_GET, require_POST

from hidewright.refusals import Refusal
from hidewright.takeoff.byhand import FIGURE
from hidewright.units import read_length, read_number, read_volume
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.frame.pages import device_of, job_page, number_of, toast_last, went
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities import used_actions as steps
from hidewright.workshop.quantities import used_queries as gather
from hidewright.workshop.quantities.models import HandUse
from hidewright.workshop.shelf.models import ProductLot
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.words import by_units


class UsedForm(forms.Form):
    """What hands used up."""

    what = forms.ChoiceField(label="What")
    amount = forms.CharField(
        label="How much",
        max_length=20,
        help_text=by_units(
            "Of a product like 2.4 L; of sundries a number, tape and paper like 12 m.",
            "Of a product like 1 qt; of sundries a number, tape and paper like 40 ft.",
        ),
    )
    share = NumberField(
        label="For how much of this job’s work of that kind, %",
        initial=100,
        min_value=0.1,
        max_value=100,
    )
    lot = forms.ModelChoiceField(
        label="Lot", queryset=ProductLot.objects.none(), required=False, empty_label="not noted"
    )
    note = forms.CharField(label="Note", max_length=120, required=False)

    def __init__(self, choices: list[tuple[str, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["what"] = forms.ChoiceField(label="What", choices=choices)
        self.fields["lot"].queryset = ProductLot.objects.filter(  # type: ignore[attr-defined]
            finished=None, product__role__in=list(FIGURE), product__active=True
        ).select_related("product")

    def clean(self) -> dict[str, Any]:
        """Read the amount in the unit of the thing; a lot must be of that thing."""
        data = super().clean() or {}
        what, text, lot = data.get("what", ""), data.get("amount", ""), data.get("lot")
        try:
            if what and text:
                data["value"] = _read(what, text)
        except Refusal as refusal:
            self.add_error("amount", f"{refusal.what} {refusal.remedy}")
        if lot is not None and lot.product.role != what:
            self.add_error("lot", "This lot is of another kind of product.")
        return data


def _read(what: str, text: str) -> float:
    if what in FIGURE:
        return read_volume(text, "ml")
    if gather.named(what)[1] == "m":
        return read_length(text, "m")
    return read_number(text)


def _page(request: HttpRequest, job: Job, form: UsedForm | None = None) -> HttpResponse:
    found, whole = quantities.quantities(job, 0.0, number_of(request)), quantities.forecast(job)
    if found is None or whole is None:
        return job_page(request, job, "quantities", "quantities/used.html", {"found": None})
    shown = {
        "found": found,
        "entries": quantities.entries(job, found.sourced.assumed),
        "yields": quantities.yields(found) if found.model.entries or found.belief.entries else [],
        "lines": gather.lines(job),
        "lessons": gather.lessons(),
        "form": form or UsedForm(gather.choices(whole)),
    }
    status = 422 if form and form.errors else 200
    return job_page(request, job, "quantities", "quantities/used.html", shown, status=status)


@require_GET
def used(request: HttpRequest, job_id: int) -> HttpResponse:
    """What was used on the job, and what the shop has learned of it."""
    return _page(request, get_object_or_404(Job, pk=job_id))


@require_POST
@once
def log_by_hand(request: HttpRequest, job_id: int) -> HttpResponse:
    """Log what hands used up."""
    job = get_object_or_404(Job, pk=job_id)
    forecast = quantities.forecast(job)
    form = UsedForm(gather.choices(forecast) if forecast else [], request.POST)
    return submitted(
        form,
        lambda told: steps.log_by_hand(
            job,
            told["what"],
            told["value"],
            told["share"] / 100,
            lot=told["lot"],
            note=told["note"],
            device=device_of(request),
        ),
        lambda _: went(request, job, "used", job.pk),
        lambda: _page(request, job, form),
        {"amount": "amount", "share": "share", "what": "what"},
    )


@require_POST
@once
def strike_by_hand(request: HttpRequest, job_id: int, use_id: int) -> HttpResponse:
    """Strike an entry out."""
    job = get_object_or_404(Job, pk=job_id)
    steps.strike_by_hand(get_object_or_404(HandUse, pk=use_id, job=job))
    toast_last(request, job)
    return redirect("used", job.pk)


urlpatterns = [
    path("jobs/<int:job_id>/used/", used, name="used"),
    path("jobs/<int:job_id>/used/by-hand/", log_by_hand, name="log_by_hand"),
    path("jobs/<int:job_id>/used/by-hand/<int:use_id>/strike/", strike_by_hand, name="strike_by_hand"),
]
