"""A cup of one's own on the page: begin it, pour freely, see what it should be, and make it the recipe."""

from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.colour.cups.own import family
from hidewright.refusals import Refusal
from hidewright.workshop.colours import own_actions as steps
from hidewright.workshop.colours import own_queries as gather
from hidewright.workshop.colours.cup_queries import cup_swatches
from hidewright.workshop.colours.likeness_queries import aim_of
from hidewright.workshop.colours.own_forms import BeginForm, LeftoverForm, LikeForm, OwnPourForm
from hidewright.workshop.colours.queries import choice_row, target_row
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, job_page, number_of, toast_last, token_of, went
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pigments import illustrative_actions as generic
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.units import shown_volume

PART_ML, CUP_ML = 30.0, 500.0
"""What the form begins with: one part and the cup, mL."""


def _begin_form(request: HttpRequest, job: Job) -> BeginForm:
    pieces = Piece.objects.filter(job=job, removed=None, by_us=True).order_by("order", "id")
    words = list(dict.fromkeys(f"{p.key} {p.name}" for p in pieces))
    start = {"part": shown_volume(PART_ML), "capacity": shown_volume(CUP_ML)}
    sent = request.POST if request.method == "POST" else None
    aimed = target_row(job, number_of(request)) is not None
    return BeginForm(sent, pieces=words, aimed=aimed, initial=start)


@require_http_methods(["GET", "POST"])
@once
def own_cups(request: HttpRequest, job_id: int) -> HttpResponse:
    """Begin a cup of one's own, or go on with one."""
    job, number = get_object_or_404(Job, pk=job_id), number_of(request)
    form = _begin_form(request, job)
    if request.method == "GET":
        return _begin_page(request, job, form)

    def begin(cleaned: dict[str, Any]) -> MixVessel:
        start = steps.Start(
            cleaned["name"],
            cleaned["capacity"],
            cleaned["part"],
            cleaned.get("word", ""),
            cleaned.get("piece", ""),
        )
        return steps.begin(job, start, number=number, device=device_of(request))

    return submitted(
        form,
        begin,
        lambda row: went(request, job, "own_cup", job_id=job.pk, vessel_id=row.pk),
        lambda: _begin_page(request, job, form, 422),
        {"One part": "part", "Vessel": "capacity"},
    )


def _begin_page(request: HttpRequest, job: Job, form: BeginForm, status: int = 200) -> HttpResponse:
    shelf = Pigment.objects.filter(active=True, load=1.0).exclude(characterised=None).exists()
    context = {
        "form": form,
        "shelf": shelf,
        "on_offer": 0 if shelf else len(generic.waiting()),
        "cups": gather.own_cups(job, number_of(request)),
    }
    return job_page(request, job, "colour", "colour/own_begin.html", context, status=status)


def _cup(job_id: int, vessel_id: int) -> tuple[Job, MixVessel]:
    row = get_object_or_404(MixVessel.objects.select_related("job"), pk=vessel_id, job_id=job_id)
    if gather.PART not in (row.plan or {}):
        raise Http404
    return get_object_or_404(Job, pk=job_id), row


def _page(
    request: HttpRequest, job: Job, row: MixVessel, *, status: int = 200, **sent: forms.Form
) -> HttpResponse:
    own, refused = None, None
    try:
        own = gather.own_cup(job, row)
    except Refusal as refusal:
        refused = refusal
    choice = choice_row(job, row.colour_number)
    start = {"unit": request.GET.get("unit", "parts"), "what": request.GET.get("what", "")}
    context = {
        "vessel": row,
        "own": own,
        "refused": refused,
        "aimed": aim_of(row),
        "swatches": cup_swatches(job, own.state) if own and own.state else [],
        "part": steps.said_part(row),
        "liked": choice is not None and choice.recipe_id == row.recipe_id,
        "of": row.colour_number,
        "pour_form": OwnPourForm(bottles=gather.bottles(), initial=start),
        "left_form": LeftoverForm(prefix="left", initial={"looks": "tan"}),
        "like_form": LikeForm(prefix="like"),
        **sent,
    }
    return job_page(request, job, "colour", "colour/own.html", context, status=status)


@require_http_methods(["GET"])
def own_cup(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """A cup of one's own: what it should be, and what can be poured."""
    job, row = _cup(job_id, vessel_id)
    return _page(request, job, row)


def _poured(request: HttpRequest, job: Job, row: MixVessel, **kept: str) -> HttpResponse:
    toast_last(request, job)
    where = reverse("own_cup", args=[job.pk, row.pk])
    return HttpResponseRedirect(f"{where}?{urlencode(kept)}" if kept else where)


@require_POST
@once
def pour(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Log a free pour."""
    job, row = _cup(job_id, vessel_id)
    form = OwnPourForm(request.POST, bottles=gather.bottles())
    return submitted(
        form,
        lambda cleaned: steps.pour(
            row,
            cleaned["what"],
            cleaned["value"],
            cleaned["unit"],
            token=token_of(request),
            device=device_of(request),
        ),
        lambda _: _poured(request, job, row, unit=form.cleaned_data["unit"], what=form.cleaned_data["what"]),
        lambda: _page(request, job, row, status=422, pour_form=form),
    )


@require_POST
@once
def pour_leftover(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """Throw a leftover in that nobody logged."""
    job, row = _cup(job_id, vessel_id)
    form = LeftoverForm(request.POST, prefix="left")

    def throw(cleaned: dict[str, Any]) -> object:
        l, a, b = (float(v) for v in family(cleaned["looks"]).lab)  # noqa: E741
        return steps.pour_leftover(
            row,
            cleaned["name"],
            (l, a, b),
            cleaned["amount"],
            token=token_of(request),
            device=device_of(request),
        )

    return submitted(
        form,
        throw,
        lambda _: _poured(request, job, row),
        lambda: _page(request, job, row, status=422, left_form=form),
        {"How much": "amount"},
    )


@require_POST
@once
def like(request: HttpRequest, job_id: int, vessel_id: int) -> HttpResponse:
    """The cup becomes the recipe."""
    job, row = _cup(job_id, vessel_id)
    form = LikeForm(request.POST, prefix="like")
    return submitted(
        form,
        lambda cleaned: steps.like(row, cleaned["name"], device=device_of(request)),
        lambda _: _poured(request, job, row),
        lambda: _page(request, job, row, status=422, like_form=form),
    )


urlpatterns = [
    path("jobs/<int:job_id>/colour/own/", own_cups, name="own_cups"),
    path("jobs/<int:job_id>/colour/own/<int:vessel_id>/", own_cup, name="own_cup"),
    path("jobs/<int:job_id>/colour/own/<int:vessel_id>/pour/", pour, name="own_pour"),
    path("jobs/<int:job_id>/colour/own/<int:vessel_id>/leftover/", pour_leftover, name="own_leftover"),
    path("jobs/<int:job_id>/colour/own/<int:vessel_id>/like/", like, name="like_own_cup"),
]
