"""The Colour page of a job: readings, target, recipes, the one chosen."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.colour.cups.own import FAMILIES
from hidewright.colour.light.far import NEAR_ENOUGH
from hidewright.colour.recipes.shift import downstream
from hidewright.refusals import Refusal
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import list_actions as list_actions
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours import search_forms as match_form
from hidewright.workshop.colours import search_queries as shelf_gather
from hidewright.workshop.colours import swatches
from hidewright.workshop.colours.alike import in_rows
from hidewright.workshop.colours.forms import TypedColourForm
from hidewright.workshop.colours.models import Choice, Reading, Recipe
from hidewright.workshop.frame.acts import NotDone, once, submitted
from hidewright.workshop.frame.forms import NumberField, UploadForm, acted
from hidewright.workshop.frame.pages import (
    device_of,
    job_page,
    number_of,
    to_colour_page,
    toast,
    toast_last,
)
from hidewright.workshop.lists.views import look_instead
from hidewright.workshop.pieces.colour_queries import colour_numbered
from hidewright.workshop.pigments import illustrative_actions as generic
from hidewright.workshop.pigments import lamp_actions as steps_lamp_actions
from hidewright.workshop.pigments import lamp_queries as shelf_gather_lamp_queries
from hidewright.workshop.pigments.models import Lamp
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shelf.vessel_queries import job_vessels
from hidewright.workshop.shop.models import Job


class ColourForm(TypedColourForm):
    """A colour as an instrument or a letter states it."""

    field_order = ("name", "space")
    name = forms.CharField(label="What was read", max_length=120)
    state = forms.ChoiceField(label="It was", choices=[("dry", "dry"), ("wet", "wet")])


class TargetForm(forms.Form):
    """Which reading is aimed at, and what lies under it."""

    target = forms.TypedChoiceField(label="Target", coerce=int)
    old = forms.TypedChoiceField(
        label="Old colour",
        coerce=int,
        empty_value=None,
        required=False,
        help_text="What the coats must hide.",
    )
    tolerance = NumberField(label="Near enough", min_value=0.05, max_value=10, help_text=NEAR_ENOUGH)

    def __init__(self, *args: Any, readings: list[gather.ReadingValue], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(r.id, f"{r.name} ({r.state})") for r in readings]
        self.fields["target"].choices = choices  # type: ignore[attr-defined]
        self.fields["old"].choices = [("", "not known"), *choices]  # type: ignore[attr-defined]


class LampForm(UploadForm):
    """The spectrum of a lamp."""

    name = forms.CharField(label="Which lamp", max_length=60, help_text="Such as: saloon, ceiling.")
    field_order = ("name", "file")


def _shelf() -> list[Pigment]:
    return list(Pigment.objects.filter(active=True, load=1.0).exclude(characterised=None))


def _downstream(chosen: Recipe, best: Recipe) -> tuple[str, ...]:
    """What changes later if the best recipe for a new target takes the place of the chosen one."""
    if chosen.target_id == best.target_id:
        return ()
    return downstream(gather.recipe_value(chosen.data), gather.recipe_value(best.data))


def _to_choose(found: list[Recipe], chosen: Choice | None, aimed: gather.TargetValue | None) -> bool:
    """Whether recipes for the target in force wait for one of them to be chosen: then they come first."""
    if not found or aimed is None or found[0].target_id != aimed.id:
        return False
    if chosen is not None and chosen.recipe.way == gather.BY_HAND and chosen.recipe.target_id == aimed.id:
        return False
    return chosen is None or chosen.recipe_id not in {row.pk for row in found}


def _page(request: HttpRequest, job: Job, *, status: int = 200, **forms_sent: forms.Form) -> HttpResponse:
    number = colour_numbered(job, number_of(request)).number
    aimed = gather.target(job, number)
    readings = gather.readings(job)
    shelf = _shelf()
    jars = shelf_gather.jars_offered(job, number) if shelf and aimed else []
    run = shelf_gather.newest_search(job, number)
    chosen = gather.choice_row(job, number)
    found = gather.newest_recipes(job, number)
    wet = swatches.WetCups.now() if found or chosen else None
    recipes = [swatches.recipe_shown(row, aimed, wet=wet) for row in found]
    target_start = (
        {"target": aimed.target.id, "old": aimed.old.id if aimed.old else "", "tolerance": aimed.tolerance}
        if aimed
        else {"tolerance": 1.0}
    )
    shown = {
        "aimed": aimed,
        "aimed_swatches": swatches.target_swatches(aimed) if aimed else [],
        "readings": readings,
        "shelf": shelf,
        "on_offer": 0 if shelf else len(generic.waiting()),
        "illustrative": [row.name for row in shelf if row.provenance],
        "run": run,
        "chosen": swatches.recipe_shown(chosen.recipe, aimed, height=120, wet=wet) if chosen else None,
        "downstream": _downstream(chosen.recipe, found[0]) if chosen and found else (),
        "chosen_at": chosen.made if chosen else None,
        "to_choose": _to_choose(found, chosen, aimed),
        "recipes": recipes,
        "recipe_rows": in_rows(recipes, chosen.recipe_id if chosen else None),
        "cups": [row for row in job_vessels(job, number) if row.kind != MixVessel.Kind.JAR],
        "history": Choice.objects.filter(job=job, recipe__target__colour_number=number).select_related(
            "recipe", "device"
        )[:12],
        "target_form": TargetForm(readings=readings, initial=target_start),
        "family_form": FamilyForm(prefix="family", initial={"word": "tan"}),
        "match_form": match_form.MatchForm(
            pigments=shelf, jars=jars, initial=match_form.start(run, shelf, jars)
        ),
        "lamps": shelf_gather_lamp_queries.lamps(),
        "lamp_form": LampForm(prefix="lamp"),
        "upload_form": UploadForm(prefix="file"),
        "colour_form": ColourForm(prefix="typed"),
        **forms_sent,
    }
    return job_page(request, job, "colour", "colour/page.html", shown, status=status)


@require_http_methods(["GET"])
def colour(request: HttpRequest, job_id: int) -> HttpResponse:
    """Readings, target, recipes and the one chosen."""
    return _page(request, get_object_or_404(Job, pk=job_id))


@require_POST
@once
def bring_readings(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep the readings of a file; a table that is not in our own columns, or has faults, is looked at and mended first."""
    job = get_object_or_404(Job, pk=job_id)
    form = UploadForm(request.POST, request.FILES, prefix="file")
    if acted(form, lambda _: steps.import_readings(job, form.text(), number=number_of(request))):
        toast_last(request, job)
        return to_colour_page(request, "colour", job)
    look = look_instead(job, "readings", form.brought_name, form.brought) if form.brought else None
    if look is None:
        raise NotDone(_page, request, job, status=422, upload_form=form)
    return look


@require_POST
@once
def type_colour(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep a typed colour."""
    job = get_object_or_404(Job, pk=job_id)
    form = ColourForm(request.POST, prefix="typed")
    if acted(
        form,
        lambda told: steps.type_colour(
            job,
            told["name"],
            told["lab"],
            light=told["light"],
            observer=told["observer"],
            state=told["state"],
        ),
        {"Name": "name"},
    ):
        toast_last(request, job)
        return to_colour_page(request, "colour", job)
    raise NotDone(_page, request, job, status=422, colour_form=form)


@require_POST
@once
def strike(request: HttpRequest, job_id: int, reading_id: int) -> HttpResponse:
    """Strike out a reading."""
    row = get_object_or_404(Reading, pk=reading_id, job_id=job_id, struck=None)
    try:
        steps.strike_reading(row)
    except Refusal as refusal:
        toast(request, str(refusal))
    else:
        toast_last(request, row.job)
    return to_colour_page(request, "colour", row.job)


@require_POST
@once
def set_target(request: HttpRequest, job_id: int) -> HttpResponse:
    """Say what is aimed at."""
    job = get_object_or_404(Job, pk=job_id)
    form = TargetForm(request.POST, readings=gather.readings(job))
    if acted(
        form,
        lambda told: steps.set_target(
            job, told["target"], told["old"], told["tolerance"], number_of(request)
        ),
        {"Target": "target", "Old colour": "old", "Near enough": "tolerance"},
    ):
        toast_last(request, job)
        return to_colour_page(request, "colour", job)
    raise NotDone(_page, request, job, status=422, target_form=form)


class FamilyForm(forms.Form):
    """The colour by a word, where nothing was read."""

    word = forms.ChoiceField(label="It is", choices=[(word, word) for word in FAMILIES])


@require_POST
@once
def aim_by_word(request: HttpRequest, job_id: int) -> HttpResponse:
    """Aim at a colour of which only a word is known."""
    job = get_object_or_404(Job, pk=job_id)
    form = FamilyForm(request.POST, prefix="family")
    return submitted(
        form,
        lambda cleaned: steps.aim_at_family(job, cleaned["word"], number_of(request)),
        lambda _: _aimed(request, job),
        lambda: _page(request, job, status=422, family_form=form),
    )


def _aimed(request: HttpRequest, job: Job) -> HttpResponse:
    toast_last(request, job)
    return to_colour_page(request, "colour", job)


@require_POST
@once
def find_recipes(request: HttpRequest, job_id: int) -> HttpResponse:
    """Start a search for recipes."""
    job = get_object_or_404(Job, pk=job_id)
    jars = shelf_gather.jars_offered(job, number_of(request))
    form = match_form.MatchForm(request.POST, pigments=_shelf(), jars=jars)
    places = {"load": "load_low", "most": "most", "old colour": "coats", "batch": "batch"}
    return submitted(
        form,
        lambda _: steps.start_match(job, {**form.asked(), "number": number_of(request)}),
        lambda _: to_colour_page(request, "colour", job),
        lambda: _page(request, job, status=422, match_form=form),
        places,
    )


@require_POST
@once
def bring_lamp(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep the spectrum of a lamp."""
    job = get_object_or_404(Job, pk=job_id)
    form = LampForm(request.POST, request.FILES, prefix="lamp")
    if acted(form, lambda told: steps_lamp_actions.bring_lamp(told["name"], form.text()), {"Name": "name"}):
        toast_last(request, None)
        return to_colour_page(request, "colour", job)
    raise NotDone(_page, request, job, status=422, lamp_form=form)


@require_POST
@once
def remove_lamp(request: HttpRequest, job_id: int, lamp_id: int) -> HttpResponse:
    """Take a lamp off the list."""
    steps_lamp_actions.remove_lamp(get_object_or_404(Lamp, pk=lamp_id, removed=None))
    toast_last(request, None)
    return to_colour_page(request, "colour", get_object_or_404(Job, pk=job_id))


@require_POST
@once
def choose(request: HttpRequest, job_id: int, recipe_id: int) -> HttpResponse:
    """Choose a recipe for the job."""
    row = get_object_or_404(Recipe, pk=recipe_id, job_id=job_id)
    steps.choose(row, device_of(request))
    toast_last(request, row.job)
    return to_colour_page(request, "colour", row.job)


@require_http_methods(["GET"])
def curves(request: HttpRequest, job_id: int, recipe_id: int) -> HttpResponse:
    """Reflectance of target, recipe and old colour; a fragment for htmx, a page of its own otherwise."""
    row = get_object_or_404(
        Recipe.objects.select_related("target__reading", "target__old"), pk=recipe_id, job_id=job_id
    )
    shown = {"svg": swatches.recipe_curves(row), "title": f"Curves of {row.name}"}
    if getattr(request, "htmx", False):
        return render(request, "colour/_curves.html", shown)
    return job_page(request, row.job, "colour", "colour/curves.html", shown)


@require_http_methods(["GET"])
def compare(request: HttpRequest, job_id: int) -> HttpResponse:
    """Reflectance of the job's readings."""
    job = get_object_or_404(Job, pk=job_id)
    readings = gather.readings(job)
    if not readings:
        raise Refusal("There are no readings yet.", remedy="Bring some on the page Colour.")
    shown = {"svg": swatches.reading_curves(readings), "title": "Curves of the readings"}
    if getattr(request, "htmx", False):
        return render(request, "colour/_curves.html", shown)
    return job_page(request, job, "colour", "colour/curves.html", shown)


urlpatterns = [
    path("jobs/<int:job_id>/colour/", colour, name="colour"),
    path("jobs/<int:job_id>/colour/readings/", bring_readings, name="bring_readings"),
    path("jobs/<int:job_id>/colour/readings/curves/", compare, name="reading_curves"),
    path("jobs/<int:job_id>/colour/readings/<int:reading_id>/strike/", strike, name="strike_reading"),
    path("jobs/<int:job_id>/colour/typed/", type_colour, name="type_colour"),
    path("jobs/<int:job_id>/colour/target/", set_target, name="set_target"),
    path("jobs/<int:job_id>/colour/word/", aim_by_word, name="aim_by_word"),
    path("jobs/<int:job_id>/colour/match/", find_recipes, name="find_recipes"),
    path("jobs/<int:job_id>/colour/lamps/", bring_lamp, name="bring_lamp"),
    path("jobs/<int:job_id>/colour/lamps/<int:lamp_id>/remove/", remove_lamp, name="remove_lamp"),
    path("jobs/<int:job_id>/colour/recipes/<int:recipe_id>/choose/", choose, name="choose_recipe"),
    path("jobs/<int:job_id>/colour/recipes/<int:recipe_id>/curves/", curves, name="recipe_curves"),
]
