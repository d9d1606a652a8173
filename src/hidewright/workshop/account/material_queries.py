"""What materials a job took, in money: everything that left the shelf for it, at the prices that the shop has now."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import Q, Sum

from hidewright.mixing import STOCK
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.products import Role
from hidewright.workshop.quantities.models import HandUse, Use
from hidewright.workshop.shelf.models import MixComponent, MixMove, Pigment, Product, StockMove
from hidewright.workshop.shelf.stock_queries import product_row
from hidewright.workshop.shop.models import Job

CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Materials:
    """Money for what left the shelf for a job, leftovers in jars and waste included; `unpriced` names what the shop has no price of."""

    money: Decimal
    unpriced: tuple[str, ...]

    @property
    def words(self) -> str:
        """What is not in the money; empty where nothing is missing."""
        return f"without a price: {', '.join(self.unpriced)}" if self.unpriced else ""


def materials_of(job: Job) -> Materials:
    """What materials a job took: pours from the shelf into its cups less what went back, clear sprayed straight from the shelf, and what was logged by hand."""
    money, unpriced = Decimal(0), []
    for name, price, taken in (*_poured(job), *_drawn(job)):
        if taken <= 0:
            continue
        if not price:
            unpriced.append(name)
        money += price * Decimal(str(taken))
    return Materials(money.quantize(CENT, ROUND_HALF_UP), tuple(dict.fromkeys(unpriced)))


Line = tuple[str, Decimal, float]
"""Name, money a mL, mL."""


def _poured(job: Job) -> list[Line]:
    """What was poured from the shelf into the job's cups, by component."""
    taken: dict[str, int] = defaultdict(int)
    moves = MixMove.objects.filter(Q(source=STOCK) | Q(target=STOCK), entry__job=job).order_by()
    for row in moves.values("component", "source").annotate(sum=Sum("amount")):
        taken[row["component"]] += row["sum"] if row["source"] == STOCK else -row["sum"]
    names = dict(MixComponent.objects.filter(key__in=taken).values_list("key", "name"))
    pigments = dict(Pigment.objects.filter(key__in=taken).values_list("key", "price"))
    return [(names.get(key, key), _price(key, pigments), amount / 1000) for key, amount in taken.items()]


def _price(component: str, pigments: dict[str, Decimal]) -> Decimal:
    if component in pigments:
        return pigments[component] / 1000
    product = product_row(component)
    return _each(product) if product else Decimal(0)


def _each(product: Product) -> Decimal:
    """Money a mL."""
    return product.price / Decimal(str(product.pack)) if product.pack else Decimal(0)


def _drawn(job: Job) -> list[Line]:
    """What left the shelf without a cup: clear that sessions sprayed, clear logged without them, and products used by hand."""
    lines: list[Line] = []
    by_session = StockMove.objects.filter(sessions__job=job, sessions__withdrawn=None)
    for move in by_session.select_related("product"):
        lines.append((move.product.name, _each(move.product), -move.millilitres))
    for use in HandUse.objects.filter(job=job, struck=None).exclude(product=None).select_related("product"):
        assert use.product is not None
        lines.append((use.product.name, _each(use.product), use.amount))
    clear = Use.objects.filter(job=job, struck=None, stage=Stage.CLEAR, entry=None, sessions=None)
    logged = clear.aggregate(sum=Sum("millilitres"))["sum"] or 0.0
    product = Product.objects.filter(active=True, role=Role.CLEAR).order_by("id").first()
    return [*lines, (product.name if product else "clear", _each(product) if product else Decimal(0), logged)]
