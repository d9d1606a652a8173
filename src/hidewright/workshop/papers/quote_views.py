"""The papers of a price, and giving a quote."""

from datetime import date

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from hidewright.papers.quote import kept_quote_pdf, quote_pdf
from hidewright.papers.record import record_pdf
from hidewright.refusals import Refusal
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, job_page, pdf_answer, went
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.papers import quote_actions as steps
from hidewright.workshop.papers import quote_queries as gather
from hidewright.workshop.papers.models import GivenQuote
from hidewright.workshop.papers.price_queries import Option, options
from hidewright.workshop.papers.price_views import HOLDS
from hidewright.workshop.quantities.queries import figures
from hidewright.workshop.shop.models import Job


class GiveForm(forms.Form):
    """How long a quote holds."""

    until = forms.DateField(
        label="Holds until",
        initial=lambda: timezone.localdate() + HOLDS,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )


class AcceptForm(forms.Form):
    """Who accepted a quote, and when."""

    name = forms.CharField(label="Accepted by", max_length=120)
    day = forms.DateField(
        label="On",
        initial=timezone.localdate,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    note = forms.CharField(
        label="How", max_length=240, required=False, help_text="Such as: by letter, order 4711."
    )


def _option(job: Job, key: str) -> Option:
    chosen = next((option for option in options(job) if option.key == key), None)
    if chosen is None:
        raise Refusal("There is no such way to quote.", remedy="Go back to the page Price.")
    return chosen


@require_GET
def quote(request: HttpRequest, job_id: int, key: str) -> HttpResponse:
    """The customer's quote of one way as PDF, before it is given."""
    job = get_object_or_404(Job, pk=job_id)
    today = timezone.localdate()
    made = gather.quote_of(
        job,
        _option(job, key),
        figures(job),
        made_on=today,
        valid_until=today + HOLDS,
        paper=paper_of(request),
    )
    return pdf_answer(quote_pdf(made), f"{job.name} quote {key}")


@require_GET
def price_sheet(request: HttpRequest, job_id: int, key: str) -> HttpResponse:
    """How the price of one way comes about, as PDF for the shop."""
    job = get_object_or_404(Job, pk=job_id)
    made = gather.price_sheet(
        job,
        _option(job, key),
        figures(job),
        made_on=timezone.localdate(),
        paper=paper_of(request),
        page_url=request.build_absolute_uri(reverse("price", args=[job.pk])),
    )
    return pdf_answer(record_pdf(made), f"{job.name} price sheet {key}")


@require_POST
@once
def give_quote(request: HttpRequest, job_id: int, key: str) -> HttpResponse:
    """Keep the quote of one way as it is given to the customer."""
    job = get_object_or_404(Job, pk=job_id)
    option, form = _option(job, key), GiveForm(request.POST)

    def give(cleaned: dict[str, date]) -> GivenQuote:
        who = {"person": holder_of(request), "device": device_of(request)}
        return steps.give(job, option, cleaned["until"], paper=paper_of(request), **who)  # type: ignore[arg-type]

    return submitted(
        form,
        give,
        lambda _: went(request, job, "price", job.pk),
        lambda: job_page(
            request, job, "quantities", "quantities/give.html", {"form": form, "key": key}, status=422
        ),
        {"Until": "until"},
    )


@require_POST
@once
def accept_quote(request: HttpRequest, job_id: int, number: int) -> HttpResponse:
    """Note that a quote was accepted."""
    row = get_object_or_404(GivenQuote, job_id=job_id, number=number, withdrawn=None)
    form = AcceptForm(request.POST)
    who = {"person": holder_of(request), "device": device_of(request)}
    return submitted(
        form,
        lambda cleaned: steps.accept(row, cleaned["name"], cleaned["day"], note=cleaned["note"], **who),  # type: ignore[arg-type]
        lambda _: went(request, row.job, "price", row.job_id),
        lambda: job_page(
            request, row.job, "quantities", "quantities/accept.html", {"form": form, "quote": row}, status=422
        ),
        {"Name": "name", "Day": "day"},
    )


@require_GET
def given_quote(request: HttpRequest, job_id: int, number: int) -> HttpResponse:
    """A quote that was given, as PDF, as it was then."""
    row = get_object_or_404(GivenQuote, job_id=job_id, number=number, withdrawn=None)
    pdf = kept_quote_pdf(
        row.content, made_on=timezone.localdate(row.made), paper=request.GET.get("paper", "")
    )
    return pdf_answer(pdf, f"{row.job.name} quote {row.number}")


urlpatterns = [
    path("jobs/<int:job_id>/price/<slug:key>/quote.pdf", quote, name="quote_pdf"),
    path("jobs/<int:job_id>/price/<slug:key>/sheet.pdf", price_sheet, name="price_sheet_pdf"),
    path("jobs/<int:job_id>/price/<slug:key>/give/", give_quote, name="give_quote"),
    path("jobs/<int:job_id>/price/given/<int:number>/accept/", accept_quote, name="accept_quote"),
    path("jobs/<int:job_id>/price/given/<int:number>.pdf", given_quote, name="given_quote_pdf"),
]
