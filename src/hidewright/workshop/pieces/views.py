"""The Survey page: a job's list of pieces, brought as a file or entered by hand."""

from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from hidewright import survey as stage
from hidewright.refusals import Refusal
from hidewright.survey.csv_in import COLUMNS, SIZES, write_pieces
from hidewright.units import INCH, read_area, read_length, show_length
from hidewright.workshop.frame.acts import NotDone, once
from hidewright.workshop.frame.forms import acted
from hidewright.workshop.frame.pages import job_page, ticked, toast_last
from hidewright.workshop.lists.forms import BringForm
from hidewright.workshop.pieces import actions as steps
from hidewright.workshop.pieces import queries as gather
from hidewright.workshop.pieces.colour_actions import give_colour
from hidewright.workshop.pieces.colour_views import colour_choices, number_given
from hidewright.workshop.pieces.list_actions import shape_pictures
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.words import by_units

UNFOLDED = 12
"""A list of up to so many pieces is shown unfolded."""
EXAMPLE = (
    ",".join(f"{column} (mm)" if column in SIZES else column for column in COLUMNS) + "\n"
    "C1-seat,seat cushion,Chair 1,cushion,560,540,130,,leather,overcoated,yes,yes,,1,zip at the back,,\n"
    "C1-back,back shell,Chair 1,shell,720,560,,,leather,overcoated,yes,yes,,1,,,\n"
    "C1-arm,arm,Chair 1,arm,520,95,180,,leather,worn,yes,no,,2,,,\n"
    "TP,window panel,Trim,panel,1180,260,,,vinyl,sound,no,no,,8,,,\n"
)
CONDITIONS = {
    "sound": "sound",
    "worn": "worn: crust shows",
    "overcoated": "overcoated: must come off",
    "damaged": "damaged: repair first",
}
DIMENSIONS = ("length", "width", "thickness")


class PieceForm(forms.Form):
    """One piece."""

    key = forms.CharField(label="Mark", max_length=40, help_text="As written on the part, such as LC3-back.")
    name = forms.CharField(label="What it is", max_length=80)
    group = forms.CharField(label="Belongs to", max_length=80, required=False, help_text="Such as Chair 3.")
    shape = forms.ChoiceField(
        label="Shape", choices=[(s.key, s.words[:1].upper() + s.words[1:]) for s in stage.SHAPES.values()]
    )
    length = forms.CharField(label="Length", max_length=30)
    width = forms.CharField(label="Width", max_length=30)
    thickness = forms.CharField(label="Thickness", max_length=30, required=False)
    measured = forms.CharField(
        label="Area off a template",
        max_length=30,
        required=False,
        help_text=by_units(
            "Only where the coated area was measured, such as 0.8 m².",
            "Only where the coated area was measured, such as 9 sq ft.",
        ),
    )
    material = forms.ChoiceField(label="Material", choices=[(m.value, m.value) for m in stage.Material])
    condition = forms.ChoiceField(label="Condition", choices=list(CONDITIONS.items()))
    sat_on = forms.BooleanField(label="People sit or lean on it", required=False)
    turned = forms.BooleanField(label="Coated on both sides", required=False)
    strip = forms.BooleanField(
        label="The old coat comes off first",
        required=False,
        help_text="An overcoated piece is always stripped.",
    )
    notes = forms.CharField(
        label="Notes", max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = "in" if unit == "us" else "mm"
        for name in DIMENSIONS:
            self.fields[name].label = f"{self.fields[name].label}, {self.unit}"
            self.fields[name].widget.attrs.update({"inputmode": "text", "autocomplete": "off"})
        for name in ("key", "group"):
            self.fields[name].widget.attrs["autocomplete"] = "off"

    def clean(self) -> dict[str, Any]:
        """Make the piece, as `piece`; put each refusal beside its field."""
        data = super().clean() or {}
        if self.errors:
            return data
        try:
            data["piece"] = self._piece(data)
        except Refusal as refusal:
            place = {"area": "measured"}.get(refusal.where, refusal.where)
            self.add_error(
                place if place in self.fields else None, f"{refusal.what} {refusal.remedy}".strip()
            )
        return data

    def _piece(self, data: dict[str, Any]) -> stage.Piece:
        length, width, thickness = (self._length(name, data[name]) for name in DIMENSIONS)
        text = data["measured"]
        return stage.make_piece(
            key=data["key"],
            name=data["name"],
            group=data["group"],
            shape=data["shape"],
            length=length,
            width=width,
            thickness=thickness,
            material=data["material"],
            condition=data["condition"],
            sat_on=data["sat_on"],
            turned=data["turned"],
            strip=data["strip"] or None,
            notes=data["notes"],
            measured=round(read_area(text, "sq ft" if self.unit == "in" else "m²"), 12) if text else 0.0,
        )

    def _length(self, name: str, text: str) -> float:
        if not text.strip():
            return 0.0
        try:
            return round(read_length(text, self.unit), 9)
        except Refusal as refusal:
            raise Refusal(refusal.what, where=name, remedy=refusal.remedy) from refusal


LIKE_THE_LAST = ("shape", "material", "condition", "sat_on", "turned")
"""What the form for another piece keeps of the one before: parts come in sets."""


class NewForm(PieceForm):
    """A piece that is not listed yet, or several alike."""

    count = forms.IntegerField(
        label="How many alike",
        min_value=1,
        max_value=500,
        initial=1,
        help_text="More than one are marked -1, -2 …",
    )
    field_order = ("key", "name", "group", "count")


class ManyForm(forms.Form):
    """What is done to many pieces at once."""

    condition = forms.ChoiceField(
        label="Condition", required=False, choices=[("", "leave as it is"), *CONDITIONS.items()]
    )
    sat_on = forms.ChoiceField(
        label="Sat on", required=False, choices=[("", "leave as it is"), ("yes", "yes"), ("no", "no")]
    )
    turned = forms.ChoiceField(
        label="Both sides", required=False, choices=[("", "leave as it is"), ("yes", "yes"), ("no", "no")]
    )
    strip = forms.ChoiceField(
        label="Strip", required=False, choices=[("", "leave as it is"), ("yes", "yes"), ("no", "no")]
    )

    def __init__(self, *args: Any, colours: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", "leave as it is"), *colours]
        self.fields["colour"] = forms.ChoiceField(label="Colour", required=False, choices=choices)

    def changes(self) -> dict[str, Any]:
        """What is to be set; a changed condition carries stripping with it unless that is set too."""
        data = self.cleaned_data
        found: dict[str, Any] = {
            name: data[name] == "yes" for name in ("sat_on", "turned", "strip") if data[name]
        }
        if data["condition"]:
            found = {"condition": data["condition"], "strip": data["condition"] == "overcoated", **found}
        return found


def _list_at(job: Job, group: str) -> HttpResponse:
    """Go back to the list with this group unfolded."""
    return redirect(f"{reverse('survey', args=[job.pk])}?{urlencode({'at': group})}")


def _page(
    request: HttpRequest,
    job: Job,
    *,
    status: int = 200,
    many_form: ManyForm | None = None,
) -> HttpResponse:
    units = the_shop().units
    find = request.GET.get("find", "").strip()[:80]
    listed = gather.pieces(job)
    groups = gather.groups(job, units, find)
    shown = {
        "groups": groups,
        "drawings": gather.drawings(line.piece for group in groups for line in group.lines),
        "totals": gather.totals(listed),
        "find": find,
        "at": request.GET.get("at", ""),
        "few": len(listed) <= UNFOLDED,
        "file_form": BringForm(),
        "many_form": many_form or ManyForm(prefix="many", colours=colour_choices(job)),
    }
    return job_page(request, job, "survey", "survey/page.html", shown, status=status)


@require_GET
def survey(request: HttpRequest, job_id: int) -> HttpResponse:
    """The list of pieces."""
    return _page(request, get_object_or_404(Job, pk=job_id))


@require_http_methods(["GET", "POST"])
@once
def add_piece(request: HttpRequest, job_id: int) -> HttpResponse:
    """Add one piece or several alike."""
    job = get_object_or_404(Job, pk=job_id)
    like = {name: request.GET[name] for name in ("group", *LIKE_THE_LAST) if name in request.GET}
    initial = {"shape": "panel", "count": 1, **like}
    form = NewForm(request.POST or None, unit=the_shop().units, initial=initial)
    if request.method == "POST" and acted(
        form, lambda told: steps.add_pieces(job, told["piece"], told["count"]), {"key": "key"}
    ):
        toast_last(request, job)
        if request.POST.get("then") == "another":
            told = {name: form.cleaned_data[name] for name in ("group", *LIKE_THE_LAST)}
            return redirect(
                f"{reverse('add_piece', args=[job.pk])}?{urlencode({k: v for k, v in told.items() if v})}"
            )
        return _list_at(job, form.cleaned_data["piece"].group)
    shown = {"form": form, "shapes": _shapes(), "row": None}
    return job_page(request, job, "survey", "survey/piece.html", shown, status=422 if form.errors else 200)


def _shapes() -> list[tuple[str, str, Any]]:
    """Every shape: its key, its words and its picture."""
    return [(key, stage.SHAPES[key].words, drawn) for key, drawn in shape_pictures("shape").items()]


def _initial(row: Piece, units: str) -> dict[str, Any]:
    def shown(metres: float) -> str:
        if not metres:
            return ""
        if units != "us":
            return f"{metres * 1000:.10g}"
        sixteenths = show_length(metres, "us")
        return sixteenths.removesuffix(" in") if read_length(sixteenths) == metres else f"{metres / INCH:.6g}"

    facts = {name: getattr(row, name) for name in PieceForm.base_fields if hasattr(row, name)}
    sizes = {name: shown(getattr(row, name)) for name in DIMENSIONS}
    return {**facts, **sizes, "measured": f"{row.measured:.6g} m²" if row.measured else ""}


@require_http_methods(["GET", "POST"])
@once
def edit_piece(request: HttpRequest, job_id: int, piece_id: int) -> HttpResponse:
    """Look at one piece and its faces; change it."""
    job = get_object_or_404(Job, pk=job_id)
    row = get_object_or_404(Piece, pk=piece_id, job=job, removed=None)
    units = the_shop().units
    form = PieceForm(request.POST or None, unit=units, initial=_initial(row, units))
    if request.method == "POST" and acted(
        form, lambda told: steps.change_piece(row, told["piece"], told["version"] or 0), {"key": "key"}
    ):
        toast_last(request, job)
        return _list_at(job, form.cleaned_data["piece"].group)
    shown = {"form": form, "row": row, "piece": gather.value(row), "shapes": _shapes()}
    return job_page(request, job, "survey", "survey/piece.html", shown, status=422 if form.errors else 200)


def _chosen(request: HttpRequest, job: Job) -> list[int]:
    """The ticked pieces and the pieces of ticked groups."""
    ids = set(ticked(request, "piece"))
    groups = request.POST.getlist("group")
    if groups:
        ids |= set(gather.rows(job).filter(group__in=groups).values_list("pk", flat=True))
    return sorted(ids)


@require_POST
@once
def many_pieces(request: HttpRequest, job_id: int) -> HttpResponse:
    """Remove the ticked pieces, or set something on all of them."""
    job = get_object_or_404(Job, pk=job_id)
    form = ManyForm(request.POST, prefix="many", colours=colour_choices(job))
    try:
        if "remove" in request.POST:
            steps.remove_pieces(job, _chosen(request, job))
        elif form.is_valid():
            colour = form.cleaned_data["colour"]
            if form.changes() or not colour:
                steps.mark_pieces(job, _chosen(request, job), form.changes())
            if colour:
                give_colour(job, _chosen(request, job), number_given(colour))
    except Refusal as refusal:
        form.is_valid()
        form.add_error(None, str(refusal))
    if form.errors:
        raise NotDone(_page, request, job, status=422, many_form=form)
    toast_last(request, job)
    return redirect("survey", job.pk)


@require_POST
@once
def remove_piece(request: HttpRequest, job_id: int, piece_id: int) -> HttpResponse:
    """Take one piece off the list."""
    job = get_object_or_404(Job, pk=job_id)
    steps.remove_pieces(job, [get_object_or_404(Piece, pk=piece_id, job=job).pk])
    toast_last(request, job)
    return redirect("survey", job.pk)


def _csv(text: str, name: str) -> HttpResponse:
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


@require_GET
def pieces_csv(request: HttpRequest, job_id: int) -> HttpResponse:
    """The list as a file that can be brought back."""
    return _csv(write_pieces(gather.listed(get_object_or_404(Job, pk=job_id))), "pieces.csv")


@require_GET
def example_csv(request: HttpRequest, job_id: int) -> HttpResponse:
    """A short example of a list, invented."""
    return _csv(EXAMPLE, "example-pieces.csv")


urlpatterns = [
    path("jobs/<int:job_id>/survey/", survey, name="survey"),
    path("jobs/<int:job_id>/survey/add/", add_piece, name="add_piece"),
    path("jobs/<int:job_id>/survey/pieces/<int:piece_id>/", edit_piece, name="edit_piece"),
    path("jobs/<int:job_id>/survey/pieces/<int:piece_id>/remove/", remove_piece, name="remove_piece"),
    path("jobs/<int:job_id>/survey/many/", many_pieces, name="many_pieces"),
    path("jobs/<int:job_id>/survey/pieces.csv", pieces_csv, name="pieces_csv"),
    path("jobs/<int:job_id>/survey/example.csv", example_csv, name="example_pieces_csv"),
]
