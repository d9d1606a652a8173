"""Papers: what can be opened and printed, and the PDFs themselves."""

from dataclasses import replace
from datetime import date

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods

from hidewright.papers.day_sheet import day_sheet_pdf
from hidewright.papers.from_plan import day_sheet_of, table_maps_of
from hidewright.papers.mixing_card import mixing_card_pdf
from hidewright.papers.spray_order import spray_order_pdf
from hidewright.papers.table_maps import table_maps_pdf
from hidewright.papers.touch_up import touch_up_pdf
from hidewright.refusals import Refusal
from hidewright.units import read_volume, show_volume
from hidewright.workshop.bench.touch_up_queries import touch_up_sheet
from hidewright.workshop.colours.queries import chosen_recipe
from hidewright.workshop.days.queries import done_keys, plan_in_force
from hidewright.workshop.days.views import unit_of_shop
from hidewright.workshop.frame.pages import job_page, number_of, pdf_answer
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.papers import queries as gather
from hidewright.workshop.pieces.colour_queries import colour_numbered
from hidewright.workshop.pieces.queries import piece_names
from hidewright.workshop.room.queries import racks
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.words import by_units


class CardForm(forms.Form):
    """What a mixing card is made for."""

    batch = forms.CharField(
        label="How much to mix",
        max_length=20,
        help_text=by_units("Like 900 mL or 1.2 L.", "Like 1 qt or 24 fl oz."),
    )
    vessel = forms.CharField(label="In which vessel", max_length=60, required=False)

    def clean_batch(self) -> float:
        """The batch in mL."""
        try:
            millilitres = read_volume(self.cleaned_data["batch"], "mL")
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if not 1 <= millilitres <= 200_000:
            raise forms.ValidationError("A batch holds between 1 mL and 200 L.")
        return millilitres


@require_http_methods(["GET"])
def papers(request: HttpRequest, job_id: int) -> HttpResponse:
    """Every paper of the job."""
    return _page(request, get_object_or_404(Job, pk=job_id))


def _page(request: HttpRequest, job: Job, form: CardForm | None = None, status: int = 200) -> HttpResponse:
    number = colour_numbered(job, number_of(request)).number
    has_recipe = chosen_recipe(job, number) is not None
    groups = [
        *([] if has_recipe else [("Colour", gather.colour_papers(job, number))]),
        ("Days", gather.plan_papers(job, date.today())),
        ("Spraying", gather.piece_papers(job, number)),
        ("With the customer", gather.customer_papers(job)),
        ("Handing over", gather.hand_over_papers(job, number)),
    ]
    mix, _ = gather.to_mix(job, number)
    batch = show_volume(mix, the_shop().units) if mix else "1 qt" if the_shop().units == "us" else "1 L"
    context = {
        "groups": groups,
        "card_form": form or CardForm(initial={"batch": batch}),
        "has_recipe": has_recipe,
    }
    return job_page(request, job, "papers", "papers/page.html", context, status=status)


@require_http_methods(["GET"])
def mixing_card(request: HttpRequest, job_id: int) -> HttpResponse:
    """The mixing card of the chosen recipe, scaled to a batch, as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    form = CardForm(request.GET)
    if not form.is_valid():
        return _page(request, job, form, status=422)
    batch = form.cleaned_data["batch"]
    vessel = form.cleaned_data["vessel"] or f"a vessel of at least {show_volume(batch, the_shop().units)}"
    address = request.build_absolute_uri(reverse("papers", args=[job.pk]))
    card = gather.mixing_card(
        job, batch, vessel, made_on=date.today(), page_url=address, number=number_of(request)
    )
    return pdf_answer(mixing_card_pdf(card, paper_of(request)), f"{job.name} mixing card")


@require_http_methods(["GET"])
def touch_up(request: HttpRequest, job_id: int) -> HttpResponse:
    """The touch-up sheet as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    address = request.build_absolute_uri(reverse("papers", args=[job.pk]))
    sheet = touch_up_sheet(job, made_on=date.today(), page_url=address, number=number_of(request))
    return pdf_answer(touch_up_pdf(sheet, paper_of(request)), f"{job.name} touch-up")


@require_http_methods(["GET"])
def day_sheet(request: HttpRequest, job_id: int, day: str) -> HttpResponse:
    """The day sheet of one day as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        raise Http404("no such day") from None
    plan = plan_in_force(job)
    if plan is None:
        raise Refusal("There is no plan yet.", remedy="Make one on the page Days.")
    sheet = day_sheet_of(
        plan,
        wanted,
        job=job.name,
        made_on=date.today(),
        done=done_keys(job),
        unit=unit_of_shop(),
        page_url=request.build_absolute_uri(reverse("day", args=[job.pk, day])),
        names=piece_names(job),
    )
    sheet = replace(sheet, how_to=gather.how_to(job, plan, wanted))
    return pdf_answer(day_sheet_pdf(sheet, paper_of(request)), f"{job.name} day sheet {day}")


@require_http_methods(["GET"])
def table_maps(request: HttpRequest, job_id: int) -> HttpResponse:
    """The table maps of the whole plan as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    plan = plan_in_force(job)
    if plan is None:
        raise Refusal("There is no plan yet.", remedy="Make one on the page Days.")
    maps = table_maps_of(
        plan,
        job=job.name,
        made_on=date.today(),
        unit=unit_of_shop(),
        page_url=request.build_absolute_uri(reverse("days", args=[job.pk])),
        racks=racks(),
        names=piece_names(job),
    )
    return pdf_answer(table_maps_pdf(maps, paper_of(request)), f"{job.name} table maps")


@require_http_methods(["GET"])
def spray_order(request: HttpRequest, job_id: int) -> HttpResponse:
    """The spray order card as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    address = request.build_absolute_uri(reverse("papers", args=[job.pk]))
    card = gather.spray_order(job, made_on=date.today(), page_url=address, number=number_of(request))
    return pdf_answer(spray_order_pdf(card, paper_of(request)), f"{job.name} spray order")


urlpatterns = [
    path("jobs/<int:job_id>/papers/", papers, name="papers"),
    path("jobs/<int:job_id>/papers/day-sheet/<str:day>.pdf", day_sheet, name="day_sheet_pdf"),
    path("jobs/<int:job_id>/papers/table-maps.pdf", table_maps, name="table_maps_pdf"),
    path("jobs/<int:job_id>/papers/mixing-card.pdf", mixing_card, name="mixing_card_pdf"),
    path("jobs/<int:job_id>/papers/touch-up.pdf", touch_up, name="touch_up_pdf"),
    path("jobs/<int:job_id>/papers/spray-order.pdf", spray_order, name="spray_order_pdf"),
]
