"""The two papers of a price: the customer's quote, and the shop's own sheet that shows how the price comes about."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from hidewright import survey as stage
from hidewright.colour.light.far import off_with_figure
from hidewright.money import show_money
from hidewright.papers.quote import Quote, QuoteLine, Ready, ScopeLine
from hidewright.papers.record import Record, RecordPart, RecordTable
from hidewright.units import counted, show_area, show_volume
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.days import queries as days
from hidewright.workshop.days.promise_queries import promise_of
from hidewright.workshop.papers.models import GivenQuote, Lesson, QuoteAcceptance
from hidewright.workshop.papers.price_queries import Option
from hidewright.workshop.pieces.colour_queries import job_colours, several
from hidewright.workshop.pieces.queries import listed
from hidewright.workshop.quantities.models import Figures
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

DEFERS = (
    "Local codes, the products’ data sheets, and licensed or authorised people decide what may be done.",
)


def quote_of(
    job: Job,
    option: Option,
    row: Figures,
    *,
    made_on: date,
    valid_until: date,
    number: int = 0,
    paper: str = "a4",
) -> Quote:
    """What the customer reads of one way of doing the job: one price, and none of its parts."""
    shop = the_shop()
    what = f"{option.name}, {counted(len(option.pieces), 'piece')}"
    return Quote(
        job=job.name,
        client=job.client,
        shop=shop.name,
        lines=(QuoteLine("All of the work above, with materials", option.price.total, what),),
        made_on=made_on,
        number=number,
        scope=scope_of(option.pieces),
        left_out=_left_out(job),
        work=_work(option),
        colours=tuple(_colours(job)),
        currency=shop.currency,
        valid_until=valid_until,
        ready=ready_of(job, option),
        tax_rate=Decimal(row.tax_rate),
        tax_name=row.tax_name or "Tax",
        terms=tuple(filter(None, (line.strip() for line in row.terms.splitlines()))),
        cautions=DEFERS,
        paper=paper,
    )


def ready_of(job: Job, option: Option) -> Ready:
    """When this way of doing the job is ready: by the plan in force, where it is the way that was planned."""
    plan = days.plan_row(job) if option.key == "surveyed" else None
    if plan is None:
        return Ready(days=option.hand_days)
    odds = promise_of(plan, None)
    if odds is None:
        return Ready(days=option.hand_days)
    return Ready(odds.likely, odds.sure, job.starts, times=odds.likely_times)


def scope_of(pieces: Sequence[stage.Piece]) -> tuple[ScopeLine, ...]:
    """The pieces by what they belong to; groups that differ by a number only and get the same stand in one line."""
    groups: dict[str, list[stage.Piece]] = {}
    for piece in pieces:
        groups.setdefault(piece.group, []).append(piece)
    alike: dict[tuple[str, int, str], list[str]] = {}
    for name, members in groups.items():
        stem = re.sub(r"\d+$", "", name)
        alike.setdefault((stem, len(members), _done_to(members)), []).append(name)
    return tuple(
        ScopeLine(_names(names), count * len(names), words if len(names) == 1 else f"Each: {words}")
        for (_, count, words), names in alike.items()
    )


def _names(names: Sequence[str]) -> str:
    """“Chair 1, 3 to 12”: names that differ by their number, as one."""
    if len(names) == 1:
        return names[0] or "Other pieces"
    stem = re.sub(r"\d+$", "", names[0])
    runs: list[list[int]] = []
    for number in sorted(
        int(name.removeprefix(stem)) for name in names if name.removeprefix(stem).isdecimal()
    ):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return f"{stem}{', '.join(words)}"


def _done_to(pieces: Iterable[stage.Piece]) -> str:
    counts: Counter[str] = Counter()
    many = 0
    for piece in pieces:
        many += 1
        counts["repaired first"] += piece.condition is stage.Condition.DAMAGED
        counts["stripped of the old coat"] += piece.strip
        counts["coated on both sides"] += piece.turned
        if piece.colour:
            counts[f"in {piece.colour}"] += 1
    words = [word if count == many else f"{count} {word}" for word, count in counts.items() if count]
    return ", ".join(words) or "cleaned, prepared and coated"


def _left_out(job: Job) -> tuple[str, ...]:
    others = [piece for piece in listed(job) if not piece.by_us]
    if not others:
        return ()
    marks = ", ".join(f"{piece.key} {piece.name}" for piece in others[:12])
    more = f" and {len(others) - 12} more" if len(others) > 12 else ""
    return (f"Done elsewhere, not by us: {marks}{more}.",)


def _work(option: Option) -> tuple[str, ...]:
    assumed = option.takeoff.assumed
    wiped = "; colour is wiped in first where people sit" if assumed.wiped else ""
    units = the_shop().units
    return (
        f"{counted(len(option.pieces), 'piece')} cleaned, prepared, coated and inspected, {show_area(option.takeoff.area, units)} in all.",
        f"{counted(assumed.colour_coats, 'sprayed coat')} of colour and {assumed.clear_coats} of clear{wiped}.",
    )


def _colours(job: Job) -> Iterable[str]:
    for colour in job_colours(job):
        row = target_row(job, colour.number)
        name = f"{colour.label}: " if several(job) else ""
        if row is None:
            yield f"{name}to be agreed on a real panel before anything is sprayed."
        else:
            as_agreed = str(row.version) if row.version else row.reading.name
            yield f"{name}{as_agreed}, to within {off_with_figure(row.tolerance)}. A real panel decides, no screen and no print."


def takes_of(option: Option) -> dict[str, Any]:
    """What the shop expects of a way, as it is kept with a quote."""
    forecast, cost = option.takeoff, option.price
    parts = {name: str(getattr(cost, name)) for name in ("labour", "materials", "sundries", "markup", "risk")}
    return {
        "hours": option.hours,
        "hand_days": option.hand_days,
        "colour": forecast.colour.p50,
        "colour_p90": forecast.colour.p90,
        "clear": forecast.clear.p50,
        "pieces": len(option.pieces),
        **parts,
    }


def price_sheet(
    job: Job, option: Option, row: Figures, *, made_on: date, paper: str, page_url: str = ""
) -> Record:
    """The shop's own sheet of a way: how the price comes about. Not for the customer."""
    shop = the_shop()
    cost, forecast = option.price, option.takeoff
    lines = (
        ("Work", f"{option.hours:.1f} hours of hands at {show_money(row.hourly, shop.currency)}", cost.labour),
        ("Materials", f"{show_volume(forecast.colour.p50, shop.units)} of mixed colour likely, {show_volume(forecast.colour.p90, shop.units)} to be 90 % sure", cost.materials),
        ("Sundries", "Strainers, wipes, abrasives, tape, paper, gloves, filters", cost.sundries),
        ("Handling of what is bought", f"{100 * row.markup:.4g} % on materials and sundries", cost.markup),
        ("Margin for what is not known yet", f"So that the price suffices with {100 * row.price_odds:.4g} % odds", cost.risk),
        ("Before tax", "", cost.total),
    )  # fmt: skip
    table = RecordTable(
        ("What", "From", "Money"),
        tuple((name, words, show_money(amount, shop.currency)) for name, words, amount in lines),
        (1.6, 3, 1),
    )
    stands_on = (
        f"{show_area(forecast.area, shop.units)} coated, {show_area(forecast.stripped_area, shop.units)} of it stripped first.",
        f"{option.stripped} pieces stripped, {option.apart} coated on both sides.",
        *_work(option)[1:],
        *((f"Not in the price: {', '.join(cost.unpriced)}.",) if cost.unpriced else ()),
    )
    taught = tuple(f"{each.job.name}: {each.text}" for each in lessons(leave=job)[:10])
    return Record(
        title="Price sheet",
        job=job.name,
        headline=f"How the price comes about: {option.name.lower()}",
        made_on=made_on,
        lines=("For the shop, not for the customer.",),
        parts=(
            RecordPart("Price", table=table),
            RecordPart("What it is worked out from", stands_on),
            *((RecordPart("What jobs before taught", taught),) if taught else ()),
        ),
        paper=paper,
        page_url=page_url,
    )


def quotes(job: Job) -> list[GivenQuote]:
    """The quotes that count, the newest first."""
    found = GivenQuote.objects.filter(job=job, withdrawn=None)
    return list(found.select_related("person").prefetch_related("acceptances"))


def acceptance(quote: GivenQuote) -> QuoteAcceptance | None:
    """Who accepted a quote and when; None while nobody has."""
    return next((row for row in quote.acceptances.all() if row.withdrawn is None), None)


def accepted(job: Job) -> QuoteAcceptance | None:
    """The newest acceptance of any of a job's quotes."""
    found = [row for quote in quotes(job) if (row := acceptance(quote)) is not None]
    return max(found, key=lambda row: row.pk, default=None)


def quote_in_force(job: Job) -> GivenQuote | None:
    """The quote that the work is held against: the one accepted last, else the newest."""
    found = quotes(job)
    last = max((row for quote in found if (row := acceptance(quote))), key=lambda row: row.pk, default=None)
    return last.quote if last else next(iter(found), None)


def lessons(job: Job | None = None, *, leave: Job | None = None) -> list[Lesson]:
    """What a job taught, or all jobs but one; the newest first."""
    found = Lesson.objects.filter(withdrawn=None).select_related("job", "person")
    if job is not None:
        found = found.filter(job=job)
    if leave is not None:
        found = found.exclude(job=leave)
    return list(found)
