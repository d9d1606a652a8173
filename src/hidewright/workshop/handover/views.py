"""Packing what came in, handing it over, and the papers that go along."""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from hidewright.papers.care_sheet import care_sheet_pdf
from hidewright.papers.piece_list import piece_list_pdf
from hidewright.refusals import Refusal
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, job_page, pdf_answer, ticked, went, whole
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.handover import actions as steps
from hidewright.workshop.handover import paper_queries as papers
from hidewright.workshop.handover import queries as gather
from hidewright.workshop.handover.forms import HandOverForm, StaysForm
from hidewright.workshop.handover.models import HandOver
from hidewright.workshop.shop.models import Job


@require_GET
def handover(request: HttpRequest, job_id: int) -> HttpResponse:
    """What goes out: each piece that came in, packed or named."""
    return _page(request, get_object_or_404(Job, pk=job_id))


def _page(
    request: HttpRequest, job: Job, *, form: StaysForm | None = None, status: int = 200
) -> HttpResponse:
    shown = {"found": gather.packing(job), "signed": gather.signed(job), "form": form or StaysForm()}
    return job_page(request, job, "papers", "handover/page.html", shown, status=status)


@require_POST
@once
def pack(request: HttpRequest, job_id: int) -> HttpResponse:
    """Pack the ticked pieces, name them as staying, or take them out again."""
    job = get_object_or_404(Job, pk=job_id)
    form = StaysForm(request.POST)
    keys = ticked(request, "piece")

    def step(cleaned: dict[str, str]) -> int:
        if "unpack" in request.POST:
            return steps.unpack(job, keys, device_of(request))
        if "stay" in request.POST:
            if not cleaned["stays"].strip():
                raise Refusal("Say why it stays.", where="Stays")
            return steps.pack(job, keys, stays=cleaned["stays"], device=device_of(request))
        return steps.pack(job, keys, device=device_of(request))

    return submitted(
        form,
        step,
        lambda _: went(request, job, "handover", job.pk),
        lambda: _page(request, job, form=form, status=422),
        {"Stays": "stays"},
    )


@require_http_methods(["GET", "POST"])
@once
def hand_over(request: HttpRequest, job_id: int) -> HttpResponse:
    """Hand over what is packed, signed at the other end."""
    job = get_object_or_404(Job, pk=job_id)
    kit = gather.kit(job)
    form = HandOverForm(
        request.POST if request.method == "POST" else None, kit=kit, initial={"to": job.client}
    )

    def page(status: int) -> HttpResponse:
        shown = {"found": gather.packing(job), "form": form}
        return job_page(request, job, "papers", "handover/sign.html", shown, status=status)

    if request.method == "GET":
        return page(200)
    return submitted(
        form,
        lambda cleaned: steps.hand_over(job, **cleaned, person=holder_of(request), device=device_of(request)),
        lambda _: went(request, job, "handover", job.pk),
        lambda: page(422),
        {"Name": "to", "Day": "day", "Signature": "signature"},
    )


@require_GET
def packing_pdf(request: HttpRequest, job_id: int) -> HttpResponse:
    """The packing list of the hand-over named by `of`, else of the one being packed, as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    number, row = whole(request.GET.get("number", ""), 0), gather.current(job)
    if number:
        row = get_object_or_404(HandOver, job=job, number=number, withdrawn=None)
    address = request.build_absolute_uri(reverse("handover", args=[job.pk]))
    made = papers.packing_list(job, row, made_on=date.today(), paper=paper_of(request), page_url=address)
    return pdf_answer(piece_list_pdf(made), f"{job.name} packing list")


@require_GET
def care_pdf(request: HttpRequest, job_id: int) -> HttpResponse:
    """The care sheet as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    made = papers.care_sheet(job, made_on=date.today(), paper=paper_of(request))
    return pdf_answer(care_sheet_pdf(made), f"{job.name} care sheet")


urlpatterns = [
    path("jobs/<int:job_id>/handover/", handover, name="handover"),
    path("jobs/<int:job_id>/handover/pack/", pack, name="pack"),
    path("jobs/<int:job_id>/handover/sign/", hand_over, name="hand_over"),
    path("jobs/<int:job_id>/handover/packing-list.pdf", packing_pdf, name="packing_pdf"),
    path("jobs/<int:job_id>/handover/care.pdf", care_pdf, name="care_pdf"),
]
