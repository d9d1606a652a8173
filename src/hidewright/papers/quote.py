"""The customer's quote: what they buy, the colour, the day in words, how long it holds, the terms. What the shop earns by it is not on it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from hidewright.dates import long_day
from hidewright.money import show_money
from hidewright.papers.paper_size import SIZES, check_paper
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

CENT = Decimal("0.01")


@dataclass(frozen=True)
class QuoteLine:
    """One thing that is charged: money is exact."""

    text: str
    amount: Decimal
    detail: str = ""

    def __post_init__(self) -> None:
        if not self.amount.is_finite():
            raise Refusal("The amount is no sum of money.", where=self.text)

    @property
    def rounded(self) -> Decimal:
        """The amount as it is printed and added up."""
        return self.amount.quantize(CENT, ROUND_HALF_UP)


@dataclass(frozen=True)
class ScopeLine:
    """One group of pieces that the customer gets back: how many, and what is done to them."""

    name: str
    pieces: int
    words: str

    def __post_init__(self) -> None:
        if self.pieces < 1:
            raise Refusal("A group on a quote has at least one piece.", where=self.name)


@dataclass(frozen=True)
class Ready:
    """When it is ready: `likely` in five cases of ten or more (`times` says in how many), `sure` in nine of ten (None: not simulated), `starts` the first working day; `days` of work where nothing is planned."""

    likely: date | None = None
    sure: date | None = None
    starts: date | None = None
    days: float | None = None
    times: str = ""

    def __post_init__(self) -> None:
        if self.likely and self.sure and self.likely > self.sure:
            raise Refusal("The likely day is after the sure one.", where="Day")

    @property
    def words(self) -> tuple[str, ...]:
        """In sentences that a customer understands."""
        told = []
        if self.sure:
            told.append(
                f"Plan with {long_day(self.sure)}: of ten jobs like this one, nine are ready by their day."
            )
        if self.likely and self.likely != self.sure:
            often = self.times[:1].upper() + self.times[1:] if self.times else "As likely as not"
            told.append(f"{often} it is ready by {long_day(self.likely)}.")
        if not told:
            some = f"About {self.days:.0f} working days of work, and drying. " if self.days else ""
            told.append(f"{some}We name the day when the work is planned.")
        elif self.starts:
            told.append(
                f"This holds if the pieces and your choice of colour are here by {long_day(self.starts)}."
            )
        return tuple(told)


@dataclass(frozen=True)
class Quote:
    """Everything that stands on a quote; `tax_rate` as a share 0..1 (0: none is shown), `number` 0 while it was not given to anybody."""

    job: str
    client: str
    shop: str
    lines: tuple[QuoteLine, ...]
    made_on: date
    number: int = 0
    scope: tuple[ScopeLine, ...] = ()
    left_out: tuple[str, ...] = ()
    work: tuple[str, ...] = ()
    colours: tuple[str, ...] = ()
    currency: str = "$"
    valid_until: date | None = None
    ready: Ready | None = None
    tax_rate: Decimal = Decimal(0)
    tax_name: str = "Tax"
    terms: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    paper: str = "a4"
    page_url: str = ""

    def __post_init__(self) -> None:
        if not self.lines:
            raise Refusal("The quote has no line.", where=self.job, remedy="Work out the quantities first.")
        if not 0 <= self.tax_rate < 1:
            raise Refusal("The tax rate is a share between 0 and 1.", where=self.job)
        check_paper(self.paper)

    @property
    def net(self) -> Decimal:
        """The sum of the printed lines."""
        return sum((line.rounded for line in self.lines), Decimal(0))

    @property
    def tax(self) -> Decimal:
        """The tax on the net sum, to the cent."""
        return (self.net * self.tax_rate).quantize(CENT, ROUND_HALF_UP)

    def content(self) -> dict[str, Any]:
        """The quote as the template takes it: text only."""
        sums = [["Sum", self._money(self.net)]]
        if self.tax_rate:
            sums.append([f"{self.tax_name} {float(self.tax_rate * 100):.4g} %", self._money(self.tax)])
            sums.append(["To pay", self._money(self.net + self.tax)])
        dates = list(self.ready.words) if self.ready else []
        if self.valid_until:
            dates.append(f"This quote holds until {long_day(self.valid_until)}.")
        return {
            "title": f"Quote {self.number}" if self.number else "Quote, a draft",
            "job": self.job,
            "client": self.client,
            "shop": self.shop,
            "made_on": long_day(self.made_on),
            "scope": [[each.name, str(each.pieces), each.words] for each in self.scope],
            "left_out": list(self.left_out),
            "work": list(self.work),
            "colours": list(self.colours),
            "lines": [[line.text, line.detail, self._money(line.rounded)] for line in self.lines],
            "sums": sums,
            "dates": dates,
            "terms": list(self.terms),
            "cautions": list(self.cautions),
            "paper": self.paper,
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }

    def _money(self, amount: Decimal) -> str:
        return show_money(amount, self.currency)


def quote_pdf(quote: Quote) -> bytes:
    """The quote as PDF."""
    return press("quote", quote.content(), made_on=quote.made_on)


def kept_quote_pdf(content: Mapping[str, Any], *, made_on: date, paper: str = "") -> bytes:
    """A quote that was given, printed again from its kept content, on another size of paper where `paper` names one."""
    return press("quote", {**content, **({"paper": paper} if paper in SIZES else {})}, made_on=made_on)
