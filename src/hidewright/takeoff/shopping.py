"""The shopping list: need less stock, rounded up to what is sold."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from hidewright.defaults import BASE_SHARE
from hidewright.refusals import Refusal

from .howmuch import Takeoff
from .odds import Spread
from .products import Product, Role


@dataclass(frozen=True, slots=True)
class Want:
    """Something the job takes: `what` in words, the product (None when the shop lists none), and how much with its odds."""

    what: str
    product: Product | None
    spread: Spread


@dataclass(frozen=True, slots=True)
class Line:
    """One line: `likely` mL half of the time, `need` mL at the odds asked for, `stock` mL on hand, `packs` to buy, `price` money for them."""

    what: str
    likely: float
    need: float
    stock: float
    product: Product | None
    packs: int
    price: Decimal

    @property
    def short(self) -> float:
        """mL that are not on hand."""
        return max(0.0, self.need - self.stock)


def wants_of(
    takeoff: Takeoff,
    products: Mapping[str, Product],
    *,
    base_share: float = BASE_SHARE,
    chosen: Mapping[Role, str] | None = None,
    pigments: Sequence[tuple[Product, float]] = (),
) -> tuple[Want, ...]:
    """What the job takes of each product.

    `base_share` is the clear base's share of the mixed colour's volume; `chosen` names the product to use for a role (else the first listed); `pigments` are
    dispersions with their shares of the mixed colour.
    """
    if not 0 <= base_share <= 1:
        raise Refusal(f"{base_share:g} is no share.", where="base share", remedy="It lies from 0 to 1.")

    def choice(role: Role) -> Product | None:
        key = (chosen or {}).get(role, "")
        listed = [p for p in products.values() if p.role is role]
        return products.get(key) or (listed[0] if listed else None)

    colour, clear = takeoff.colour.spread, takeoff.clear.spread
    made = [
        Want("Stripper", choice(Role.STRIPPER), takeoff.stripper.spread),
        Want("Cleaner", choice(Role.CLEANER), takeoff.cleaner.spread),
        Want("Wipe-down solvent", choice(Role.SOLVENT), takeoff.solvent.spread),
        Want("Primer", choice(Role.PRIMER), takeoff.primer.spread),
        Want("Clear base for the colour", choice(Role.BASE), colour.scaled(base_share)),
        *(Want(p.name, p, colour.scaled(share)) for p, share in pigments),
        Want("Clear", choice(Role.CLEAR), clear),
    ]
    linker = choice(Role.CROSSLINKER)
    if linker:
        both = Spread(
            colour.median + clear.median, max(colour.sigma, clear.sigma), colour.fixed + clear.fixed
        )
        made.append(Want("Crosslinker", linker, both.scaled(linker.ratio)))
    return tuple(want for want in made if want.spread.median or want.spread.fixed > 0)


def shopping_list(
    takeoff: Takeoff,
    products: Mapping[str, Product],
    stock: Mapping[str, float],
    *,
    base_share: float = BASE_SHARE,
    odds: float = 0.9,
    chosen: Mapping[Role, str] | None = None,
    pigments: Sequence[tuple[Product, float]] = (),
) -> tuple[Line, ...]:
    """What to buy so that it suffices with the odds; `stock` is mL on hand by product key."""
    wants = wants_of(takeoff, products, base_share=base_share, chosen=chosen, pigments=pigments)
    return tuple(_line(want, stock, odds) for want in wants)


def _line(want: Want, stock: Mapping[str, float], odds: float) -> Line:
    need, likely = want.spread.at(odds), want.spread.at(0.5)
    if want.product is None:
        return Line(want.what, likely, need, 0.0, None, 0, Decimal(0))
    held = stock.get(want.product.key, 0.0)
    packs = max(0, ceil((need - held) / want.product.pack - 1e-9))
    return Line(want.what, likely, need, held, want.product, packs, want.product.price * packs)
