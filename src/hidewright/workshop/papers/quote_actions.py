"""Giving a quote, and that it was accepted: each is kept as it stood and can be taken back."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from hidewright.dates import show_day
from hidewright.money import show_money
from hidewright.refusals import Refusal
from hidewright.workshop.papers.models import GivenQuote, QuoteAcceptance
from hidewright.workshop.papers.price_queries import Option
from hidewright.workshop.papers.quote_queries import quote_of, ready_of, takes_of
from hidewright.workshop.quantities.queries import figures
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def give(
    job: Job,
    option: Option,
    valid_until: date,
    *,
    paper: str = "a4",
    person: Person | None = None,
    device: Device | None = None,
) -> GivenQuote:
    """Keep a quote as the customer gets it now. Refuses a day that is past."""
    today = timezone.localdate()
    if valid_until < today:
        raise Refusal(
            "A quote does not end before it is given.", where="Until", remedy="Choose today or later."
        )
    with transaction.atomic():
        Job.objects.select_for_update().get(pk=job.pk)
        number = (GivenQuote.objects.filter(job=job).aggregate(last=Max("number"))["last"] or 0) + 1
        row, ready = figures(job), ready_of(job, option)
        quote = quote_of(job, option, row, made_on=today, valid_until=valid_until, number=number, paper=paper)
        made = GivenQuote.objects.create(
            job=job,
            number=number,
            way=option.key,
            name=option.name,
            content=quote.content(),
            takes=takes_of(option),
            net=quote.net,
            tax_name=row.tax_name,
            tax_rate=Decimal(row.tax_rate),
            valid_until=valid_until,
            likely_on=ready.likely,
            sure_on=ready.sure,
            person=person,
            device=device,
        )
        words = (
            f"Gave quote {number}: {option.name.lower()}, {show_money(quote.net, quote.currency)} before tax"
        )
        record(job, words, undo="quotes.give", undo_with={"quote": made.pk}, device=device)
        return made


@undoes("quotes.give")
def _take_back(data: dict[str, Any]) -> None:
    GivenQuote.objects.filter(pk=data["quote"]).update(withdrawn=timezone.now())


def accept(
    quote: GivenQuote,
    name: str,
    day: date,
    *,
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> QuoteAcceptance:
    """Note that the customer accepted a quote. Refuses nobody, a day to come, and one before the quote was given."""
    if not name.strip():
        raise Refusal("Who accepted it?", where="Name")
    if not timezone.localdate(quote.made) <= day <= timezone.localdate():
        raise Refusal("It was accepted between the day it was given and today.", where="Day")
    with transaction.atomic():
        GivenQuote.objects.select_for_update().get(pk=quote.pk)
        made = QuoteAcceptance.objects.create(
            quote=quote,
            name=name.strip()[:120],
            day=day,
            note=note.strip()[:240],
            person=person,
            device=device,
        )
        words = f"{made.name} accepted quote {quote.number} on {show_day(day)}"
        record(quote.job, words, undo="quotes.accept", undo_with={"acceptance": made.pk}, device=device)
        return made


@undoes("quotes.accept")
def _not_accepted(data: dict[str, Any]) -> None:
    QuoteAcceptance.objects.filter(pk=data["acceptance"]).update(withdrawn=timezone.now())
