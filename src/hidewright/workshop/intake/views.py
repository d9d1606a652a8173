"""What came in: deliveries by group, one piece with its pictures, the receipt and the tags."""

from datetime import date

from django import forms
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from hidewright.papers.piece_list import piece_list_pdf
from hidewright.papers.tags import tags_pdf
from hidewright.refusals import Refusal
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, job_page, paged, pdf_answer, ticked, went
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.frame.pictures import picture_path
from hidewright.workshop.frame.signature_forms import SignForm
from hidewright.workshop.intake import actions as steps
from hidewright.workshop.intake import paper_queries as papers
from hidewright.workshop.intake import picture_actions as picture_steps
from hidewright.workshop.intake import queries as gather
from hidewright.workshop.intake.forms import ConditionForm, DeliveryForm, PicturesForm
from hidewright.workshop.intake.models import Arrival, Delivery, Picture
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Job


@require_http_methods(["GET", "POST"])
@once
def intake(request: HttpRequest, job_id: int) -> HttpResponse:
    """What came in and what did not; posting takes a delivery in."""
    job = get_object_or_404(Job, pk=job_id)
    if request.method == "GET":
        return _page(request, job)
    form = DeliveryForm(request.POST)
    keys = ticked(request, "piece")
    return submitted(
        form,
        lambda cleaned: steps.take_in(
            job, keys, **cleaned, person=holder_of(request), device=device_of(request)
        ),
        lambda _: went(request, job, "intake", job.pk),
        lambda: _page(request, job, form=form, ticked=keys, status=422),
        {"Brought by": "brought_by", "Day": "day"},
    )


def _page(
    request: HttpRequest,
    job: Job,
    *,
    form: forms.Form | None = None,
    ticked: list[int] | None = None,
    bringing: PicturesForm | None = None,
    status: int = 200,
) -> HttpResponse:
    shown = {
        "found": gather.intake(job),
        "deliveries": gather.deliveries(job),
        "pictures": gather.unkept_pictures(job),
        "page": paged(request, gather.kept_pictures(job), gather.SHOWN),
        "form": form or DeliveryForm(initial={"brought_by": job.client}),
        "ticked": set(ticked or ()),
        "bringing": bringing or PicturesForm(),
        "where": reverse("bring_pictures", args=[job.pk]),
    }
    return job_page(request, job, "survey", "intake/page.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def piece_in(request: HttpRequest, job_id: int, piece_id: int) -> HttpResponse:
    """One piece as it came, with its pictures; posting says how it looked. The code on its tag leads here."""
    piece = get_object_or_404(Piece, pk=piece_id, job_id=job_id)
    arrival = Arrival.objects.filter(piece=piece, withdrawn=None).select_related("delivery").first()
    if request.method == "GET":
        return _piece_page(request, piece, arrival)
    if arrival is None:
        raise Http404("it did not come in")
    form = ConditionForm(request.POST)
    return submitted(
        form,
        lambda cleaned: steps.see_condition(arrival, cleaned["condition"], device_of(request)),
        lambda _: went(request, piece.job, "piece_in", job_id, piece_id),
        lambda: _piece_page(request, piece, arrival, form=form, status=422),
    )


def _piece_page(
    request: HttpRequest,
    piece: Piece,
    arrival: Arrival | None,
    *,
    form: ConditionForm | None = None,
    bringing: PicturesForm | None = None,
    status: int = 200,
) -> HttpResponse:
    start = {"condition": arrival.condition if arrival else ""}
    shown = {
        "piece": piece,
        "arrival": arrival,
        "form": form or ConditionForm(initial=start),
        "pictures": gather.unkept_pictures(piece.job, piece),
        "page": paged(request, gather.kept_pictures(piece.job, piece), gather.SHOWN),
        "bringing": bringing or PicturesForm(),
        "where": reverse("bring_piece_pictures", args=[piece.job_id, piece.pk]),
    }
    return job_page(request, piece.job, "survey", "intake/piece.html", shown, status=status)


@require_POST
@once
def bring_pictures(request: HttpRequest, job_id: int) -> HttpResponse:
    """Bring pictures of the job as a whole."""
    job = get_object_or_404(Job, pk=job_id)
    form = PicturesForm(request.POST, request.FILES)
    return submitted(
        form,
        lambda cleaned: picture_steps.bring(
            job, cleaned["pictures"], kind=cleaned["kind"], device=device_of(request)
        ),
        lambda _: went(request, job, "intake", job.pk),
        lambda: _page(request, job, bringing=form, status=422),
        {"Pictures": "pictures"},
    )


@require_POST
@once
def bring_piece_pictures(request: HttpRequest, job_id: int, piece_id: int) -> HttpResponse:
    """Bring pictures of one piece."""
    piece = get_object_or_404(Piece, pk=piece_id, job_id=job_id)
    form = PicturesForm(request.POST, request.FILES)
    arrival = Arrival.objects.filter(piece=piece, withdrawn=None).select_related("delivery").first()
    return submitted(
        form,
        lambda cleaned: picture_steps.bring(
            piece.job, cleaned["pictures"], piece=piece, kind=cleaned["kind"], device=device_of(request)
        ),
        lambda _: went(request, piece.job, "piece_in", job_id, piece_id),
        lambda: _piece_page(request, piece, arrival, bringing=form, status=422),
        {"Pictures": "pictures"},
    )


@require_POST
@once
def take_off_picture(request: HttpRequest, job_id: int, picture_id: int) -> HttpResponse:
    """Take a picture off the page."""
    row = get_object_or_404(Picture, pk=picture_id, job_id=job_id)
    picture_steps.take_off(row, device_of(request))
    if row.piece_id:
        return went(request, row.job, "piece_in", job_id, row.piece_id)
    return went(request, row.job, "intake", job_id)


@require_GET
def picture_state(request: HttpRequest, job_id: int) -> HttpResponse:
    """How many pictures of the job wait, in plain text, for the page that brings them."""
    job = get_object_or_404(Job, pk=job_id)
    return HttpResponse(str(len(gather.waiting(job))), content_type="text/plain; charset=utf-8")


@require_GET
def picture(request: HttpRequest, job_id: int, picture_id: int, size: str) -> HttpResponseBase:
    """A kept picture, `full` or `small`."""
    row = get_object_or_404(Picture, pk=picture_id, job_id=job_id)
    name = {"full": row.file, "small": row.small}.get(size)
    try:
        where = picture_path(name or "")
    except Refusal as refusal:
        raise Http404(refusal.what) from None
    answer = FileResponse(where.open("rb"), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer


@require_http_methods(["GET", "POST"])
@once
def sign_receipt(request: HttpRequest, job_id: int, delivery_id: int) -> HttpResponse:
    """Sign the receipt of a delivery on the screen."""
    row = get_object_or_404(Delivery, pk=delivery_id, job_id=job_id, withdrawn=None)
    form = SignForm(request.POST if request.method == "POST" else None, initial={"name": row.brought_by})

    def page(status: int) -> HttpResponse:
        return job_page(
            request, row.job, "survey", "intake/sign.html", {"row": row, "form": form}, status=status
        )

    if request.method == "GET":
        return page(200)
    return submitted(
        form,
        lambda cleaned: steps.sign_receipt(row, cleaned["name"], cleaned["signature"], device_of(request)),
        lambda _: went(request, row.job, "intake", job_id),
        lambda: page(422),
        {"Name": "name", "Signature": "signature"},
    )


@require_GET
def receipt(request: HttpRequest, job_id: int, delivery_id: int) -> HttpResponse:
    """The receipt of a delivery as PDF."""
    row = get_object_or_404(Delivery, pk=delivery_id, job_id=job_id, withdrawn=None)
    address = request.build_absolute_uri(reverse("intake", args=[job_id]))
    made = papers.receipt(row, made_on=date.today(), paper=paper_of(request), page_url=address)
    return pdf_answer(piece_list_pdf(made), f"{row.job.name} receipt {row.number}")


@require_GET
def tags(request: HttpRequest, job_id: int) -> HttpResponse:
    """The tags of all pieces, or of those named by `mark`, as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    pieces = gather.tagged(job, request.GET.getlist("mark"))
    made = papers.tags(
        job, pieces, lambda row: request.build_absolute_uri(reverse("piece_in", args=[job.pk, row.pk]))
    )
    pdf = tags_pdf(made, job=job.name, made_on=date.today(), paper=paper_of(request))
    return pdf_answer(pdf, f"{job.name} tags")


urlpatterns = [
    path("jobs/<int:job_id>/intake/", intake, name="intake"),
    path("jobs/<int:job_id>/intake/tags.pdf", tags, name="tags_pdf"),
    path("jobs/<int:job_id>/intake/pictures/", bring_pictures, name="bring_pictures"),
    path("jobs/<int:job_id>/intake/pictures/waiting.txt", picture_state, name="picture_state"),
    path("jobs/<int:job_id>/intake/pieces/<int:piece_id>/", piece_in, name="piece_in"),
    path(
        "jobs/<int:job_id>/intake/pieces/<int:piece_id>/pictures/",
        bring_piece_pictures,
        name="bring_piece_pictures",
    ),
    path("jobs/<int:job_id>/intake/deliveries/<int:delivery_id>/sign/", sign_receipt, name="sign_receipt"),
    path("jobs/<int:job_id>/intake/deliveries/<int:delivery_id>/receipt.pdf", receipt, name="receipt_pdf"),
    path("jobs/<int:job_id>/pictures/<int:picture_id>/off/", take_off_picture, name="take_off_picture"),
    path("jobs/<int:job_id>/pictures/<int:picture_id>/<slug:size>.jpg", picture, name="picture"),
]
