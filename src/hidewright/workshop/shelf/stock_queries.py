"""What is left on the shelf of what the bench pours: lots with their contents and days, and which product a component is."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Sum
from django.utils import timezone
from django.utils.text import slugify

from hidewright.colour.learning.cup import BASE
from hidewright.mixing import STOCK, Entry
from hidewright.mixing.amounts import millilitres
from hidewright.takeoff.products import Role
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shelf.models import MixMove, Pigment, PigmentLot, Product, ProductLot, StockMove

LEAST = 0.05
"""mL below which a bottle is empty by the book."""
LINKER = "crosslinker:"
"""Stands before the name of a crosslinker in its component's key."""
PRODUCT = "product:"
"""Stands before the key of any other product in its component's key."""


def lot_left(lot: PigmentLot) -> float | None:
    """mL left in a bottle: what it held when it was last looked at (or came), less what was poured of it since; None when that is not known."""
    start, since = (lot.left, lot.counted) if lot.counted is not None else (lot.volume, lot.made)
    if start is None or since is None:
        return None
    moves = MixMove.objects.filter(source=STOCK, component=lot.pigment.key, lot=lot.name, entry__at__gt=since)
    moves = moves.filter(entry__countered_by=None, entry__counters=None)
    poured = sum(moves.values_list("amount", flat=True))
    return max(start - millilitres(poured), 0.0)


@dataclass(frozen=True, slots=True)
class PigmentLotShown:
    """A bottle of a pigment as its page shows it: its row, and mL `left` by the book (None: not known)."""

    row: PigmentLot
    left: float | None

    @property
    def past(self) -> bool:
        """Still in use, and past its day."""
        until = self.row.keep_until
        return self.row.finished is None and until is not None and until < timezone.localdate()


def pigment_lots(pigment: Pigment) -> list[PigmentLotShown]:
    """Every bottle of a pigment, the newest first."""
    return [PigmentLotShown(lot, lot_left(lot)) for lot in pigment.lots.select_related("pigment")]


def past_their_day() -> set[int]:
    """The pigments of which a bottle in use that is not empty by the book is past its day, by number."""
    old = PigmentLot.objects.filter(finished=None, keep_until__lt=timezone.localdate()).select_related(
        "pigment"
    )
    return {lot.pigment_id for lot in old if (left := lot_left(lot)) is None or left >= LEAST}


def left_ml() -> dict[str, float]:
    """mL left of each pigment, by key; only of those of which every bottle that is not finished was noted with its amount."""
    found: dict[str, list[float | None]] = {}
    for lot in PigmentLot.objects.filter(finished=None, pigment__active=True).select_related("pigment"):
        found.setdefault(lot.pigment.key, []).append(lot_left(lot))
    return {
        key: sum(amount for amount in amounts if amount is not None)
        for key, amounts in found.items()
        if all(amount is not None for amount in amounts)
    }


@dataclass(frozen=True, slots=True)
class LotHeld:
    """One lot that can be poured from: mL `left` by the book (None: not known), opened or not, and the day it keeps `until`."""

    name: str
    left: float | None
    opened: date | None
    until: date | None = None

    @property
    def empty(self) -> bool:
        """Nothing is left by the book."""
        return self.left is not None and self.left < LEAST

    @property
    def past(self) -> bool:
        """Past its day."""
        return self.until is not None and self.until < timezone.localdate()

    def lacks(self, millilitres: float) -> float:
        """mL that a pour takes beyond what is left; 0 when that is not known."""
        return 0.0 if self.left is None else max(0.0, millilitres - self.left)


def product_row(component: str) -> Product | None:
    """The product that a component of the bench is drawn from; None for a pigment and for what the shop does not list."""
    listed = Product.objects.filter(active=True)
    if component == BASE:
        return listed.filter(role=Role.BASE.value).order_by("id").first()
    if component.startswith(LINKER):
        told = component.removeprefix(LINKER)
        linkers = listed.filter(role=Role.CROSSLINKER.value)
        return next((row for row in linkers if slugify(row.name)[:40] == told), None)
    if component.startswith(PRODUCT):
        return Product.objects.filter(key=component.removeprefix(PRODUCT)).first()
    return None


def products_in(entry: Entry) -> dict[str, Product]:
    """The products that an entry draws from stock or gives back to it, by component."""
    keys = {move.component for move in entry.moves if STOCK in (move.source, move.target)}
    return {key: row for key in keys if (row := product_row(key)) is not None}


def component_of(row: Product) -> str:
    """The bench's key of a product that is poured into a cup."""
    first = product_row(BASE)
    if first is not None and first.pk == row.pk:
        return BASE
    return f"{LINKER}{slugify(row.name)[:40]}" if row.role == Role.CROSSLINKER else f"{PRODUCT}{row.key}"


def lots_held(component: str) -> list[LotHeld]:
    """The lots that a component can be poured from: the one opened last first, then those not yet opened, the oldest first."""
    row = product_row(component)
    if row is None:
        found = [
            LotHeld(lot.name, lot_left(lot), lot.opened, lot.keep_until)
            for lot in PigmentLot.objects.filter(pigment__key=component, finished=None)
            .select_related("pigment")
            .order_by("received", "id")
        ]
    else:
        found = [product_lot(lot, row) for lot in row.lots.filter(finished=None).order_by("received", "id")]
    opened = sorted(
        (lot for lot in found if lot.opened), key=lambda lot: lot.opened or date.min, reverse=True
    )
    return [*opened, *(lot for lot in found if not lot.opened)]


def product_lot(lot: ProductLot, row: Product) -> LotHeld:
    """A product's lot with what its movements leave of it."""
    total = StockMove.objects.filter(lot=lot).aggregate(total=Sum("millilitres"))["total"]
    return LotHeld(lot.name, float(total or 0.0), lot.opened, products.keeps_until(lot, row.shelf))


def lot_of_row(component: str, name: str) -> PigmentLot | ProductLot | None:
    """The row of a lot that is on the shelf; None when the shop does not list it."""
    row = product_row(component)
    if row is not None:
        return row.lots.filter(name=name, finished=None).first()
    return PigmentLot.objects.filter(pigment__key=component, name=name, finished=None).first()


def stock() -> dict[str, float]:
    """mL on hand by key: products by their movements, pigments by what came less what was poured."""
    return {**left_ml(), **products.stock()}
