"""The Quantities page: litres with odds, what to buy, whether there is enough, and what the coats really took."""

from typing import Any

import numpy as np
from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.charts.odds import OddsMark, litres_odds
from hidewright.charts.render import to_svg
from hidewright.refusals import Refusal
from hidewright.takeoff.advice import advise
from hidewright.takeoff.coats import LIMITS, Assumptions, Stage
from hidewright.takeoff.odds import Spread
from hidewright.takeoff.yields import Use as UseValue
from hidewright.units import FOOT, US_FL_OZ_ML, US_QUART_ML, read_volume, show_volume
from hidewright.workshop.frame.acts import NotDone, once
from hidewright.workshop.frame.forms import NumberField, refuse
from hidewright.workshop.frame.pages import device_of, job_page, number_of, to_colour_page, toast_last, whole
from hidewright.workshop.pieces import queries as survey_gather
from hidewright.workshop.pieces.colour_queries import colour_numbered, several
from hidewright.workshop.quantities import actions as steps
from hidewright.workshop.quantities import queries as gather
from hidewright.workshop.quantities.coat_queries import coat_lines
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf import vessel_queries as mixing
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.words import by_units

PERCENT = ("solids_colour", "solids_clear", "transfer", "wiped_transfer", "area_sd", "build_sd", "transfer_sd", "piece_sd")  # fmt: skip
WHOLE = ("colour_coats", "clear_coats")
GROUPS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Coats",
        (
            ("colour_coats", "Sprayed colour coats"),
            ("clear_coats", "Clear coats"),
            ("colour_um", "Colour: dry µm a coat"),
            ("clear_um", "Clear: dry µm a coat"),
            ("wiped_um", "Wiped-in colour: dry µm"),
        ),
    ),
    (
        "What lands",
        (
            ("solids_colour", "Mixed colour stays when dry, %"),
            ("solids_clear", "Clear stays when dry, %"),
            ("transfer", "Of the spray lands, %"),
            ("wiped_transfer", "Of the wiped coat lands, %"),
        ),
    ),
    (
        "Losses and reserve",
        (
            ("cup_loss", "Left in gun and cup a session, mL"),
            ("session_area", "Coated in a session, m²"),
            ("keep_back", "Colour kept back for touching up, mL"),
        ),
    ),
    (
        "By hand, mL a m²",
        (
            ("strip_ml", "Stripper"),
            ("clean_ml", "Cleaner"),
            ("wipe_ml", "Wipe-down solvent"),
            ("prime_ml", "Primer on what is not leather"),
        ),
    ),
    (
        "How sure the figures are, %",
        (
            ("area_sd", "Area, all pieces together"),
            ("build_sd", "Build of a coat"),
            ("transfer_sd", "What lands"),
            ("piece_sd", "One piece against the others"),
        ),
    ),
)
"""Heading → figures and their labels."""


US_SCALES = {
    **dict.fromkeys(("cup_loss", "keep_back"), 1 / US_FL_OZ_ML),
    "session_area": 1 / FOOT**2,
    **dict.fromkeys(("strip_ml", "clean_ml", "wipe_ml", "prime_ml"), FOOT**2 / US_FL_OZ_ML),
}
"""What the figures in mL, m² and mL a m² are multiplied by in a shop with US units."""


def in_us(label: str) -> str:
    """A label with US units for the metric ones."""
    return label.replace("mL a m²", "fl oz a sq ft").replace("mL", "fl oz").replace("m²", "sq ft")


class FiguresForm(forms.Form):
    """What the forecast stands on."""

    odds = NumberField(
        label="Odds of having enough to buy for, %",
        min_value=50,
        max_value=99.9,
    )
    wiped = forms.BooleanField(label="Wipe colour into faces that are sat on", required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, sourced: gather.Sourced, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sourced = sourced
        self.us = the_shop().units == "us"
        for _, figures in GROUPS:
            for name, label in figures:
                self.fields[name] = self._field(name, in_us(label) if self.us else label)
        self.fields["wiped"].help_text = sourced.sources.get("wiped", "")

    def _field(self, name: str, label: str) -> forms.Field:
        scale = self._scale(name)
        low, high = LIMITS[name]
        value = getattr(self.sourced.assumed, name) * scale
        facts: dict[str, Any] = {
            "label": label,
            "initial": value if name in WHOLE else float(f"{value:.6g}"),
            "help_text": f"from {self.sourced.sources[name]}"
            if name in self.sourced.sources
            else "a usual figure",
            "widget": forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
        }
        if name in WHOLE:
            return forms.IntegerField(min_value=int(low), max_value=int(high), **facts)
        return NumberField(min_value=low * scale, max_value=high * scale, **facts)

    def _scale(self, name: str) -> float:
        """What a figure is multiplied by to be shown: per cent, and fl oz and sq ft in a shop with US units."""
        return 100 if name in PERCENT else US_SCALES.get(name, 1) if self.us else 1

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under their headings."""
        found = [
            (in_us(words) if self.us else words, [self[name] for name, _ in figures])
            for words, figures in GROUPS
        ]
        found[0][1].append(self["wiped"])
        return found

    def changes(self) -> dict[str, Any]:
        """What differs from what recipe, products and starting values say; what was set before and left alone stays set."""
        found: dict[str, Any] = {}
        for name in [*LIMITS, "wiped"]:
            scale = self._scale(name)
            given = self.cleaned_data[name]
            shown = getattr(self.sourced.assumed, name)
            same = (
                given == shown
                if isinstance(shown, bool)
                else abs(given - shown * scale) < 1e-5 * max(shown * scale, 0.1)
            )
            if not same:
                found[name] = given if name in WHOLE or name == "wiped" else given / scale
            elif self.sourced.sources.get(name) == "set here":
                found[name] = shown
        return found


class UseForm(forms.Form):
    """What a set of pieces took."""

    stage = forms.ChoiceField(label="What went on", choices=[(s.value, s.value) for s in (Stage.COLOUR, Stage.WIPED, Stage.CLEAR)])  # fmt: skip
    coats = forms.IntegerField(
        label="How many coats of it",
        required=False,
        min_value=1,
        max_value=12,
        help_text="Empty: all its coats.",
    )
    volume = forms.CharField(
        label="How much left the jar",
        max_length=30,
        help_text=by_units(
            "And did not come back, such as 640 mL.", "And did not come back, such as 20 fl oz."
        ),
    )
    cups = forms.IntegerField(
        label="Sessions",
        initial=1,
        min_value=0,
        max_value=100,
        help_text="Each leaves its loss in gun and cup.",
    )
    note = forms.CharField(label="Note", max_length=120, required=False)

    def clean_volume(self) -> float:
        """In mL."""
        try:
            return read_volume(self.cleaned_data["volume"], "ml")
        except Refusal as refusal:
            raise forms.ValidationError(f"{refusal.what} {refusal.remedy}") from refusal

    def value(self, assumed: Assumptions, pieces: list[str]) -> UseValue:
        """As the stage takes it."""
        data = self.cleaned_data
        stage = Stage(data["stage"])
        all_coats = {Stage.COLOUR: assumed.colour_coats, Stage.CLEAR: assumed.clear_coats, Stage.WIPED: 1}[
            stage
        ]
        share = min(1.0, data["coats"] / max(all_coats, 1)) if data["coats"] else 1.0
        return UseValue(stage, dict.fromkeys(pieces, share), data["volume"], data["cups"] * assumed.cup_loss)


def odds_chart(spread: Spread, in_hand: float, units: str) -> SafeString:
    """The odds that a quantity of mixed colour is enough, with the middle, 90 % and what is in hand."""
    factor, unit = (US_QUART_ML, "qt") if units == "us" else (1000.0, "L")
    quantities, odds = spread.curve()
    marks = [
        OddsMark(spread.at(p) / factor, f"{100 * p:.0f} %: {spread.at(p) / factor:.2f} {unit}")
        for p in (0.5, 0.9)
    ]
    if quantities[0] < in_hand < quantities[-1]:
        marks.append(OddsMark(in_hand / factor, "in hand"))
    spec = litres_odds(np.asarray(quantities) / factor, odds, marks=marks, unit=unit)
    words = f"Odds of having enough: {spread.at(0.5) / factor:.2f} {unit} half of the time, {spread.at(0.9) / factor:.2f} {unit} nine times in ten"
    return mark_safe(to_svg(spec, label=words))  # noqa: S308 - our own SVG, text escaped


def _page(
    request: HttpRequest,
    job: Job,
    *,
    form: FiguresForm | None = None,
    use_form: UseForm | None = None,
) -> HttpResponse:
    units = the_shop().units
    number = colour_numbered(job, number_of(request)).number
    held = mixing.in_hand(job)
    in_hand = held.get(number, 0.0)
    found = gather.quantities(job, in_hand, number)
    status = 422 if (form and form.errors) or (use_form and use_form.errors) else 200
    if found is None:
        return job_page(request, job, "quantities", "quantities/page.html", {"found": None})
    parts = gather.every_colour(job, held)
    row = gather.figures(job)
    stand = found.standing
    lines = gather.shopping(job, parts, row.odds)
    shown = {
        "found": found,
        "whole": gather.forecast(job),
        "others": len(parts) - 1,
        "stand": stand,
        "percent": 100 * stand.odds,
        "still50": stand.still.at(0.5),
        "still90": stand.still.at(0.9),
        "done": 100 * stand.share_done,
        "advice": advise(stand, lambda millilitres: show_volume(millilitres, units)),
        "chart": odds_chart(stand.still, in_hand, units) if stand.still.sigma else "",
        "lines": lines,
        "sum": sum(line.price for line in lines),
        "unpriced": [line.what for line in lines if line.packs and not line.price],
        "odds": 100 * row.odds,
        "form": form or FiguresForm(sourced=found.sourced, initial={"odds": round(100 * row.odds, 2), "wiped": found.sourced.assumed.wiped, "version": row.version}),
        "use_form": use_form or UseForm(prefix="use"),
        "coats": list(coat_lines(found.sourced.assumed, found.sourced.sources)),
        "entries": gather.entries(job, found.sourced.assumed),
        "groups": _choices(job, found, units),
    }  # fmt: skip
    return job_page(request, job, "quantities", "quantities/page.html", shown, status=status)


def _choices(job: Job, found: gather.Quantities, units: str) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """Pieces by group: mark, name, and how much of the colour they have."""
    mine = {p.key for p in found.pieces}
    done = {i.piece: float(d) for i, d in zip(found.model.items, found.model.done, strict=True) if i.stage is Stage.COLOUR}  # fmt: skip
    words = {p.key: "done" if done.get(p.key, 0) > 0.999 else "begun" if done.get(p.key, 0) > 0 else "" for p in found.pieces}  # fmt: skip
    return [
        (g.name, lines)
        for g in survey_gather.groups(job, units)
        if (
            lines := [
                (line.row.key, line.row.name, words[line.row.key]) for line in g.lines if line.row.key in mine
            ]
        )
    ]


@require_http_methods(["GET", "POST"])
@once
def quantities(request: HttpRequest, job_id: int) -> HttpResponse:
    """What it takes; posting sets what the forecast stands on."""
    job = get_object_or_404(Job, pk=job_id)
    if request.method == "GET":
        return _page(request, job)
    number = colour_numbered(job, number_of(request)).number
    form = FiguresForm(request.POST, sourced=gather.sourced(job, None, number))
    if "reset" in request.POST or form.is_valid():
        try:
            version = whole(request.POST.get("version", ""), 0)
            changes = {} if "reset" in request.POST else form.changes()
            odds = gather.figures(job).odds if "reset" in request.POST else form.cleaned_data["odds"] / 100
            steps.set_figures(job, changes, version=version, odds=odds, number=number)
        except Refusal as refusal:
            form.is_valid()
            refuse(form, refusal, {name: name for name in form.fields})
        else:
            toast_last(request, job)
            return to_colour_page(request, "quantities", job)
    raise NotDone(_page, request, job, form=form)


@require_POST
@once
def log_use(request: HttpRequest, job_id: int) -> HttpResponse:
    """Log what a set of pieces took."""
    job = get_object_or_404(Job, pk=job_id)
    form = UseForm(request.POST, prefix="use")
    if form.is_valid():
        keys = set(request.POST.getlist("piece"))
        groups = request.POST.getlist("group")
        number = colour_numbered(job, number_of(request)).number
        listed = survey_gather.rows(job).filter(by_us=True)
        if several(job):
            listed = listed.filter(colour_number=number)
        if groups:
            keys |= set(listed.filter(group__in=groups).values_list("key", flat=True))
        stage = Stage(form.cleaned_data["stage"])
        try:
            assumed = gather.assumptions(job, number)
            use = form.value(assumed, _with_stage(job, sorted(keys), stage))
            steps.log_use(
                job,
                use,
                cups=form.cleaned_data["cups"],
                note=form.cleaned_data["note"],
                device=device_of(request),
            )
        except Refusal as refusal:
            refuse(form, refusal, {"used": "volume", "loss": "cups"})
        else:
            toast_last(request, job)
            return to_colour_page(request, "quantities", job)
    raise NotDone(_page, request, job, use_form=form)


def _with_stage(job: Job, keys: list[str], stage: Stage) -> list[str]:
    """Of the chosen pieces those that get this stage at all: a chair's skirt gets no colour wiped in."""
    if stage is not Stage.WIPED:
        return keys
    sat_on = {p.key for p in survey_gather.pieces(job) if p.wiped_faces}
    return [key for key in keys if key in sat_on]


@require_POST
@once
def strike_use(request: HttpRequest, job_id: int, use_id: int) -> HttpResponse:
    """Strike an entry out."""
    job = get_object_or_404(Job, pk=job_id)
    steps.strike(get_object_or_404(Use, pk=use_id, job=job))
    toast_last(request, job)
    return redirect("used", job.pk)


urlpatterns = [
    path("jobs/<int:job_id>/quantities/", quantities, name="quantities"),
    path("jobs/<int:job_id>/quantities/use/", log_use, name="log_use"),
    path("jobs/<int:job_id>/quantities/use/<int:use_id>/strike/", strike_use, name="strike_use"),
]
