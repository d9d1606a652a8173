"""One vessel of the bench: the next pour large on the page, what is in it, and what can be done with it."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.mixing.amounts import microlitres, millilitres
from hidewright.mixing.guide import Measure, poured
from hidewright.mixing.vessels import Way
from hidewright.refusals import Refusal
from hidewright.workshop.bench import forms as fields
from hidewright.workshop.bench import jar_actions as jar_steps
from hidewright.workshop.bench import load_actions as portions
from hidewright.workshop.bench import queries as shown
from hidewright.workshop.colours.plane import recipe_plane_svg
from hidewright.workshop.colours.queries import chosen_recipe
from hidewright.workshop.colours.search_queries import jars_of_recipe
from hidewright.workshop.frame.acts import NotDone, once
from hidewright.workshop.frame.forms import refuse
from hidewright.workshop.frame.pages import (
    device_of,
    job_page,
    to_colour_page,
    toast,
    toast_last,
    token_of,
)
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixTurn, MixVessel, Product
from hidewright.workshop.shop.models import Job


@require_http_methods(["GET"])
def vessel(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """One vessel: the next pour, what is in it, and what can be done with it."""
    job, row = _find(job_id, vessel_id)
    return _vessel(request, job, row)


def _find(job_id: int, vessel_id: int) -> tuple[Job, MixVessel]:
    job = get_object_or_404(Job, pk=job_id)
    return job, get_object_or_404(MixVessel.objects.select_related("job"), pk=vessel_id, job=job)


def _vessel(
    request: HttpRequest,
    job: Job,
    row: MixVessel,
    *,
    status: int = 200,
    failed: str = "",
    form: forms.Form | None = None,
    refusal: Refusal | None = None,
) -> HttpResponse:
    view = shown.vessel_view(job, row)
    ready: dict[str, forms.Form] = {
        "pour": fields.PourForm(initial={"lot": view.lot}),
        "measure": fields.MeasureForm(
            initial={"measure": row.measure, "tare": f"{row.tare:g}", "grain": f"{row.grain}"}
        ),
        "drop": fields.DropForm(view.bottles),
        "use": fields.SprayForm(shown.groups_left(job, row.colour_number)),
        "discard": fields.AmountForm(),
        "load": fields.LoadForm(),
        "crosslink": fields.CrosslinkForm(initial=shown.usual_crosslinker()),
        "jar": fields.JarForm(),
        "bigger": fields.BiggerForm(),
        "box": fields.VesselChoice(view.boxable),
        "other": fields.OtherForm(view.others),
    }
    if form is not None and failed:
        ready[failed] = form
    chosen = chosen_recipe(job, row.colour_number)
    pouring_it = chosen and view.state.recipe and view.state.recipe.name == chosen.name
    context = {
        "jars_first": jars_of_recipe(row),
        "plane": recipe_plane_svg(job, row.colour_number) if pouring_it else "",
        "of": row.colour_number,
        "view": view,
        "state": view.state,
        "forms": ready,
        "failed": failed,
        "refused": refusal,
    }
    return job_page(request, job, "mixing", "mixing/vessel.html", context, status=status)


@require_POST
@once
def pour(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Log a pour: as shown, or as it was read."""
    job, row = _find(job_id, vessel_id)
    state = gather.state_of(row)
    component = request.POST.get("component", "")
    form = None if request.POST.get("how") == "shown" else fields.PourForm(request.POST)
    try:
        shown.refuse_if_stale(state, component, request.POST.get("seen", ""))
        if form is None:
            amount, said = _as_shown(state, component)
        elif not form.is_valid():
            raise NotDone(_vessel, request, job, row, status=422, failed="pour", form=form)
        else:
            amount, said = _as_read(state, component, form.cleaned_data["value"])
        if amount <= 0:
            raise Refusal(
                "Nothing was poured.", where="Reading", remedy="Write what was read after the pour."
            )
        steps.pour(
            row,
            component,
            amount,
            lot=(request.POST.get("lot") or "")[:60],
            said=said,
            token=token_of(request),
            device=device_of(request),
        )
    except Refusal as refusal:
        raise NotDone(
            _vessel, request, job, row, status=422, refusal=refusal, failed="pour", form=form
        ) from refusal
    toast_last(request, job)
    return redirect("vessel", job_id=job.pk, vessel_id=row.pk)


def _as_shown(state: gather.VesselState, component: str) -> tuple[int, str]:
    for step in state.steps:
        if step.key == component:
            return microlitres(step.volume), "as shown"
    raise Refusal("This is not in the recipe.", where="component", remedy="Reload the page.")


def _as_read(state: gather.VesselState, component: str, value: float) -> tuple[int, str]:
    known = gather.components().get(component)
    if known is None:
        raise Refusal("This is not in the recipe.", where="component", remedy="Reload the page.")
    kind = state.row.measure
    if kind == MixVessel.Measure.DROPS:
        return poured(value, Measure.DROPS, density=known.density, drop=known.drop), f"{value:g} drops"
    if kind == MixVessel.Measure.VOLUME:
        return poured(value, Measure.VOLUME, density=known.density), ""
    before = state.shown if kind == MixVessel.Measure.RUNNING else None
    amount = poured(value, Measure.BALANCE, density=known.density, shown_before=before)
    return amount, f"{millilitres(amount) * known.density:.2f} g"


Doing = Callable[[HttpRequest, Job, MixVessel, Any], HttpResponse | None]
Making = Callable[[Job, MixVessel, Any], forms.Form]


def _plain(form: type[forms.Form]) -> Making:
    return lambda _job, _row, posted: form(posted)


def _act(name: str, make: Making, do: Doing) -> Callable[..., HttpResponse]:
    """A view that reads one form of the vessel's page and carries out one act."""

    @require_POST
    @once
    def view(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
        job, row = _find(job_id, vessel_id)
        form = make(job, row, request.POST)
        if not form.is_valid():
            raise NotDone(_vessel, request, job, row, status=422, failed=name, form=form)
        try:
            answer = do(request, job, row, form.cleaned_data)
        except Refusal as refusal:
            refuse(form, refusal)
            raise NotDone(
                _vessel, request, job, row, status=422, failed=name, form=form, refusal=refusal
            ) from refusal
        toast_last(request, job)
        return answer or redirect("vessel", job_id=job.pk, vessel_id=row.pk)

    return view


def _go(job: Job, row: MixVessel) -> HttpResponse:
    return redirect("vessel", job_id=job.pk, vessel_id=row.pk)


def _use(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> None:
    portions.spray(
        row,
        told["amount"],
        shown.shares_of(job, told["groups"], told["coats"], row.colour_number),
        note=told["note"],
        token=token_of(request),
        device=device_of(request),
    )


def _discard(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> None:
    portions.discard(
        row, told["amount"], note=told["note"], token=token_of(request), device=device_of(request)
    )


def _load(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> HttpResponse:
    load = portions.draw_off(
        row,
        told["amount"],
        name=told["name"],
        capacity=told["capacity"],
        token=token_of(request),
        device=device_of(request),
    )
    return _go(job, load)


def _crosslink(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> None:
    portions.crosslink(
        row,
        told["product"],
        told["ratio"] / 100,
        told["pot_life"],
        lot=told["lot"],
        token=token_of(request),
        device=device_of(request),
    )


def _jar(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> HttpResponse:
    jar = jar_steps.keep_jar(
        row,
        told["amount"],
        name=told["name"],
        until=told["until"],
        token=token_of(request),
        device=device_of(request),
    )
    return redirect("jar", jar_id=jar.pk)


def _bigger(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> HttpResponse:
    return _go(
        job, steps.bigger_vessel(row, told["capacity"], token=token_of(request), device=device_of(request))
    )


def _measure(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> HttpResponse:
    steps.change_measure(row, told["measure"], told["tare"] or 0.0, told["grain"])
    toast(request, "Measured the new way from now on.")
    return _go(job, row)


def _spray_form(job: Job, row: MixVessel, posted: Any) -> fields.SprayForm:
    return fields.SprayForm(shown.groups_left(job, row.colour_number), posted)


def _box_form(job: Job, row: MixVessel, posted: Any) -> fields.VesselChoice:
    return fields.VesselChoice(shown.boxable(job, row), posted)


def _other_form(job: Job, row: MixVessel, posted: Any) -> fields.OtherForm:
    return fields.OtherForm(shown.pourable(), posted)


def _other(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> None:
    steps.pour_product(
        row,
        get_object_or_404(Product, key=told["product"]),
        microlitres(told["amount"]),
        lot=told["lot"],
        token=token_of(request),
        device=device_of(request),
    )


def _box(request: HttpRequest, job: Job, row: MixVessel, told: Any) -> HttpResponse:
    other_id, way, capacity = told["vessel"].split(":")
    other = get_object_or_404(MixVessel, pk=other_id, job=job)
    target = portions.box_by(
        row, other, Way(way), int(capacity), token=token_of(request), device=device_of(request)
    )
    return _go(job, target)


@require_POST
@once
def calibrate(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Note the drop of a bottle."""
    job, row = _find(job_id, vessel_id)
    form = fields.DropForm(shown.vessel_view(job, row).bottles, request.POST)
    if not form.is_valid():
        raise NotDone(_vessel, request, job, row, status=422, failed="drop", form=form)
    told = form.cleaned_data
    try:
        size = steps.calibrate_drop(told["component"], told["drops"], told["grams"])
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        raise NotDone(_vessel, request, job, row, status=422, failed="drop", form=form) from refusal
    toast(request, f"One drop of this bottle is {size:.3f} mL.")
    return _go(job, row)


@require_POST
@once
def take_back(request: HttpRequest, job_id: int, vessel_id: int, entry_id: int) -> HttpResponse:
    """Take an entry back by a counter-entry."""
    job, row = _find(job_id, vessel_id)
    get_object_or_404(MixTurn, vessel=row, entry=entry_id)
    try:
        steps.take_back(entry_id, token=token_of(request), device=device_of(request))
    except Refusal as refusal:
        raise NotDone(_vessel, request, job, row, status=422, refusal=refusal) from refusal
    toast_last(request, job)
    return _go(job, row)


@require_POST
@once
def accept(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Take the cup as it is."""
    job, row = _find(job_id, vessel_id)
    steps.accept(row, device=device_of(request))
    toast_last(request, job)
    return _go(job, row)


@require_POST
@once
def put_away(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Put an empty vessel away."""
    job, row = _find(job_id, vessel_id)
    try:
        steps.put_away(row, device=device_of(request))
    except Refusal as refusal:
        raise NotDone(_vessel, request, job, row, status=422, refusal=refusal) from refusal
    toast_last(request, job)
    return to_colour_page(request, "mixing", job)


_AT = "jobs/<int:job_id>/mixing/<int:vessel_id>/"
urlpatterns = [
    path(_AT, vessel, name="vessel"),
    path(f"{_AT}pour/", pour, name="pour"),
    path(f"{_AT}use/", _act("use", _spray_form, _use), name="use_colour"),
    path(f"{_AT}discard/", _act("discard", _plain(fields.AmountForm), _discard), name="discard_colour"),
    path(f"{_AT}load/", _act("load", _plain(fields.LoadForm), _load), name="draw_off"),
    path(f"{_AT}crosslink/", _act("crosslink", _plain(fields.CrosslinkForm), _crosslink), name="crosslink"),
    path(f"{_AT}jar/", _act("jar", _plain(fields.JarForm), _jar), name="keep_jar"),
    path(f"{_AT}bigger/", _act("bigger", _plain(fields.BiggerForm), _bigger), name="bigger_vessel"),
    path(f"{_AT}measure/", _act("measure", _plain(fields.MeasureForm), _measure), name="change_measure"),
    path(f"{_AT}box/", _act("box", _box_form, _box), name="box"),
    path(f"{_AT}other/", _act("other", _other_form, _other), name="pour_other"),
    path(f"{_AT}drop/", calibrate, name="calibrate_drop"),
    path(f"{_AT}accept/", accept, name="accept_cup"),
    path(f"{_AT}put-away/", put_away, name="put_vessel_away"),
    path(f"{_AT}back/<int:entry_id>/", take_back, name="take_back"),
]
