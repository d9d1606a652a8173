"""The page of the vessels that the shop has: cups, pots and buckets that a mix can be offered in."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import VolumeField, WeighedField
from hidewright.workshop.frame.pages import went
from hidewright.workshop.shelf import pot_actions
from hidewright.workshop.shelf.models import ShopVessel
from hidewright.workshop.shelf.vessel_queries import pots
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.words import by_units

USUAL = (
    (("Small cup", "250 mL"), ("Half-litre cup", "500 mL"), ("Litre pot", "1 L"), ("Pail", "5 L")),
    (("Small cup", "8 fl oz"), ("Pint cup", "1 pt"), ("Quart pot", "1 qt"), ("Gallon pail", "1 gal")),
)
"""Sizes that shops often have, metric and US; one tap adds one. Common practice, no source."""


class PotForm(forms.Form):
    """One vessel."""

    name = forms.CharField(label="Name", max_length=60, help_text="What you call it: quart pot, white pail.")
    capacity = VolumeField(
        label="It holds, to the line", help_text=by_units("Like 500 mL or 2.5 L.", "Like 1 qt or 16 fl oz.")
    )
    tare = WeighedField(
        label="Empty it weighs, g", required=False, help_text="Empty: you zero the balance with it."
    )


@require_http_methods(["GET", "POST"])
@once
def vessels(request: HttpRequest) -> HttpResponse:
    """The vessels of the shop, and a form to add one."""
    form = PotForm(request.POST or None)
    if request.method == "GET":
        return _page(request, form)
    return submitted(
        form,
        lambda cleaned: pot_actions.add_pot(cleaned["name"], cleaned["capacity"], cleaned["tare"] or 0.0),
        lambda _: went(request, None, "vessels"),
        lambda: _page(request, form, 422),
        {"Name": "name", "It holds": "capacity"},
    )


def _page(request: HttpRequest, form: PotForm, status: int = 200) -> HttpResponse:
    rows = pots()
    names = {row.name for row in rows}
    context = {
        "form": form,
        "pots": [(row, row.capacity / 1000) for row in rows],
        "usual": [(name, size) for name, size in USUAL[the_shop().units == "us"] if name not in names],
    }
    return render(request, "vessels/list.html", context, status=status)


@require_POST
@once
def remove_vessel(request: HttpRequest, pot_id: int) -> HttpResponse:
    """Take a vessel off the list."""
    pot_actions.remove_pot(get_object_or_404(ShopVessel, pk=pot_id, removed=None))
    return went(request, None, "vessels")


urlpatterns = [
    path("vessels/", vessels, name="vessels"),
    path("vessels/<int:pot_id>/remove/", remove_vessel, name="remove_vessel"),
]
