"""The shopping list: need less stock, rounded up to what is sold."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import ceil

from .howmuch import Takeoff
from .products import Product, Role


@dataclass(frozen=True, slots=True)
class Line:
    """One line: `need` mL at the odds asked for, `stock` mL on hand, `packs` to buy, `price` money for them; `product` None when the shop lists none."""

    what: str
    need: float
    stock: float
    product: Product | None
    packs: int
    price: Decimal


def shopping_list(
    takeoff: Takeoff,
    products: Mapping[str, Product],
    stock: Mapping[str, float],
    *,
    base_share: float = 0.82,
    odds: float = 0.9,
) -> tuple[Line, ...]:
    """What to buy so that it suffices with the odds; `base_share` is the clear base's share of the mixed colour's volume."""
    clear = takeoff.clear.at(odds)
    wants = [
        ("Stripper", Role.STRIPPER, takeoff.stripper.at(odds)),
        ("Cleaner", Role.CLEANER, takeoff.cleaner.at(odds)),
        ("Clear base for the colour", Role.BASE, takeoff.colour.at(odds) * base_share),
        ("Clear", Role.CLEAR, clear),
    ]
    by_role = {role: [p for p in products.values() if p.role is role] for role in Role}
    for linker in by_role[Role.CROSSLINKER]:
        wants.append((linker.name, Role.CROSSLINKER, (clear + takeoff.colour.at(odds)) * linker.ratio))
    return tuple(_line(what, role, need, by_role, stock) for what, role, need in wants if need > 0)


def _line(
    what: str, role: Role, need: float, by_role: Mapping[Role, list[Product]], stock: Mapping[str, float]
) -> Line:
    choice = next((p for p in by_role[role] if role is not Role.CROSSLINKER or p.name == what), None)
    if choice is None:
        return Line(what, need, 0.0, None, 0, Decimal(0))
    held = stock.get(choice.key, 0.0)
    packs = max(0, ceil((need - held) / choice.pack))
    return Line(what, need, held, choice, packs, choice.price * packs)
