"""Quoted against actual, what to invoice, and claims: out of the rows that the work left."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import Sum
from django.utils import timezone

from hidewright.dates import show_day
from hidewright.money import show_money
from hidewright.takeoff.coats import Stage
from hidewright.units import counted, show_volume
from hidewright.workshop.account.material_queries import materials_of
from hidewright.workshop.account.models import AccountLine, Claim
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.days.queries import plan_in_force
from hidewright.workshop.handover.models import HandOver
from hidewright.workshop.handover.queries import counted_out, signed
from hidewright.workshop.inspection.models import Decision, Snag
from hidewright.workshop.papers.models import GivenQuote
from hidewright.workshop.papers.quote_queries import quote_in_force
from hidewright.workshop.quantities.models import Figures, Use
from hidewright.workshop.quantities.queries import figures
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

CENT = Decimal("0.01")
NEAR = 0.05
"""A share within which actual and quoted are called alike (a convention of this tool)."""


@dataclass(frozen=True, slots=True)
class Pace:
    """One kind of work in a job: minutes as planned and as noted, of those steps whose minutes somebody noted."""

    kind: str
    steps: int
    planned: float
    noted: float

    @property
    def words(self) -> str:
        """“sand: 95 min noted, 60 planned, in 3 steps”."""
        return f"{self.kind}: {self.noted:.0f} min noted, {self.planned:.0f} planned, in {counted(self.steps, 'step')}"


@dataclass(frozen=True, slots=True)
class Work:
    """What hands did: `hours` in all, of them `assumed` as planned because nobody noted the time; steps done `of` those planned; days on which something was done."""

    hours: float
    assumed: float
    done: int
    of: int
    days: tuple[date, ...]
    paces: tuple[Pace, ...]

    @property
    def finished(self) -> bool:
        """Every step of the plan is done."""
        return 0 < self.of <= self.done


def work_of(job: Job) -> Work:
    """What hands did in a job, from the taps; steps that nobody timed count as long as they were planned."""
    plan = plan_in_force(job)
    planned = {act.key: (act.end - act.start).total_seconds() / 60 for act in plan.acts} if plan else {}
    stands = {key: one for key, one in standings(job).items() if one.done}
    noted = assumed = 0.0
    kinds: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for key, one in stands.items():
        if one.minutes:
            noted += one.minutes
            if key in planned:
                kinds[key.rsplit("/", 1)[-1]].append((planned[key], one.minutes))
        else:
            assumed += planned.get(key, 0.0)
    days = sorted({timezone.localdate(one.at) for one in stands.values() if one.at})
    paces = [
        Pace(kind, len(found), sum(p for p, _ in found), sum(n for _, n in found))
        for kind, found in kinds.items()
    ]
    paces.sort(key=lambda pace: -abs(pace.noted - pace.planned))
    return Work(
        (noted + assumed) / 60,
        assumed / 60,
        sum(key in planned for key in stands),
        len(planned),
        tuple(days),
        tuple(paces),
    )


def used_of(job: Job) -> tuple[float, float]:
    """mL of mixed colour and of clear that the job's coats took."""
    rows = (
        Use.objects.filter(job=job, struck=None).order_by().values("stage").annotate(sum=Sum("millilitres"))
    )
    found = {row["stage"]: float(row["sum"]) for row in rows}
    return found.get(Stage.COLOUR, 0.0) + found.get(Stage.WIPED, 0.0), found.get(Stage.CLEAR, 0.0)


@dataclass(frozen=True, slots=True)
class Line:
    """One figure of a quote beside what it came to; `words` says how far apart they are, empty where nothing can be said."""

    what: str
    quoted: str
    actual: str
    words: str = ""


def compared(job: Job) -> tuple[Line, ...]:
    """Hours, litres, materials and days of the quote that holds against what they came to; none without a quote."""
    quote = quote_in_force(job)
    if quote is None:
        return ()
    work, (colour, clear), units = work_of(job), used_of(job), the_shop().units
    takes = quote.takes
    so_far = "" if work.finished else " so far"
    actual = f"{work.hours:.1f} h{so_far}"
    if work.assumed:
        actual += f", {work.assumed:.1f} h of them as planned: nobody noted the time"
    lines = [
        Line("Hours of hands", f"{takes['hours']:.1f} h", actual, _apart(work.hours, takes["hours"], work.finished)),
        Line(
            "Mixed colour",
            f"{show_volume(takes['colour'], units)} likely, {show_volume(takes['colour_p90'], units)} to be 90 % sure",
            f"{show_volume(colour, units)} used{so_far}",
            _apart(colour, takes["colour"], work.finished),
        ),
        Line(
            "Clear",
            show_volume(takes["clear"], units),
            f"{show_volume(clear, units)} used{so_far}",
            _apart(clear, takes["clear"], work.finished),
        ),
    ]  # fmt: skip
    if "materials" in takes:
        lines.append(_materials(job, Decimal(takes["materials"]), work.finished))
    if takes.get("hand_days"):
        lines.append(
            Line("Days with work", f"{takes['hand_days']:.0f} of all hands", f"{len(work.days)}{so_far}")
        )
    return (*lines, _ready(job, quote, work))


def _materials(job: Job, quoted: Decimal, finished: bool) -> Line:
    took, currency = materials_of(job), the_shop().currency
    so_far = "" if finished else " so far"
    return Line(
        "Materials",
        show_money(quoted, currency),
        f"{show_money(took.money, currency)}{so_far}, leftovers included"
        + (f"; {took.words}" if took.words else ""),
        _apart(float(took.money), float(quoted), finished),
    )


def _apart(actual: float, quoted: float, finished: bool) -> str:
    if not quoted or not actual:
        return ""
    share = actual / quoted - 1
    if not finished:
        return f"{100 * actual / quoted:.0f} % of it used up"
    if abs(share) <= NEAR:
        return "as quoted"
    return f"{100 * abs(share):.0f} % {'more' if share > 0 else 'less'}"


def _ready(job: Job, quote: GivenQuote, work: Work) -> Line:
    promised = quote.sure_on or quote.likely_on
    told = f"{promised:%a} {show_day(promised)}" if promised else "no day was named"
    gone, of = counted_out(job)
    over = (
        HandOver.objects.filter(job=job, withdrawn=None).exclude(signed=None).order_by("-day").first()
        if 0 < of <= gone
        else None
    )
    day = over.day if over and over.day else work.days[-1] if work.finished and work.days else None
    if day is None:
        return Line("Ready", told, "not yet")
    what = "handed over" if over else "last work"
    late = (day - promised).days if promised else 0
    words = f"{counted(abs(late), 'day')} {'late' if late > 0 else 'early'}" if late else ""
    return Line(
        "Ready", told, f"{what} {day:%a} {show_day(day)}", words or ("on the day" if promised else "")
    )


@dataclass(frozen=True, slots=True)
class Account:
    """What is to be invoiced: the quote that holds, lines beside it, tax; money before tax is `net`."""

    quote: GivenQuote | None
    lines: tuple[AccountLine, ...]
    tax_name: str
    tax_rate: Decimal

    @property
    def rows(self) -> tuple[tuple[str, Decimal], ...]:
        """Words and money of each line."""
        first = (
            ((f"Quote {self.quote.number}: {self.quote.name.lower()}", self.quote.net),) if self.quote else ()
        )
        return (*first, *((line.text, line.amount) for line in self.lines))

    @property
    def net(self) -> Decimal:
        """Money before tax."""
        return sum((amount for _, amount in self.rows), Decimal(0))

    @property
    def tax(self) -> Decimal:
        """The tax on it, to the cent."""
        return (self.net * self.tax_rate).quantize(CENT, ROUND_HALF_UP)

    @property
    def percent(self) -> str:
        """The tax as per cent."""
        return f"{float(self.tax_rate * 100):.4g} %"

    @property
    def total(self) -> Decimal:
        """Money with tax."""
        return self.net + self.tax


def account(job: Job) -> Account:
    """What is to be invoiced of a job."""
    quote = quote_in_force(job)
    lines = tuple(AccountLine.objects.filter(job=job, withdrawn=None).select_related("snag"))
    told: GivenQuote | Figures = quote or figures(job)
    return Account(quote, lines, told.tax_name or "Tax", Decimal(told.tax_rate))


def not_charged(job: Job) -> list[Snag]:
    """Snags that were repaired or replaced and stand on no line: the shop says what they cost, or nothing."""
    found = Snag.objects.filter(job=job, withdrawn=None, decision__in=(Decision.REPAIR, Decision.REPLACE))
    return list(found.exclude(account_lines__in=AccountLine.objects.filter(withdrawn=None)).order_by("id"))


def deliveries(job: Job) -> tuple[str, ...]:
    """When what was handed over to whom, the oldest first."""
    return tuple(
        f"{counted(row.lines.filter(withdrawn=None, stays='').count(), 'piece')} handed over to {row.to}"
        + (f" on {show_day(row.day)}" if row.day else "")
        for row in reversed(signed(job))
    )


WHOSE = {
    "open": "not settled whose it is",
    "ours": "ours to put right",
    "wear": "wear",
    "damage": "later damage",
}


def claims(job: Job) -> list[Claim]:
    """The claims of a job, the newest first."""
    return list(Claim.objects.filter(job=job, withdrawn=None).select_related("touch_up", "person"))


def open_claims() -> list[Claim]:
    """Every claim that is not settled, the oldest first."""
    return list(
        Claim.objects.filter(settled=None, withdrawn=None)
        .select_related("job", "touch_up")
        .order_by("day", "id")
    )
