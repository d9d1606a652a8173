"""Colours side by side: a sheet with its variants, holding the spraying, the agreement, papers, and links for somebody outside."""

from datetime import date
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import path, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from hidewright.papers.colour_sheet import colour_sheet_pdf
from hidewright.papers.tags import tags_pdf
from hidewright.workshop.approvals import actions as steps
from hidewright.workshop.approvals import paper_queries as papers
from hidewright.workshop.approvals import queries as gather
from hidewright.workshop.approvals.forms import AgreeForm, HoldForm, LinkForm, SheetForm
from hidewright.workshop.approvals.models import Sheet, Variant, ViewerLink
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, job_page, number_of, pdf_answer, toast, went
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.frame.pictures import keep_picture
from hidewright.workshop.shop.models import Job


@require_http_methods(["GET", "POST"])
@once
def approvals(request: HttpRequest, job_id: int) -> HttpResponse:
    """The colour sheets of one of the job's colours; posting puts variants side by side."""
    job = get_object_or_404(Job, pk=job_id)
    number = number_of(request)
    if request.method == "GET":
        return _page(request, job, number)
    form = SheetForm(request.POST, prefix="sheet")
    return submitted(
        form,
        lambda cleaned: steps.propose(
            job, number, cleaned["ways"], note=cleaned["note"], device=device_of(request)
        ),
        lambda _: _went(request, job, number),
        lambda: _page(request, job, number, form=form, status=422),
        {"Variants": "ways"},
    )


def _went(request: HttpRequest, job: Job, number: int) -> HttpResponse:
    answer = went(request, job, "approvals", job.pk)
    if number:
        answer.headers["Location"] += f"?of={number}"
    return answer


def _page(
    request: HttpRequest,
    job: Job,
    number: int,
    *,
    form: SheetForm | None = None,
    hold: HoldForm | None = None,
    link: LinkForm | None = None,
    status: int = 200,
) -> HttpResponse:
    aimed = colour.target(job, number)
    known = gather.sheets(job, number)
    shown: dict[str, Any] = {
        "aimed": aimed,
        "sheet": known[0] if known else None,
        "earlier": known[1:],
        "standing": gather.standing(job, number),
        "run": gather.working(job),
        "form": form or SheetForm(prefix="sheet", was_known=bool(aimed and aimed.old)),
        "hold": hold or HoldForm(prefix="hold"),
        "link": link or LinkForm(prefix="link"),
        "of": number,
    }
    return job_page(request, job, "colour", "approvals/page.html", shown, status=status)


def _sheet(job_id: int, sheet_id: int) -> Sheet:
    return get_object_or_404(Sheet, pk=sheet_id, job_id=job_id, withdrawn=None)


@require_POST
@once
def hold_spraying(request: HttpRequest, job_id: int, sheet_id: int) -> HttpResponse:
    """Let the pieces of a sheet's colour wait until somebody agrees."""
    row = _sheet(job_id, sheet_id)
    form = HoldForm(request.POST, prefix="hold")
    return submitted(
        form,
        lambda cleaned: steps.hold_spraying(row, cleaned["until"], device_of(request)),
        lambda _: _went(request, row.job, row.colour_number),
        lambda: _page(request, row.job, row.colour_number, hold=form, status=422),
        {"Until": "until", "It": "until"},
    )


@require_http_methods(["GET", "POST"])
@once
def agree(request: HttpRequest, job_id: int, sheet_id: int) -> HttpResponse:
    """Take down an agreement."""
    row = _sheet(job_id, sheet_id)
    sheet = gather.sheet(row)
    aimed = colour.target(row.job, row.colour_number)
    start = {"name": row.job.client, "tolerance": aimed.tolerance if aimed else 1.0}
    form = AgreeForm(
        request.POST if request.method == "POST" else None,
        request.FILES if request.method == "POST" else None,
        sheet=sheet,
        initial=start,
    )

    def page(status: int) -> HttpResponse:
        shown = {"sheet": sheet, "form": form, "lights": gather.LIGHTS, "of": row.colour_number}
        return job_page(request, row.job, "colour", "approvals/agree.html", shown, status=status)

    def take_down(cleaned: dict[str, Any]) -> object:
        scan = keep_picture(cleaned["scan"]) if cleaned["scan"] else ""
        return steps.agree(
            get_object_or_404(Variant, pk=int(cleaned["variant"]), sheet=row, withdrawn=None),
            **{key: cleaned[key] for key in ("name", "day", "light", "judged_on", "tolerance", "signature")},
            scan=scan,
            person=holder_of(request),
            device=device_of(request),
        )

    if request.method == "GET":
        return page(200)
    places = {
        "Name": "name",
        "Light": "light",
        "Day": "day",
        "Signature": "signature",
        "Near enough": "tolerance",
    }
    brought = request.FILES.get("scan")
    return submitted(
        form,
        take_down,
        lambda _: _went(request, row.job, row.colour_number),
        lambda: page(422),
        {**places, "Variant": "variant", **({str(brought.name): "scan"} if brought else {})},
    )


@require_GET
def sheet_pdf(request: HttpRequest, job_id: int, sheet_id: int) -> HttpResponse:
    """A colour sheet as PDF."""
    row = _sheet(job_id, sheet_id)
    address = request.build_absolute_uri(reverse("approvals", args=[job_id]))
    made = papers.colour_sheet(
        gather.sheet(row), made_on=date.today(), paper=paper_of(request), page_url=address
    )
    return pdf_answer(colour_sheet_pdf(made), f"{row.job.name} colour sheet {row.number}")


@require_GET
def panel_tags(request: HttpRequest, job_id: int, sheet_id: int) -> HttpResponse:
    """The tags of a sheet's real panels as PDF."""
    row = _sheet(job_id, sheet_id)
    address = request.build_absolute_uri(reverse("approvals", args=[job_id]))
    made = papers.panel_tags(gather.sheet(row), address)
    pdf = tags_pdf(made, job=row.job.name, made_on=date.today(), paper=paper_of(request))
    return pdf_answer(pdf, f"{row.job.name} panels {row.number}")


@require_POST
@once
def make_link(request: HttpRequest, job_id: int, sheet_id: int) -> HttpResponse:
    """Make a link by which somebody outside may look at a sheet; it is shown once, on the next page."""
    row = _sheet(job_id, sheet_id)
    form = LinkForm(request.POST, prefix="link")

    def made(where: str) -> HttpResponse:
        toast(request, f"The link, shown once: {request.build_absolute_uri(where)}")
        return _went(request, row.job, row.colour_number)

    return submitted(
        form,
        lambda cleaned: steps.make_link(row, **cleaned, device=device_of(request)),
        made,
        lambda: _page(request, row.job, row.colour_number, link=form, status=422),
        {"Days": "days"},
    )


@require_POST
@once
def take_link_back(request: HttpRequest, job_id: int, link_id: int) -> HttpResponse:
    """Take a link back."""
    row = get_object_or_404(ViewerLink, pk=link_id, sheet__job_id=job_id)
    steps.take_link_back(row, device_of(request))
    return _went(request, row.sheet.job, row.sheet.colour_number)


def _seen_by(token: str) -> gather.SheetShown:
    link = gather.link_of(token)
    if link is None:
        raise Http404("this link has ended, was taken back, or never was")
    return gather.sheet(link.sheet)


@require_GET
def viewed_sheet(request: HttpRequest, token: str) -> HttpResponse:
    """One sheet for somebody outside who has its link; nothing else can be seen or done from there."""
    found = _seen_by(token)
    shown = [(v, papers.facts(v.takes)) for v in found.variants]
    answer = render(request, "approvals/viewed.html", {"sheet": found, "shown": shown, "token": token})
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["Cache-Control"] = "no-store"
    return answer


@require_GET
def viewed_pdf(request: HttpRequest, token: str) -> HttpResponse:
    """The same as PDF."""
    found = _seen_by(token)
    made = papers.colour_sheet(found, made_on=date.today(), paper=paper_of(request))
    return pdf_answer(colour_sheet_pdf(made), f"colour sheet {found.row.number}")


urlpatterns = [
    path("jobs/<int:job_id>/approvals/", approvals, name="approvals"),
    path("jobs/<int:job_id>/approvals/<int:sheet_id>/hold/", hold_spraying, name="hold_spraying"),
    path("jobs/<int:job_id>/approvals/<int:sheet_id>/agree/", agree, name="agree"),
    path("jobs/<int:job_id>/approvals/<int:sheet_id>/sheet.pdf", sheet_pdf, name="colour_sheet_pdf"),
    path("jobs/<int:job_id>/approvals/<int:sheet_id>/panels.pdf", panel_tags, name="panel_tags_pdf"),
    path("jobs/<int:job_id>/approvals/<int:sheet_id>/link/", make_link, name="make_viewer_link"),
    path("jobs/<int:job_id>/approvals/links/<int:link_id>/back/", take_link_back, name="take_link_back"),
    path("door/<str:token>/sheet/", viewed_sheet, name="viewed_sheet"),
    path("door/<str:token>/sheet.pdf", viewed_pdf, name="viewed_sheet_pdf"),
]
