"""Bench values as rows: entries with their moves and their turn in each vessel's sequence."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import F

from hidewright.mixing import STOCK, Entry, MixRecipe
from hidewright.mixing.amounts import millilitres
from hidewright.refusals import Refusal
from hidewright.workshop.shelf.models import (
    MixComponent,
    MixEntry,
    MixMove,
    MixTurn,
    MixVessel,
    Product,
    ProductLot,
    StockMove,
)
from hidewright.workshop.shop.models import Device, Job


def keep_entry(
    entry: Entry,
    vessels: Sequence[MixVessel],
    *,
    job: Job | None,
    text: str,
    token: str | None,
    device: Device | None,
    drawn: Mapping[str, Product],
) -> MixEntry:
    """Add an entry with its moves; each vessel's sequence goes on by one, and the stock of the products `drawn` on (by component) moves.

    Call it inside a transaction that holds the vessels.
    """
    row = MixEntry.objects.create(
        job=job,
        act=entry.act.value,
        counters_id=entry.counters,
        token=token or None,
        text=text[:200],
        note=entry.note[:200],
        person=device.person if device else None,
        device=device,
    )
    MixMove.objects.bulk_create(
        MixMove(
            entry=row, source=m.source, target=m.target, component=m.component, lot=m.lot, amount=m.amount
        )
        for m in entry.moves
    )
    _keep_stock(row, entry, drawn)
    by_key = {vessel.key: vessel for vessel in vessels}
    for key in sorted(entry.vessels()):
        _take_turn(by_key[key], row)
    return row


def _keep_stock(row: MixEntry, entry: Entry, drawn: Mapping[str, Product]) -> None:
    """Move the stock of products that the entry draws on, or gives back to; a pigment's stock follows from its pours themselves."""
    sums: dict[tuple[str, str], int] = {}
    for move in entry.moves:
        if STOCK in (move.source, move.target):
            key = (move.component, move.lot)
            sums[key] = sums.get(key, 0) + (move.amount if move.target == STOCK else -move.amount)
    for (component, lot), amount in sums.items():
        product = drawn.get(component)
        if product is not None and amount:
            StockMove.objects.create(
                product=product,
                lot=ProductLot.objects.filter(product=product, name=lot).first() if lot else None,
                millilitres=millilitres(amount),
                why=row.text[:120],
                entry=row,
            )


def _take_turn(vessel: MixVessel, entry: MixEntry) -> None:
    moved_on = MixVessel.objects.filter(pk=vessel.pk, turns=vessel.turns).update(turns=F("turns") + 1)
    if moved_on != 1:
        raise Refusal(
            f"{vessel.name} was changed by somebody else in this moment.",
            remedy="Nothing was logged. Look at the cup again.",
        )
    vessel.turns += 1
    MixTurn.objects.create(vessel=vessel, entry=entry, seq=vessel.turns)


def keep_components(recipe: MixRecipe, hexes: Mapping[str, str]) -> None:
    """Note name, density and screen colour of the recipe's parts, as they are now."""
    for part in recipe.parts:
        MixComponent.objects.update_or_create(
            key=part.key,
            defaults={"name": part.name, "density": part.density, "hex": hexes.get(part.key, "")},
        )


def plan_data(recipe: MixRecipe, hexes: Mapping[str, str], mixed: str = "") -> dict[str, Any]:
    """A recipe as a vessel keeps it; `mixed` is the screen colour of the whole."""
    return {
        "name": recipe.name,
        "hex": mixed,
        "parts": [
            {
                "key": p.key,
                "name": p.name,
                "share": p.share,
                "density": p.density,
                "hex": hexes.get(p.key, ""),
            }
            for p in recipe.parts
        ],
    }
