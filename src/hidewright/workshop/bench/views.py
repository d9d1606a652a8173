"""Mixing: the bench of a job: whether there is enough, its cups, gun loads and jars, and what is begun there."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.mixing.recipe import recipe_of
from hidewright.safety.cautions import Operation, beside
from hidewright.units import US_FL_OZ_ML
from hidewright.workshop.bench import forms as fields
from hidewright.workshop.bench import jar_actions as jar_steps
from hidewright.workshop.bench import queries as shown
from hidewright.workshop.colours.queries import chosen_recipe
from hidewright.workshop.frame.acts import NotDone, once
from hidewright.workshop.frame.forms import acted, made
from hidewright.workshop.frame.pages import device_of, job_page, number_of, to_colour_page, toast_last, whole
from hidewright.workshop.pieces.colour_queries import colour_numbered, several
from hidewright.workshop.quantities.queries import colour_gone
from hidewright.workshop.room import actions as portions
from hidewright.workshop.room import queries as loads_queries
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.units import shown_volume


@require_http_methods(["GET"])
def mixing(request: HttpRequest, job_id: int) -> HttpResponse:
    """The bench of a job: cups, gun loads, jars, and whether there is enough."""
    return _bench(request, get_object_or_404(Job, pk=job_id))


def _bench(
    request: HttpRequest,
    job: Job,
    form: fields.CupForm | None = None,
    status: int = 200,
    gun_form: fields.GunForm | None = None,
) -> HttpResponse:
    number = colour_numbered(job, number_of(request)).number
    states = gather.states_of(gather.job_vessels(job, number))
    enough = shown.enough(job, states, number)
    setup = loads_queries.gun()
    context = {
        "states": states,
        "gun": setup,
        "gun_form": gun_form
        or fields.GunForm(
            initial={
                "cup": _written(setup.cup),
                "per_minute": f"{setup.per_minute / _per_minute():.4g}" if setup.per_minute else "",
            }
        ),
        "open_cups": [s for s in states if s.volume and not s.finished and s.row.kind == MixVessel.Kind.CUP],
        "cups": [s for s in states if s.row.kind == MixVessel.Kind.CUP],
        "loads": [s for s in states if s.row.kind == MixVessel.Kind.PORTION],
        "jars": [s for s in states if s.row.kind == MixVessel.Kind.JAR],
        "chosen": chosen_recipe(job, number),
        "enough": enough,
        "used": colour_gone(job, number),
        "form": form
        or fields.CupForm(initial={"measure": MixVessel.Measure.RUNNING, "aim": _written(enough.mix)}),
        "cautions": beside(Operation.WEIGH),
    }
    return job_page(request, job, "mixing", "mixing/bench.html", context, status=status)


def _per_minute() -> float:
    """mL in what the shop reads a gun's pace in."""
    return US_FL_OZ_ML if the_shop().units == "us" else 1.0


def _written(millilitres: float) -> str:
    """A volume as somebody may write it into a form; empty for nothing."""
    return shown_volume(millilitres) if millilitres > 0 else ""


@require_POST
@once
def begin_cup(request: HttpRequest, job_id: int) -> HttpResponse:
    """Begin a cup of the chosen recipe."""
    job = get_object_or_404(Job, pk=job_id)
    form = fields.CupForm(request.POST)
    number = number_of(request)
    chosen = chosen_recipe(job, number)
    if chosen is None:
        form.add_error(None, "No recipe is chosen yet. Choose one on the page Colour.")
        raise NotDone(_bench, request, job, form, 422)

    def begin(told: dict[str, Any]) -> MixVessel:
        return steps.begin_cup(
            job,
            recipe_of(chosen.name, chosen.components),
            told["aim"],
            name=told["name"] or _cup_name(job, number),
            capacity=told["capacity"],
            tare=told["tare"] or 0.0,
            measure=told["measure"],
            hexes=chosen.hexes,
            mixed_hex=chosen.hex,
            recipe_id=chosen.row.pk,
            number=number,
            device=device_of(request),
        )

    row = made(form, begin)
    if row is None:
        raise NotDone(_bench, request, job, form, 422)
    return redirect("vessel", job_id=job.pk, vessel_id=row.pk)


def _cup_name(job: Job, number: int) -> str:
    """What a cup of one of several colours is called; empty leaves it to the recipe's name."""
    return steps.next_name(job, colour_numbered(job, number).label) if several(job) else ""


@require_POST
@once
def set_gun(request: HttpRequest, job_id: int) -> HttpResponse:
    """Set what the shop's gun holds and how fast it lays down."""
    job = get_object_or_404(Job, pk=job_id)
    form = fields.GunForm(request.POST)
    if not acted(
        form,
        lambda told: portions.set_gun(told["cup"], told["per_minute"] and told["per_minute"] * _per_minute()),
    ):
        raise NotDone(_bench, request, job, status=422, gun_form=form)
    toast_last(request, None)
    return to_colour_page(request, "mixing", job)


@require_POST
@once
def top_up(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Begin a cup of the batch as it now is, or by the recipe of a `batch` whose cup holds another mix by now."""
    job = get_object_or_404(Job, pk=job_id)
    row = get_object_or_404(MixVessel.objects.select_related("job"), pk=vessel_id, job=job)
    form = fields.CupForm({**request.POST.dict(), "measure": row.measure})

    gone = row.batches.filter(pk=whole(request.POST.get("batch", ""), 0), withdrawn=None).first()

    def begin(told: dict[str, Any]) -> MixVessel:
        return jar_steps.mix_again(
            row,
            job,
            told["aim"],
            batch=gone,
            capacity=None if gone else shown.holds_both(row, told["aim"]),
            measure=row.measure,
            grain=row.grain,
            device=device_of(request),
        )

    cup = made(form, begin)
    if cup is None:
        raise NotDone(_bench, request, job, form, 422)
    return redirect("vessel", job_id=job.pk, vessel_id=cup.pk)


urlpatterns = [
    path("jobs/<int:job_id>/mixing/", mixing, name="mixing"),
    path("jobs/<int:job_id>/mixing/begin/", begin_cup, name="begin_cup"),
    path("jobs/<int:job_id>/mixing/gun/", set_gun, name="set_gun"),
    path("jobs/<int:job_id>/mixing/<int:vessel_id>/top-up/", top_up, name="top_up"),
]
