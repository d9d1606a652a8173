"""Products and stock: list, change, count, receive and draw."""

import re
from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone
from django.utils.text import slugify

from hidewright.refusals import Refusal
from hidewright.takeoff import products as stage
from hidewright.takeoff.products import Product as Value
from hidewright.takeoff.products_csv import read_products
from hidewright.units import counted
from hidewright.workshop.shelf.models import Product, ProductLot, StockMove
from hidewright.workshop.shelf.queries import facts_of
from hidewright.workshop.shop.models import Act
from hidewright.workshop.shop.undo import record, undoes
from hidewright.workshop.shop.units import shown_volume

MOST_ML = 1e6
"""No movement of stock is larger (mL)."""


def key_for(name: str) -> str:
    """A key from a name that no product has."""
    plain = slugify(name)[:36] or "product"
    taken = set(Product.objects.values_list("key", flat=True))
    return next(k for k in (plain, *(f"{plain}-{n}" for n in range(2, 1000))) if k not in taken)


def import_csv(text: str) -> int:
    """Add or change products from a CSV text; returns how many rows were added or changed."""
    found = read_products(text)
    put_in(found, "a list")
    return len(found)


def put_in(found: Mapping[str, Value], source: str) -> Act:
    """Add or change products by their keys; returns the act."""
    for key in found:
        if not re.fullmatch(r"[\w-]{1,40}", key):
            raise Refusal(
                f"The key {key[:40]} has other marks than letters, figures and hyphens.", where="key"
            )
    with transaction.atomic():
        before = {
            row.key: facts_of(row) | {"active": row.active} for row in Product.objects.filter(key__in=found)
        }
        for key, product in found.items():
            Product.objects.update_or_create(key=key, defaults={**facts(product), "active": True})
        new = [key for key in found if key not in before]
        return record(
            None,
            f"Took {counted(len(found), 'product')} from {source} ({len(new)} new)",
            undo="products.back",
            undo_with={"facts": before, "out": new},
        )


@undoes("products.back")
def _back(old: dict[str, Any]) -> None:
    for key, was in old.get("facts", {}).items():
        facts_then = {**was, "price": Decimal(was["price"])}
        Product.objects.filter(key=key).update(**facts_then, version=F("version") + 1)
    Product.objects.filter(key__in=old.get("out", [])).update(active=False)
    Product.objects.filter(key__in=old.get("in", [])).update(active=True)


def add_product(product: stage.Product) -> Product:
    """List a new product."""
    with transaction.atomic():
        if Product.objects.filter(key=product.key).exists():
            raise Refusal(f"The key {product.key} is in use.", where="key", remedy="Choose another.")
        row = Product.objects.create(**facts(product))
        record(None, f"Added {row.name}", undo="products.back", undo_with={"out": [row.key]})
        return row


def change_product(row: Product, product: stage.Product, version: int) -> None:
    """Change a product's facts; refuses when somebody changed it since it was shown."""
    old = facts_of(row)
    with transaction.atomic():
        changed = Product.objects.filter(pk=row.pk, version=version).update(
            **facts(product), version=F("version") + 1
        )
        if changed != 1:
            raise Refusal(
                "Somebody changed this product meanwhile.", remedy="Reload the page and look again."
            )
        record(None, f"Changed {product.name}", undo="products.back", undo_with={"facts": {row.key: old}})


def remove_product(row: Product) -> None:
    """Take a product off the list; its movements stay."""
    with transaction.atomic():
        if Product.objects.filter(pk=row.pk, active=True).update(active=False):
            record(None, f"Took {row.name} off the list", undo="products.back", undo_with={"in": [row.key]})


def move(key: str, millilitres: float, why: str, lot: ProductLot | None = None) -> StockMove:
    """Move stock: in above nothing, out below. For pours, counts and deliveries."""
    if not 0 < abs(millilitres) <= MOST_ML:
        raise Refusal(
            f"{millilitres:g} mL is no movement of stock.",
            where="volume",
            remedy="Write how much came or went.",
        )
    product = Product.objects.filter(key=key).first()
    if product is None:
        raise Refusal(f"No product has the key {key}.", where="product", remedy="List it first.")
    return StockMove.objects.create(product=product, lot=lot, millilitres=millilitres, why=why[:120])


def receive(
    row: Product,
    millilitres: float,
    *,
    lot: str = "",
    keep_until: date | None = None,
    received: date | None = None,
) -> StockMove:
    """Take in a delivery, under its lot if one is given."""
    if not 0 < millilitres <= MOST_ML:
        raise Refusal("Something comes in or nothing does.", where="volume", remedy="Write how much came.")
    with transaction.atomic():
        found, new = None, False
        if lot.strip():
            defaults = {"received": received or date.today(), "keep_until": keep_until}
            found, new = ProductLot.objects.get_or_create(
                product=row, name=lot.strip()[:60], defaults=defaults
            )
            new |= bool(ProductLot.objects.filter(pk=found.pk).exclude(finished=None).update(finished=None))
        made = move(row.key, millilitres, "came in", found)
        record(
            None,
            f"Took in {shown_volume(millilitres)} of {row.name}",
            undo="products.counter",
            undo_with={"move": made.pk, "new_lot": new},
        )
        return made


@undoes("products.counter")
def _counter(old: dict[str, Any]) -> None:
    row = StockMove.objects.get(pk=old["move"])
    move(row.product.key, -row.millilitres, "put right: undone", row.lot)
    left = StockMove.objects.filter(lot=row.lot).aggregate(total=Sum("millilitres"))["total"] or 0.0
    if row.lot is not None and old.get("new_lot") and abs(left) < 0.5:
        ProductLot.objects.filter(pk=row.lot.pk, finished=None).update(finished=timezone.localdate())


def count(row: Product, millilitres: float) -> StockMove | None:
    """Set what is on hand to what was counted, by a movement of the difference; None when it is right already."""
    if not 0 <= millilitres <= MOST_ML:
        raise Refusal("Write what is on hand, in mL or with a unit.", where="volume")
    with transaction.atomic():
        held = StockMove.objects.filter(product=row).aggregate(total=Sum("millilitres"))["total"] or 0.0
        difference = millilitres - held
        if abs(difference) < 0.5:
            return None
        made = move(row.key, difference, "counted")
        record(
            None,
            f"Counted {row.name}: {shown_volume(millilitres)}",
            undo="products.counter",
            undo_with={"move": made.pk},
        )
        return made


def open_lot(row: ProductLot) -> None:
    """Note that a lot was opened today."""
    with transaction.atomic():
        if ProductLot.objects.filter(pk=row.pk, opened=None).update(opened=timezone.localdate()):
            record(None, f"Opened {row}", undo="products.lot", undo_with={"lot": row.pk, "opened": None})


def finish_lot(row: ProductLot) -> None:
    """Note that a lot is used up or thrown away; what was left of it leaves the stock."""
    with transaction.atomic():
        if not ProductLot.objects.filter(pk=row.pk, finished=None).update(finished=timezone.localdate()):
            return
        left = StockMove.objects.filter(lot=row).aggregate(total=Sum("millilitres"))["total"] or 0.0
        made = move(row.product.key, -left, "lot finished", row) if abs(left) >= 0.5 else None
        record(
            None,
            f"Finished {row}",
            undo="products.lot",
            undo_with={"lot": row.pk, "finished": None, "move": made.pk if made else None},
        )


@undoes("products.lot")
def _lot_back(old: dict[str, Any]) -> None:
    changes = {name: old[name] for name in ("opened", "finished") if name in old}
    ProductLot.objects.filter(pk=old["lot"]).update(**changes)
    if old.get("move"):
        _counter({"move": old["move"]})


def facts(product: Value) -> dict[str, Any]:
    """What is kept of a product: every field of it."""
    found = {field.name: getattr(product, field.name) for field in fields(product)}
    return {**found, "role": str(product.role)}
