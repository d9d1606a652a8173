"""The shop's Pigments page: what is on the list, what was read of it, lots, how the shop reads and coats."""

from datetime import date
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.colour.pigments.generic import SPREAD
from hidewright.workshop.frame.acts import NotDone, once, submitted
from hidewright.workshop.frame.forms import NumberField, UploadForm, VolumeField, acted
from hidewright.workshop.frame.pages import toast_last, went, whole
from hidewright.workshop.lists.views import look_instead
from hidewright.workshop.pigments import actions as steps
from hidewright.workshop.pigments import drawdown_list_actions as drawdown_list_actions
from hidewright.workshop.pigments import find_actions as finding
from hidewright.workshop.pigments import illustrative_actions as generic
from hidewright.workshop.pigments import list_actions as list_actions
from hidewright.workshop.pigments import queries as listing
from hidewright.workshop.pigments import swatches
from hidewright.workshop.pigments import values as gather
from hidewright.workshop.pigments.knowledge import kind_of, lot_words, standing_sights, straying
from hidewright.workshop.pigments.models import Drawdown
from hidewright.workshop.shelf.models import Pigment, PigmentLot
from hidewright.workshop.shelf.stock_queries import pigment_lots
from hidewright.workshop.shop.models import Run
from hidewright.workshop.shop.words import by_units

PLACES = {"Name": "name", "Density": "density", "Solids": "solids", "Price": "price", "Key": "key"}


class FactsForm(forms.Form):
    """A pigment's facts, from its data sheet."""

    name = forms.CharField(label="Name", max_length=80)
    index = forms.CharField(label="Colour Index generic name", max_length=40, required=False)
    density = NumberField(label="Density, g/mL")
    solids = NumberField(
        label="Stays when dry, % of volume",
        min_value=1,
        max_value=100,
    )
    price = forms.DecimalField(
        label="Price of a litre",
        min_value=0,
        max_digits=10,
        decimal_places=2,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
    )
    note = forms.CharField(label="Note", max_length=160, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def facts(self) -> dict[str, Any]:
        """The facts as the steps take them."""
        data = {key: self.cleaned_data[key] for key in steps.FACTS}
        return {**data, "solids": data["solids"] / 100}


class NewForm(FactsForm):
    """A pigment that is not listed yet."""

    key = forms.CharField(label="Key", max_length=40, help_text="The word for it in drawdowns, such as PW6.")
    field_order = ("key",)


class LotForm(forms.Form):
    """A new bottle."""

    name = forms.CharField(label="What is printed on the bottle", max_length=60)
    volume = VolumeField(
        label="How much is in it", required=False, help_text=by_units("Such as 250 mL.", "Such as 8 fl oz.")
    )
    received = forms.DateField(
        label="Came on", required=False, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    keep_until = forms.DateField(
        label="Keep until",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text="As the bottle says.",
    )


class LeftForm(forms.Form):
    """How much is left in a bottle, and until when it keeps; either may be left as it is."""

    left = VolumeField(label="Left in it now", required=False, may_be_nothing=True)
    keep_until = forms.DateField(label="Keep until", required=False)

    def clean(self) -> dict[str, Any]:
        """Something must be told."""
        told = super().clean() or {}
        if not self.errors and told.get("left") is None and not self.tells_day:
            self.add_error("left", "Write how much is left.")
        return told

    @property
    def tells_day(self) -> bool:
        """True where the day was asked for too, filled in or emptied."""
        return self.add_prefix("keep_until") in self.data


class SetupForm(forms.Form):
    """How the shop reads and coats."""

    specular = forms.TypedChoiceField(
        label="The instrument reads",
        coerce=lambda value: value == "yes",
        choices=[
            ("yes", "with the shine (specular component included)"),
            ("no", "without the shine (specular component excluded)"),
        ],
        help_text="Set it as the instrument is set: the wrong one spoils dark colours.",
    )
    coat = NumberField(
        label="One coat, dry µm",
        help_text="7.5 is a usual figure (30 g/m² wet at 25 % solids, from memory). Measure your own.",
    )
    load_low = NumberField(label="Pigment in the mix, at least %")
    load_high = NumberField(
        label="Pigment in the mix, at most %",
        help_text="Of the volume of the mix. 16 to 20 % is common practice, no source; 18 % by volume of a white paste is about 29 % by weight.",
    )


def _page(request: HttpRequest, *, status: int = 200, **sent: forms.Form) -> HttpResponse:
    run = Run.objects.filter(job=None, kind="colour.characterise").first()
    found = (run.result or {}) if run and run.state == "done" else {}
    setup = gather.setup()
    start = {
        "specular": "yes" if setup.specular else "no",
        "coat": setup.coat,
        "load_low": round(100 * setup.load_low, 2),
        "load_high": round(100 * setup.load_high, 2),
    }
    shown: dict[str, Any] = {
        "listed": listing.listed(request.GET.get("q", "")),
        "run": run,
        "drawdowns": Drawdown.objects.filter(aside=None).count(),
        "aside": Drawdown.objects.exclude(aside=None),
        "behind": listing.behind(),
        "found": found,
        "next": [(line, listing.to_weigh(line)) for line in found.get("next", ())],
        "taught": len(standing_sights()),
        "on_offer": len(generic.waiting()),
        "drawdown_form": UploadForm(prefix="drawdowns"),
        "new_form": NewForm(prefix="new", initial={"density": 1.2, "solids": 40, "price": 0}),
        "setup_form": SetupForm(prefix="setup", initial=start),
        **sent,
    }
    return render(request, "pigments/list.html", shown, status=status)


@require_http_methods(["GET"])
def pigments(request: HttpRequest) -> HttpResponse:
    """The shop's pigments."""
    return _page(request)


@require_POST
@once
def bring_drawdowns(request: HttpRequest) -> HttpResponse:
    """Keep the drawdowns of a file, and find K and S; a table that is not in our own columns, or has faults, is looked at and mended first."""
    form = UploadForm(request.POST, request.FILES, prefix="drawdowns")
    if acted(form, lambda _: steps.import_drawdowns(form.text())):
        toast_last(request, None)
        finding.start_characterising()
        return redirect("pigments")
    look = look_instead(None, "drawdowns", form.brought_name, form.brought) if form.brought else None
    if look is None:
        raise NotDone(_page, request, status=422, drawdown_form=form)
    return look


@require_POST
@once
def load_illustrative(request: HttpRequest) -> HttpResponse:
    """Take the illustrative pigments onto the list, and go back to the job whose page asked for them."""
    generic.load_illustrative()
    toast_last(request, None)
    job = whole(request.POST.get("job", ""), 0)
    return redirect("colour", job_id=job) if job else redirect("pigments")


@require_POST
@once
def find_again(request: HttpRequest) -> HttpResponse:
    """Find K and S again from the drawdowns that count: as the shop is set, or, asked to, with the setting of the shine turned round first."""
    how = request.POST.get("how", "")
    if how == "other":
        finding.read_the_other_way()
        toast_last(request, None)
    finding.start_characterising(finding.AS_SET if how == finding.AS_SET else "")
    return redirect("pigments")


@require_POST
@once
def new_pigment(request: HttpRequest) -> HttpResponse:
    """List one pigment by hand."""
    form = NewForm(request.POST, prefix="new")
    return submitted(
        form,
        lambda told: steps.add_pigment(told["key"], **form.facts()),
        lambda _: went(request, None, "pigments"),
        lambda: _page(request, status=422, new_form=form),
        PLACES,
    )


@require_POST
@once
def setup(request: HttpRequest) -> HttpResponse:
    """Change how the shop reads and coats."""
    form = SetupForm(request.POST, prefix="setup")
    return submitted(
        form,
        lambda told: steps.change_setup(
            specular=told["specular"],
            coat=told["coat"],
            load_low=told["load_low"] / 100,
            load_high=told["load_high"] / 100,
        ),
        lambda _: went(request, None, "pigments"),
        lambda: _page(request, status=422, setup_form=form),
        {"Pigment in the mix": "load_low", "One coat": "coat"},
    )


def _one(request: HttpRequest, row: Pigment, *, status: int = 200, **sent: forms.Form) -> HttpResponse:
    value = gather.pigment_value(row)
    holding = [d for d in Drawdown.objects.all() if row.key in d.shares]
    films = [listing.film_of(d, row.misfit.get(d.name)) for d in holding]
    facts = {field: getattr(row, field) for field in steps.FACTS}
    start = {**facts, "solids": round(100 * row.solids, 2), "version": row.version}
    prior = 100 * straying().strength_at(SPREAD if row.provenance else 1.0)
    taught = [
        (key, lot_words(key), 100 * strength, 100 * sd, count)
        for key, strength, sd, count in (row.learned or {}).get("lots", ())
    ]
    shown = {
        "row": row,
        "prior": prior,
        "taught": taught,
        "strengths": swatches.strengths(prior, [each[1:] for each in taught]) if taught else "",
        "sights": [
            sight
            for sight in standing_sights()
            if any(kind_of(str(lot)) == row.key for lot, _ in sight.pours)
        ][-20:],
        "svg": swatches.pigment_swatch(value, gather.whitest(gather.pigments()), height=80)
        if value
        else None,
        "curves": swatches.pigment_curves(value) if value else None,
        "films": films,
        "masstone": listing.masstone(row, value, holding),
        "why": listing.film_evidence(row) if value and not row.provenance else None,
        "contradicting": sum(film.off is not None and max(film.off) > listing.POOR for film in films),
        "poor": listing.POOR,
        "lots": pigment_lots(row),
        "left_form": LeftForm(prefix="left"),
        "facts_form": FactsForm(initial=start),
        "lot_form": LotForm(prefix="lot", initial={"received": date.today()}),
        **sent,
    }
    return render(request, "pigments/one.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def pigment(request: HttpRequest, pigment_id: int) -> HttpResponse:
    """One pigment; posting changes its facts."""
    row = get_object_or_404(Pigment, pk=pigment_id, active=True)
    if request.method == "GET":
        return _one(request, row)
    form = FactsForm(request.POST)
    return submitted(
        form,
        lambda told: steps.edit_pigment(row, version=told["version"] or 0, **form.facts()),
        lambda _: went(request, None, "pigment", pigment_id=row.pk),
        lambda: _one(request, row, status=422, facts_form=form),
        PLACES,
    )


@require_POST
@once
def shelf(request: HttpRequest, pigment_id: int) -> HttpResponse:
    """Say whether a pigment is there."""
    row = get_object_or_404(Pigment, pk=pigment_id, active=True)
    steps.put_on_shelf(row, request.POST.get("on_shelf") == "yes")
    toast_last(request, None)
    return redirect("pigments")


@require_POST
@once
def remove(request: HttpRequest, pigment_id: int) -> HttpResponse:
    """Take a pigment off the list."""
    steps.remove_pigment(get_object_or_404(Pigment, pk=pigment_id, active=True))
    toast_last(request, None)
    return redirect("pigments")


@require_POST
@once
def new_lot(request: HttpRequest, pigment_id: int) -> HttpResponse:
    """Note a new bottle."""
    row = get_object_or_404(Pigment, pk=pigment_id, active=True)
    form = LotForm(request.POST, prefix="lot")
    return submitted(
        form,
        lambda told: steps.add_lot(row, **told),
        lambda _: went(request, None, "pigment", pigment_id=row.pk),
        lambda: _one(request, row, status=422, lot_form=form),
        {"Lot": "name", "Keep until": "keep_until"},
    )


@require_POST
@once
def count_lot(request: HttpRequest, lot_id: int) -> HttpResponse:
    """Note how much is left in a bottle, and until when it keeps."""
    lot = get_object_or_404(PigmentLot.objects.select_related("pigment"), pk=lot_id)
    form = LeftForm(request.POST, prefix="left")

    def note(told: dict[str, Any]) -> None:
        if form.tells_day:
            steps.keep_lot(lot, told["keep_until"])
        if told["left"] is not None:
            steps.count_lot(lot, told["left"])

    return submitted(
        form,
        note,
        lambda _: went(request, None, "pigment", pigment_id=lot.pigment_id),
        lambda: _one(request, lot.pigment, status=422, left_form=form),
        {"Keep until": "keep_until"},
    )


@require_POST
@once
def mark_lot(request: HttpRequest, lot_id: int, what: str) -> HttpResponse:
    """Note that a lot was opened or finished."""
    lot = get_object_or_404(PigmentLot, pk=lot_id)
    steps.mark_lot(lot, what)
    toast_last(request, None)
    return redirect("pigment", pigment_id=lot.pigment_id)


@require_POST
@once
def set_aside(request: HttpRequest, drawdown_id: int, how: str) -> HttpResponse:
    """Take a drawdown out of the reckoning, or bring it back."""
    steps.set_aside(get_object_or_404(Drawdown, pk=drawdown_id), how == "aside")
    toast_last(request, None)
    back = whole(request.POST.get("back", ""), 0)
    return redirect("pigment", pigment_id=back) if back else redirect("pigments")


urlpatterns = [
    path("pigments/", pigments, name="pigments"),
    path("pigments/drawdowns/", bring_drawdowns, name="bring_drawdowns"),
    path("pigments/drawdowns/<int:drawdown_id>/<str:how>/", set_aside, name="set_drawdown_aside"),
    path("pigments/illustrative/", load_illustrative, name="load_illustrative"),
    path("pigments/find/", find_again, name="find_pigments"),
    path("pigments/new/", new_pigment, name="new_pigment"),
    path("pigments/setup/", setup, name="colour_setup"),
    path("pigments/<int:pigment_id>/", pigment, name="pigment"),
    path("pigments/<int:pigment_id>/shelf/", shelf, name="pigment_shelf"),
    path("pigments/<int:pigment_id>/remove/", remove, name="remove_pigment"),
    path("pigments/<int:pigment_id>/lots/", new_lot, name="new_lot"),
    path("pigments/lots/<int:lot_id>/left/", count_lot, name="count_lot"),
    path("pigments/lots/<int:lot_id>/<str:what>/", mark_lot, name="mark_lot"),
]
