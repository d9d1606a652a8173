"""Price: labour, materials, sundries, a markup on what is bought, and a margin for risk taken from the odds.

The margin is what the whole costs at the odds that the shop wants to be safe with, above what it costs half of the time. Money is Decimal, rounded once, at
the end of each line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

import numpy as np

from hidewright.refusals import Refusal

from .odds import sigma_of, sum_of
from .shopping import Want

LABOUR_SD = 0.15
"""Relative sd of the hours that a job takes: common practice, no source."""
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Price:
    """A price in its parts; `total` is their sum. `unpriced` names what the job takes and no price is listed for: it is not in the sum."""

    labour: Decimal
    materials: Decimal
    sundries: Decimal
    markup: Decimal
    risk: Decimal
    unpriced: tuple[str, ...] = ()

    @property
    def total(self) -> Decimal:
        """The sum of the parts."""
        return self.labour + self.materials + self.sundries + self.markup + self.risk


def _cents(money: float | Decimal) -> Decimal:
    return Decimal(str(money)).quantize(CENT, ROUND_HALF_UP)


def price(
    hours: float,
    hourly: Decimal,
    wants: Sequence[Want],
    sundries: Decimal,
    *,
    markup: float = 0.15,
    odds: float = 0.8,
) -> Price:
    """The price of work that takes so many hours of hands and these materials, used up to the mL rather than in packs.

    `markup` is on materials and sundries; `odds` are those of not losing by it, 0.5 ≤ odds < 1. What no product, or none with a price, is listed for costs nothing here and is named.
    """
    if not 0 <= hours < 1e5:
        raise Refusal(f"{hours:g} hours cannot be.", where="hours")
    if not hourly.is_finite() or hourly < 0:
        raise Refusal("An hour costs nothing less than nothing.", where="hourly")
    if not 0 <= markup <= 5:
        raise Refusal("A markup lies from 0 to 500 %.", where="markup")
    if not 0.5 <= odds < 1:
        raise Refusal("The odds of not losing lie from 50 to under 100 %.", where="odds")
    bought = [(float(w.product.price_per_ml), w.spread) for w in wants if w.product]
    material = sum(each * spread.at(0.5) for each, spread in bought)
    labour = hours * float(hourly)
    sizes = np.array([labour, *(each * spread.median for each, spread in bought)])
    sigmas = np.array([sigma_of(LABOUR_SD), *(spread.sigma for _, spread in bought)])
    whole = sum_of(sizes, np.zeros(len(sizes)), np.diag(sigmas**2))
    risk = max(0.0, whole.at(odds) - float(sizes.sum())) if odds > 0.5 else 0.0
    added = (Decimal(str(material)) + sundries) * Decimal(str(markup))
    unpriced = tuple(w.what for w in wants if w.product is None or not w.product.price)
    return Price(_cents(labour), _cents(material), _cents(sundries), _cents(added), _cents(risk), unpriced)
