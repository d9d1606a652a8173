"""The shop's Products page: what it pours besides pigments, the facts of the data sheets, stock and lots."""

from datetime import date
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from hidewright.refusals import Refusal
from hidewright.takeoff import products as stage
from hidewright.takeoff.products_csv import READERS, read_figure, read_price, write_products
from hidewright.units import US_FL_OZ_ML, read_duration, read_volume, show_minutes, show_volume
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import VolumeField, acted
from hidewright.workshop.frame.pages import paged, toast_last, went
from hidewright.workshop.lists.forms import BringForm
from hidewright.workshop.shelf import actions as steps
from hidewright.workshop.shelf import list_actions as list_actions
from hidewright.workshop.shelf import queries as gather
from hidewright.workshop.shelf.models import Product, ProductLot
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.words import by_units

FIGURES = {
    "density": ("Density, g/mL", "As its data sheet says."),
    "solids": ("Stays when dry, share of the volume", "Volume solids, such as 25 %."),
    "pack": ("Sold in packs of", by_units("Such as 5 L.", "Such as 1 gal.")),
    "ratio": ("Crosslinker: share of the mix", "Such as 3 %."),
    "pot_life": ("Pot life once crosslinked", "Such as 8 h. Its data sheet rules."),
    "touch_dry": (
        "Touch dry after",
        by_units(
            "At 20 °C and 50 % humidity, such as 30 min.", "At 68 °F and 50 % humidity, such as 30 min."
        ),
    ),
    "cure": ("May be turned or moved after", "Such as 12 h."),
    "flash": ("Flash point, °C", ""),
    "lel": ("Lower explosive limit, % by volume", ""),
    "limit_ppm": ("Exposure limit, ppm", "The local limit rules."),
    "voc": ("VOC of the material, g/L", ""),
    "molar_mass": ("Molar mass, g/mol", "Of a solvent, for the air it needs."),
    "shelf": ("Keeps once opened", "Such as 365 d."),
    "warm_cure": (
        "When warm: may be turned or moved after",
        "Only if its data sheet has such a line; warm air shortens no cure without it.",
    ),
    "warm_at": ("That time is for, °C", "Such as 40."),
}
"""Figure of a product → label and hint."""
SHOWN_AS = {"solids": (100, " %"), "ratio": (100, " %"), "pack": (1, " mL"), "pot_life": (1, " min"), "touch_dry": (1, " min"), "cure": (1, " min"), "warm_cure": (1, " min"), "shelf": (1, " d")}  # fmt: skip


class ProductForm(forms.Form):
    """A product with the facts of its data sheet, as people write them."""

    name = forms.CharField(label="Name", max_length=80)
    role = forms.ChoiceField(label="What it is for", choices=list(gather.ROLE_WORDS.items()))
    price = forms.CharField(label="Price of a pack", max_length=20, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, key: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.key = key
        for name, (label, hint) in FIGURES.items():
            self.fields[name] = forms.CharField(
                label=label,
                help_text=hint,
                max_length=30,
                required=False,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )
        self.fields["notes"] = forms.CharField(
            label="Notes", max_length=240, required=False, widget=forms.Textarea(attrs={"rows": 2})
        )

    def clean(self) -> dict[str, Any]:
        """Make the product, as `product`; put each refusal beside its field."""
        data = super().clean() or {}
        facts: dict[str, Any] = {}
        for name in READERS:
            try:
                if (data.get(name) or "").strip():
                    facts[name] = read_figure(name, data[name])
            except Refusal as refusal:
                self.add_error(name, f"{refusal.what} {refusal.remedy}")
        if self.errors:
            return data
        try:
            key = self.key or steps.key_for(data["name"])
            data["product"] = stage.Product(
                key, data["name"], stage.Role(data["role"]), price=read_price(data["price"]), notes=data["notes"], **facts
            )  # fmt: skip
        except Refusal as refusal:
            place = refusal.where if refusal.where in self.fields else None
            self.add_error(place, f"{refusal.what} {refusal.remedy}".strip())
        return data


class ReceiveForm(forms.Form):
    """A delivery."""

    volume = VolumeField(label="How much came", help_text=by_units("Such as 2 x 5 L.", "Such as 2 x 1 gal."))
    lot = forms.CharField(label="Lot on the can", max_length=60, required=False)
    keep_until = forms.DateField(
        label="Keep until",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )


class CountForm(forms.Form):
    """What is on hand, as counted."""

    volume = VolumeField(
        label="On hand, as counted",
        may_be_nothing=True,
        help_text=by_units("Such as 3.2 L.", "Such as 3 qt."),
    )


@require_GET
def products(request: HttpRequest) -> HttpResponse:
    """The list of products with what is on hand."""
    page = paged(request, gather.listed())
    roles = gather.by_role(gather.lines_of(list(page)))
    shown = {"roles": roles, "page": page, "form": BringForm(), "today": date.today()}
    return render(request, "products/list.html", shown)


@require_http_methods(["GET", "POST"])
@once
def add_product(request: HttpRequest) -> HttpResponse:
    """List a new product."""
    form = ProductForm(request.POST or None, initial={"density": "1.0", "pack": by_units("1 L", "1 qt")})
    if request.method == "POST" and acted(form, lambda told: steps.add_product(told["product"])):
        toast_last(request, None)
        return redirect("products")
    return render(request, "products/product.html", {"form": form}, status=422 if form.errors else 200)


def _handier(figure: float, unit: str) -> str:
    """Litres for many mL and hours for many minutes, where these say the very same; empty where they do not."""
    if unit == " mL":
        units = the_shop().units
        words = show_volume(figure, units)
        if read_volume(words) == figure:
            return words
        return f"{figure / US_FL_OZ_ML:.7g} fl oz" if units == "us" else ""
    if unit == " min":
        words = show_minutes(figure)
        return words if read_duration(words) == 60 * figure else ""
    return ""


def _initial(row: Product) -> dict[str, Any]:
    def shown(name: str) -> str:
        figure = getattr(row, name)
        if figure is None:
            return ""
        factor, unit = SHOWN_AS.get(name, (1, ""))
        return _handier(figure, unit) or f"{figure * factor:.10g}{unit}"

    return {
        "name": row.name, "role": row.role, "price": str(row.price), "notes": row.notes, "version": row.version,
        **{name: shown(name) for name in FIGURES},
    }  # fmt: skip


def _product_page(request: HttpRequest, row: Product, **given: Any) -> HttpResponse:
    forms_shown = {
        "form": ProductForm(initial=_initial(row), key=row.key),
        "receive": ReceiveForm(prefix="in"),
        "count": CountForm(prefix="count"),
        **given,
    }
    shown = {
        "row": row,
        "line": gather.line(row),
        "moves": row.moves.select_related("lot")[:30],
        **forms_shown,
    }
    return render(request, "products/product.html", shown, status=422 if given else 200)


@require_http_methods(["GET", "POST"])
@once
def product(request: HttpRequest, key: str) -> HttpResponse:
    """One product: facts, stock, lots."""
    row = get_object_or_404(Product, key=key, active=True)
    if request.method == "GET":
        return _product_page(request, row)
    form = ProductForm(request.POST, key=row.key)
    return submitted(
        form,
        lambda told: steps.change_product(row, told["product"], told["version"] or 0),
        lambda _: went(request, None, "products"),
        lambda: _product_page(request, row, form=form),
    )


@require_POST
@once
def receive_product(request: HttpRequest, key: str) -> HttpResponse:
    """Take in a delivery."""
    row = get_object_or_404(Product, key=key, active=True)
    form = ReceiveForm(request.POST, prefix="in")
    return submitted(
        form,
        lambda told: steps.receive(row, told["volume"], lot=told["lot"], keep_until=told["keep_until"]),
        lambda _: went(request, None, "product", row.key),
        lambda: _product_page(request, row, receive=form),
        {"volume": "volume"},
    )


@require_POST
@once
def count_product(request: HttpRequest, key: str) -> HttpResponse:
    """Set the stock to what was counted."""
    row = get_object_or_404(Product, key=key, active=True)
    form = CountForm(request.POST, prefix="count")
    return submitted(
        form,
        lambda told: steps.count(row, told["volume"]),
        lambda _: went(request, None, "product", row.key),
        lambda: _product_page(request, row, count=form),
        {"volume": "volume"},
    )


@require_POST
@once
def remove_product(request: HttpRequest, key: str) -> HttpResponse:
    """Take a product off the list."""
    steps.remove_product(get_object_or_404(Product, key=key))
    toast_last(request, None)
    return redirect("products")


@require_POST
@once
def product_lot(request: HttpRequest, key: str, lot_id: int) -> HttpResponse:
    """Note that a lot was opened, or is finished."""
    lot = get_object_or_404(ProductLot, pk=lot_id, product__key=key)
    if "finish" in request.POST:
        steps.finish_lot(lot)
    else:
        steps.open_lot(lot)
    toast_last(request, None)
    return redirect("product", key)


@require_GET
def products_csv(request: HttpRequest) -> HttpResponse:
    """The list as a file that can be brought back."""
    response = HttpResponse(
        write_products(gather.products().values()), content_type="text/csv; charset=utf-8"
    )
    response.headers["Content-Disposition"] = 'attachment; filename="products.csv"'
    return response


urlpatterns = [
    path("products/", products, name="products"),
    path("products/add/", add_product, name="add_product"),
    path("products/list.csv", products_csv, name="products_csv"),
    path("products/<slug:key>/", product, name="product"),
    path("products/<slug:key>/receive/", receive_product, name="receive_product"),
    path("products/<slug:key>/count/", count_product, name="count_product"),
    path("products/<slug:key>/remove/", remove_product, name="remove_product"),
    path("products/<slug:key>/lots/<int:lot_id>/", product_lot, name="product_lot"),
]
