"""After the work: what it took against the quote, what to invoice, claims and later damage."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path, reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_POST

from hidewright.papers.record import record_pdf
from hidewright.workshop.account import actions as steps
from hidewright.workshop.account import paper_queries as papers
from hidewright.workshop.account import queries as gather
from hidewright.workshop.account.forms import ChargeForm, ClaimForm, LessonForm, SettleForm
from hidewright.workshop.account.models import Claim
from hidewright.workshop.bench.jar_queries import jars_of
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, job_page, pdf_answer, went
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.papers.quote_queries import lessons
from hidewright.workshop.pieces.queries import rows
from hidewright.workshop.shop.models import Job


@require_GET
def account(request: HttpRequest, job_id: int) -> HttpResponse:
    """The time after: quoted and actual, the account, claims, what is kept."""
    return _page(request, get_object_or_404(Job, pk=job_id))


def _page(request: HttpRequest, job: Job, *, status: int = 200, **failed: Any) -> HttpResponse:
    loose = gather.not_charged(job)
    shown = {
        "compared": gather.compared(job),
        "work": gather.work_of(job),
        "account": gather.account(job),
        "loose": loose,
        "claims": gather.claims(job),
        "whose": gather.WHOSE,
        "lessons": lessons(job),
        "jars": jars_of(job),
        "charge": ChargeForm(prefix="line", snags=loose),
        "lesson": LessonForm(prefix="lesson"),
        "claim": ClaimForm(prefix="claim", pieces=rows(job).filter(by_us=True)),
        "settle": SettleForm(prefix="end"),
        "settling": 0,
    }
    return job_page(request, job, "papers", "account/page.html", {**shown, **failed}, status=status)


def _who(request: HttpRequest) -> dict[str, Any]:
    return {"person": holder_of(request), "device": device_of(request)}


@require_POST
@once
def charge(request: HttpRequest, job_id: int) -> HttpResponse:
    """Put a line on the account."""
    job = get_object_or_404(Job, pk=job_id)
    form = ChargeForm(request.POST, prefix="line", snags=gather.not_charged(job))
    return submitted(
        form,
        lambda cleaned: steps.charge(job, **cleaned, **_who(request)),
        lambda _: went(request, job, "account", job.pk),
        lambda: _page(request, job, status=422, charge=form),
        {"Text": "text", "Amount": "amount"},
    )


@require_POST
@once
def learn(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep what the job taught."""
    job = get_object_or_404(Job, pk=job_id)
    form = LessonForm(request.POST, prefix="lesson")
    return submitted(
        form,
        lambda cleaned: steps.learn(job, cleaned["text"], **_who(request)),
        lambda _: went(request, job, "account", job.pk),
        lambda: _page(request, job, status=422, lesson=form),
        {"Lesson": "text"},
    )


@require_POST
@once
def claim(request: HttpRequest, job_id: int) -> HttpResponse:
    """Note a claim and open the touch-up."""
    job = get_object_or_404(Job, pk=job_id)
    form = ClaimForm(request.POST, prefix="claim", pieces=rows(job).filter(by_us=True))

    def note(cleaned: dict[str, Any]) -> Claim:
        pieces = list(cleaned.pop("pieces"))
        return steps.claim(job, cleaned.pop("what"), pieces, **cleaned, **_who(request))

    return submitted(
        form,
        note,
        lambda _: went(request, job, "account", job.pk),
        lambda: _page(request, job, status=422, claim=form),
        {"What": "what", "Pieces": "pieces", "Day": "day", "Whose": "whose"},
    )


@require_POST
@once
def settle_claim(request: HttpRequest, job_id: int, claim_id: int) -> HttpResponse:
    """Say how a claim ended."""
    row = get_object_or_404(Claim, pk=claim_id, job_id=job_id, withdrawn=None)
    form = SettleForm(request.POST, prefix="end")
    return submitted(
        form,
        lambda cleaned: steps.settle(row, **cleaned, device=device_of(request)),
        lambda _: went(request, row.job, "account", row.job_id),
        lambda: _page(request, row.job, status=422, settle=form, settling=row.pk),
        {"Whose": "whose"},
    )


@require_GET
def account_pdf(request: HttpRequest, job_id: int) -> HttpResponse:
    """The account to invoice from, as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    made = papers.account_record(
        job,
        made_on=timezone.localdate(),
        paper=paper_of(request),
        page_url=request.build_absolute_uri(reverse("account", args=[job.pk])),
    )
    return pdf_answer(record_pdf(made), f"{job.name} account")


@require_GET
def account_csv(request: HttpRequest, job_id: int) -> HttpResponse:
    """The account's lines as CSV."""
    job = get_object_or_404(Job, pk=job_id)
    answer = HttpResponse(papers.account_csv(job), content_type="text/csv; charset=utf-8")
    answer.headers["Content-Disposition"] = f'attachment; filename="{slugify(job.name) or "job"}-account.csv"'
    return answer


urlpatterns = [
    path("jobs/<int:job_id>/account/", account, name="account"),
    path("jobs/<int:job_id>/account/lines/", charge, name="charge"),
    path("jobs/<int:job_id>/account/lessons/", learn, name="learn"),
    path("jobs/<int:job_id>/account/claims/", claim, name="claim"),
    path("jobs/<int:job_id>/account/claims/<int:claim_id>/settle/", settle_claim, name="settle_claim"),
    path("jobs/<int:job_id>/account/account.pdf", account_pdf, name="account_pdf"),
    path("jobs/<int:job_id>/account/account.csv", account_csv, name="account_csv"),
]
