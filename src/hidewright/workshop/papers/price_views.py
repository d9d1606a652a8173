"""The Price page: ways of doing the job side by side, and its sundries with their rules."""

from datetime import timedelta
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.takeoff.sundries import RULES, rules_with
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.frame.pages import job_page, went
from hidewright.workshop.papers import price_queries as gather
from hidewright.workshop.papers import quote_queries as quote_gather
from hidewright.workshop.quantities import actions as steps
from hidewright.workshop.quantities import queries as quantities_gather
from hidewright.workshop.quantities.models import Figures
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

DECIMAL = {"inputmode": "decimal", "step": "any"}
HOLDS = timedelta(days=30)
"""How long a quote holds where the shop's terms say nothing else."""


class PriceForm(forms.Form):
    """What the price stands on."""

    hourly = forms.DecimalField(label="An hour of hands", min_value=0, max_digits=8, decimal_places=2, widget=forms.NumberInput(attrs=dict(DECIMAL)))  # fmt: skip
    markup = NumberField(label="Markup on materials and sundries, %", min_value=0, max_value=500)  # fmt: skip
    price_odds = NumberField(
        label="Odds of not losing by it, %",
        min_value=50,
        max_value=99.9,
        help_text="The margin for risk is what this costs above the middle of the forecast.",
    )
    tax_name = forms.CharField(label="Tax is called", max_length=40, required=False)
    tax_rate = forms.DecimalField(label="Tax, %", min_value=0, max_value=99, max_digits=5, decimal_places=2, widget=forms.NumberInput(attrs=dict(DECIMAL)))  # fmt: skip
    terms = forms.CharField(
        label="Your terms",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="A line each; they go on the quote as you write them.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def facts(self) -> dict[str, Any]:
        """As the step takes it."""
        data = {name: self.cleaned_data[name] for name in steps.PRICE_FIGURES}
        shares = {"markup": data["markup"] / 100, "price_odds": data["price_odds"] / 100}
        return {**data, **shares, "tax_rate": data["tax_rate"] / 100}


class SundriesForm(forms.Form):
    """The rules for sundries: an amount each."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, amounts: dict[str, float], units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units = units
        self.shown: dict[str, tuple[float, float]] = {}
        for rule in rules_with(amounts):
            shown = float(f"{rule.amount * rule.scale_in(units):.4g}")
            self.shown[rule.key] = shown, rule.amount
            self.fields[rule.key] = NumberField(
                label=rule.what,
                min_value=0,
                max_value=1000,
                initial=shown,
                help_text=rule.words_in(units)
                + (", set here" if rule.key in amounts else ", a usual figure"),
            )

    def amounts(self) -> dict[str, float]:
        """What differs from the starting rules."""
        given = {}
        for rule in RULES:
            shown, amount = self.shown[rule.key]
            value = self.cleaned_data[rule.key]
            given[rule.key] = amount if value == shown else value / rule.scale_in(self.units)
        return {rule.key: given[rule.key] for rule in RULES if abs(given[rule.key] - rule.amount) > 1e-9}


def _price_form(row: Figures) -> PriceForm:
    shown = {name: getattr(row, name) for name in steps.PRICE_FIGURES}
    percent = {name: f"{float(shown[name]) * 100:.6g}" for name in ("markup", "price_odds", "tax_rate")}
    return PriceForm(initial={**shown, **percent, "version": row.version})


def _page(
    request: HttpRequest, job: Job, *, form: PriceForm | None = None, rules: SundriesForm | None = None
) -> HttpResponse:
    row = quantities_gather.figures(job)
    options = gather.options(job)
    shown = {
        "options": options,
        "sundry_lines": gather.sundries_shown(job, options[0]) if options else [],
        "form": form or _price_form(row),
        "rules": rules
        or SundriesForm(amounts=row.sundries, units=the_shop().units, initial={"version": row.version}),
        "row": row,
        "odds": 100 * row.price_odds,
        "pace_entries": gather.pace_entries(),
        "until": timezone.localdate() + HOLDS,
        "given": [(quote, quote_gather.acceptance(quote)) for quote in quote_gather.quotes(job)],
        "today": timezone.localdate(),
        "taught": quote_gather.lessons(leave=job)[:5],
    }
    status = 422 if (form and form.errors) or (rules and rules.errors) else 200
    return job_page(request, job, "quantities", "quantities/price.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def price(request: HttpRequest, job_id: int) -> HttpResponse:
    """The ways side by side; posting sets what the price stands on."""
    job = get_object_or_404(Job, pk=job_id)
    if request.method == "GET":
        return _page(request, job)
    form = PriceForm(request.POST)
    return submitted(
        form,
        lambda told: steps.set_price_figures(job, form.facts(), version=told["version"] or 0),
        lambda _: went(request, job, "price", job.pk),
        lambda: _page(request, job, form=form),
        {"tax_rate": "tax_rate"},
    )


@require_POST
@once
def sundries(request: HttpRequest, job_id: int) -> HttpResponse:
    """Set the rules for sundries."""
    job = get_object_or_404(Job, pk=job_id)
    rules = SundriesForm(
        request.POST, amounts=quantities_gather.figures(job).sundries, units=the_shop().units
    )
    return submitted(
        rules,
        lambda told: steps.set_sundries(job, rules.amounts(), version=told["version"] or 0),
        lambda _: went(request, job, "price", job.pk),
        lambda: _page(request, job, rules=rules),
    )


urlpatterns = [
    path("jobs/<int:job_id>/price/", price, name="price"),
    path("jobs/<int:job_id>/price/sundries/", sundries, name="sundries"),
]
