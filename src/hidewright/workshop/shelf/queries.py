"""Products and stock as values."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import QuerySet, Sum

from hidewright.takeoff import products as stage
from hidewright.workshop.shelf.models import Product, ProductLot, StockMove
from hidewright.workshop.shop.page_cache import remembered

FACTS = (
    "key", "name", "role", "density", "solids", "pack", "price", "ratio", "pot_life", "touch_dry", "cure", "lel", "flash", "limit_ppm", "voc",
    "molar_mass", "shelf", "warm_cure", "warm_at", "notes",
)  # fmt: skip
"""What is kept of a product."""
ROLE_WORDS = {
    "base": "Clear base",
    "clear": "Clear (top coat)",
    "crosslinker": "Crosslinker",
    "stripper": "Stripper",
    "cleaner": "Cleaner",
    "solvent": "Solvent",
    "primer": "Primer",
    "filler": "Filler",
}


def facts_of(row: Product) -> dict[str, object]:
    """The facts of a row as they are kept, JSON-able."""
    return {name: str(row.price) if name == "price" else getattr(row, name) for name in FACTS}


def value(row: Product) -> stage.Product:
    """One product as the stages take it."""
    facts = {name: getattr(row, name) for name in FACTS}
    return stage.Product(**{**facts, "role": stage.Role(row.role), "price": Decimal(row.price)})


@remembered
def products() -> dict[str, stage.Product]:
    """The shop's products by key, in its order."""
    return {row.key: value(row) for row in Product.objects.filter(active=True)}


def stock() -> dict[str, float]:
    """mL on hand by product key: the sum of all movements."""
    sums = StockMove.objects.values("product__key").annotate(total=Sum("millilitres"))
    return {row["product__key"]: max(float(row["total"]), 0.0) for row in sums}


def lots(key: str) -> list[ProductLot]:
    """The lots of a product that are not used up, newest first."""
    return list(ProductLot.objects.filter(product__key=key, finished=None))


def first_of(role: stage.Role) -> stage.Product | None:
    """The product that is used for a role where nothing else is said: the first listed."""
    return next((product for product in products().values() if product.role is role), None)


@dataclass(frozen=True, slots=True)
class LotShown:
    """A lot with what is on hand of it (mL), and the day it keeps until."""

    row: ProductLot
    millilitres: float
    until: date | None

    @property
    def old(self) -> bool:
        """True when it is past its day."""
        return self.until is not None and self.until < date.today()


@dataclass(frozen=True, slots=True)
class Line:
    """A product of the list with what is on hand (mL)."""

    row: Product
    product: stage.Product
    on_hand: float
    lots: tuple[LotShown, ...]

    @property
    def old(self) -> bool:
        """True when a lot of it is past its day."""
        return any(lot.old and lot.millilitres > 0 for lot in self.lots)


def keeps_until(lot: ProductLot, shelf: float | None) -> date | None:
    """The day on the can, or so many days after opening; the earlier."""
    days = [lot.keep_until] if lot.keep_until else []
    if lot.opened and shelf:
        days.append(lot.opened + timedelta(days=int(shelf)))
    return min(days, default=None)


def line(row: Product) -> Line:
    """One product as it is shown."""
    return lines_of([row])[0]


def lines_of(rows: Sequence[Product]) -> list[Line]:
    """Products as they are shown, in this order."""
    sums: dict[int, dict[int | None, float]] = defaultdict(dict)
    moves = StockMove.objects.filter(product__in=rows).values("product_id", "lot")
    for each in moves.annotate(total=Sum("millilitres")):
        sums[each["product_id"]][each["lot"]] = float(each["total"])
    lots: dict[int, list[ProductLot]] = defaultdict(list)
    for lot in ProductLot.objects.filter(product__in=rows, finished=None):
        lots[lot.product_id].append(lot)
    return [
        Line(
            row,
            value(row),
            max(sum(sums[row.pk].values()), 0.0),
            tuple(
                LotShown(lot, sums[row.pk].get(lot.pk, 0.0), keeps_until(lot, row.shelf))
                for lot in lots[row.pk]
            ),
        )
        for row in rows
    ]


def listed() -> QuerySet[Product]:
    """The shop's products, in its order."""
    return Product.objects.filter(active=True)


def by_role(lines: Sequence[Line]) -> list[tuple[str, list[Line]]]:
    """Products under the words of their roles; roles without any are left out."""
    return [
        (words, found)
        for role, words in ROLE_WORDS.items()
        if (found := [e for e in lines if e.row.role == role])
    ]
