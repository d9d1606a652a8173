"""The colours of the shop: the list, and one colour with its versions, batches and jars."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from hidewright.colour.light.far import NEAR_ENOUGH
from hidewright.workshop.colours import shop_actions as steps
from hidewright.workshop.colours import shop_queries as gather
from hidewright.workshop.colours.models import Colour
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.frame.pages import paged, toast_last
from hidewright.workshop.shelf.models import Product


class ShopColourForm(forms.Form):
    """What is said of a colour of the shop."""

    name = forms.CharField(label="Name", max_length=80)
    owner = forms.CharField(label="Whose it is", max_length=120, required=False)
    truth = forms.ChoiceField(
        label="Where its truth lies",
        choices=Colour.Truth.choices,
        help_text="What a dispute about it is settled against.",
    )
    tolerance = NumberField(label="Near enough", min_value=0.05, max_value=10, help_text=NEAR_ENOUGH)
    sheen = forms.CharField(
        label="Sheen", max_length=40, required=False, help_text="Such as satin, 20 at 60°."
    )
    clear = forms.ModelChoiceField(
        label="The clear over it", queryset=Product.objects.none(), required=False, empty_label="not said"
    )
    notes = forms.CharField(label="Notes", required=False, widget=forms.Textarea(attrs={"rows": 2}))
    edits = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["clear"].queryset = Product.objects.filter(active=True, role="clear")  # type: ignore[attr-defined]

    def facts(self) -> dict[str, Any]:
        """The facts as the row keeps them."""
        found = {name: self.cleaned_data[name] for name in steps.FACTS if name != "clear_id"}
        clear = self.cleaned_data["clear"]
        return {**found, "clear_id": clear.pk if clear else None}


AWAY = 12
"""Colours put away that the list names."""


@require_GET
def shop_colours(request: HttpRequest) -> HttpResponse:
    """Every colour of the shop that is in use, the rest below."""
    page, away = paged(request, gather.in_use()), gather.put_away()
    shown = {
        "rows": gather.lines_of(list(page)),
        "page": page,
        "away": away[:AWAY],
        "away_in_all": away.count(),
    }
    return render(request, "shop_colours/list.html", shown)


def _page(
    request: HttpRequest, row: Colour, form: ShopColourForm | None = None, status: int = 200
) -> HttpResponse:
    start = {name.removesuffix("_id"): getattr(row, name) for name in steps.FACTS} | {"edits": row.edits}
    shown = {"found": gather.shop_colour(row), "form": form or ShopColourForm(initial=start)}
    return render(request, "shop_colours/colour.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def shop_colour(request: HttpRequest, colour_id: int) -> HttpResponse:
    """One colour; posting changes what is said of it."""
    row = get_object_or_404(Colour, pk=colour_id)
    if request.method == "GET":
        return _page(request, row)
    form = ShopColourForm(request.POST)

    def went(_: None) -> HttpResponse:
        toast_last(request, None)
        return redirect("shop_colour", row.pk)

    return submitted(
        form,
        lambda cleaned: steps.edit_colour(row, form.facts(), edits=cleaned["edits"] or 0),
        went,
        lambda: _page(request, row, form, 422),
        {"Name": "name", "Near enough": "tolerance"},
    )


@require_POST
@once
def put_colour_away(request: HttpRequest, colour_id: int) -> HttpResponse:
    """Take a colour off the list of those in use."""
    steps.put_colour_away(get_object_or_404(Colour, pk=colour_id))
    toast_last(request, None)
    return redirect("shop_colours")


urlpatterns = [
    path("colours/", shop_colours, name="shop_colours"),
    path("colours/<int:colour_id>/", shop_colour, name="shop_colour"),
    path("colours/<int:colour_id>/put-away/", put_colour_away, name="put_colour_away"),
]
