"""The quote: what will be done, what it costs, by when, and what the figures rest on."""

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from hidewright.papers.figures import long_day
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
class Quote:
    """Everything that stands on a quote; `tax_rate` as a share 0..1 (0: none is shown)."""

    job: str
    client: str
    shop: str
    lines: tuple[QuoteLine, ...]
    made_on: date
    currency: str = "$"
    valid_until: date | None = None
    ready_on: date | None = None
    tax_rate: Decimal = Decimal(0)
    tax_name: str = "Tax"
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    page_url: str = ""

    def __post_init__(self) -> None:
        if not self.lines:
            raise Refusal("The quote has no line.", where=self.job, remedy="Work out the quantities first.")
        if not 0 <= self.tax_rate < 1:
            raise Refusal("The tax rate is a share between 0 and 1.", where=self.job)

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
        dates = []
        if self.ready_on:
            dates.append(f"Ready on {long_day(self.ready_on)}, if work starts as agreed.")
        if self.valid_until:
            dates.append(f"This quote holds until {long_day(self.valid_until)}.")
        return {
            "title": "Quote",
            "job": self.job,
            "client": self.client,
            "shop": self.shop,
            "made_on": long_day(self.made_on),
            "lines": [[line.text, line.detail, self._money(line.rounded)] for line in self.lines],
            "sums": sums,
            "dates": dates,
            "assumptions": list(self.assumptions),
            "cautions": list(self.cautions),
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }

    def _money(self, amount: Decimal) -> str:
        sign = "−" if amount < 0 else ""
        return f"{sign}{self.currency}{abs(amount):,.2f}"


def quote_pdf(quote: Quote) -> bytes:
    """The quote as PDF."""
    return press("quote", quote.content(), made_on=quote.made_on)
