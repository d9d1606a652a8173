"""The bench's acts: each logs one entry in the book, in one transaction that holds the vessels it touches.

A form's token makes a double tap count once, even when the first answer was lost. A mistake is taken back by a counter-entry.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.dates import show_day
from hidewright.mixing import Entry, Ledger, MixRecipe
from hidewright.mixing import acts as bench
from hidewright.mixing.amounts import millilitres, some_microlitres
from hidewright.mixing.grain import BALANCE_STEPS
from hidewright.mixing.guide import drop_volume
from hidewright.mixing.ledger import volume
from hidewright.mixing.needed import still_needed
from hidewright.mixing.vessels import size_for
from hidewright.refusals import Refusal
from hidewright.takeoff.products import Role
from hidewright.workshop.shelf import book as keep
from hidewright.workshop.shelf import stock_queries as stock
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import (
    MixComponent,
    MixEntry,
    MixVessel,
    Pigment,
    PigmentLot,
    Product,
    ProductLot,
)
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes
from hidewright.workshop.shop.units import in_shop_units, said_volume, shown_volume

Maker = Callable[[Ledger], Entry]


@dataclass(frozen=True, slots=True)
class Logged:
    """What a step logged: the entry's row, and whether it is new (a repeated token changes nothing)."""

    entry: MixEntry
    fresh: bool


def hold(keys: Sequence[int]) -> list[MixVessel]:
    """Lock the vessels, always in the same order; on SQLite the immediate transaction holds the whole book."""
    rows = list(MixVessel.objects.select_for_update().filter(pk__in=set(keys)).order_by("pk"))
    if len(rows) < len(set(keys)):
        raise Refusal("This vessel is not there any more.", where="vessel", remedy="Reload the page.")
    return rows


def log(
    vessels: Sequence[MixVessel],
    make: Maker,
    text: str,
    *,
    token: str | None = None,
    device: Device | None = None,
    undoable: bool = True,
    told: bool = True,
    also: Mapping[str, Any] | None = None,
) -> Logged:
    """Hold the vessels, let `make` find the entry from the ledger as it is now, and add it. Once per token.

    `also`: what came with the entry and goes when it is undone: `away` and `unaccept`, a vessel's key; `pot_life`, a vessel's key and its minutes before; `sealed`, a component and its lot.
    """
    with transaction.atomic():
        held = hold([row.pk for row in vessels])
        if token:
            known = MixEntry.objects.filter(token=token).first()
            if known is not None:
                return Logged(known, False)
        put_away = [row for row in held if row.put_away]
        if put_away:
            raise Refusal(f"{put_away[0].name} was put away.", where="vessel", remedy="Reload the page.")
        try:
            entry = make(gather.ledger_of(held))
        except Refusal as refusal:
            raise in_shop_units(refusal) from refusal
        touched = _all_touched(held, entry)
        row = keep.keep_entry(
            entry,
            touched,
            job=held[0].job,
            text=text,
            token=token,
            device=device,
            drawn=stock.products_in(entry),
        )
        if not told:
            return Logged(row, True)
        if undoable:
            undo_with = {"entry": row.pk, **(also or {})}
            record(row.job, text, undo="mixing.take_back", undo_with=undo_with, device=device)
        else:
            record(row.job, text, device=device)
        return Logged(row, True)


def _all_touched(held: Sequence[MixVessel], entry: Entry) -> Sequence[MixVessel]:
    missing = entry.vessels() - {row.key for row in held}
    if missing:
        raise Refusal("This touches a vessel that is not held.", where="vessel", remedy="Reload the page.")
    return held


def shown(amount: int | float) -> str:
    """An amount of the ledger (µL), or mL, in the shop's units."""
    return said_volume(millilitres(amount) if isinstance(amount, int) else amount)


def begin_cup(
    job: Job,
    recipe: MixRecipe,
    aim: float,
    *,
    name: str = "",
    capacity: float | None = None,
    tare: float = 0.0,
    measure: str = MixVessel.Measure.RUNNING,
    grain: float | None = None,
    hexes: Mapping[str, str] | None = None,
    mixed_hex: str = "",
    recipe_id: int | None = None,
    number: int = 0,
    like: MixVessel | None = None,
    device: Device | None = None,
) -> MixVessel:
    """Begin a cup of `aim` mL; refuses what does not fit.

    `capacity` mL of its vessel: without it, the shop's smallest that takes the mix. `grain` g of the balance: without it, the shop's.
    """
    aim_ul = some_microlitres(aim, where="How much")
    capacity_ul = (
        some_microlitres(capacity, where="Vessel")
        if capacity is not None
        else size_for(gather.pots(), aim_ul)
    )
    still_needed(recipe, aim_ul, {}, capacity=capacity_ul)
    grain = grain if grain is not None else the_shop().balance_step
    _refuse_grain(grain)
    with transaction.atomic():
        keep.keep_components(recipe, hexes or {})
        row = MixVessel(
            job=job,
            colour_number=number,
            like=like,
            kind=MixVessel.Kind.CUP,
            name=name.strip() or next_name(job, recipe.name),
            capacity=capacity_ul,
            tare=tare,
            measure=measure,
            grain=grain,
            plan=keep.plan_data(recipe, hexes or {}, mixed_hex),
            aim=aim_ul,
            recipe_id=recipe_id,
        )
        row.save()
        gather.vessel_value(row)
        record(job, f"Began {row.name}: {shown(aim_ul)} of {recipe.name}", device=device)
    return row


def _refuse_grain(grain: float) -> None:
    if grain not in BALANCE_STEPS:
        raise Refusal(
            f"A balance with steps of {grain:g} g is not known here.",
            where="Balance",
            remedy=f"Choose one of {', '.join(f'{step:g}' for step in BALANCE_STEPS)} g.",
        )


def colour_name(name: str) -> str:
    """The colour's own name in that of a cup: "Tan" of "Tan, batch 2"."""
    return re.sub(r", batch \d+$", "", name).strip() or name


def next_name(job: Job, recipe: str) -> str:
    """What the next cup of a recipe is called in a job: "Tan, batch 2"."""
    names = MixVessel.objects.filter(job=job, kind=MixVessel.Kind.CUP).values_list("name", flat=True)
    used = set(names)
    number = 1
    while f"{recipe[:48]}, batch {number}" in used:
        number += 1
    return f"{recipe[:48]}, batch {number}"


def pour(
    row: MixVessel,
    component: str,
    amount: int,
    *,
    lot: str = "",
    said: str = "",
    token: str | None = None,
    device: Device | None = None,
    leftover: bool = False,
) -> Logged:
    """Log `amount` µL of a component; `said` is how it was read, such as “12.4 g”. A `leftover` that nobody logged goes from the list when its pour is undone."""
    known = MixComponent.objects.filter(key=component).first()
    if known is None:
        raise Refusal("This component is not known here.", where="component", remedy="Reload the page.")
    if row.kind == MixVessel.Kind.JAR:
        raise Refusal("A jar is filled by keeping what is left.", where="vessel", remedy="Pour into a cup.")
    told = f"{said}, {shown(amount)}" if said else shown(amount)
    with transaction.atomic():
        from_lot, note, also = drawn_from(component, amount, lot)
        text = f"Poured {known.name} into {row.name}: {told}{f', lot {from_lot}' if from_lot else ''}"
        return log(
            [row],
            lambda book: bench.pour(book, row.key, component, amount, lot=from_lot, note=note),
            text,
            token=token,
            device=device,
            also={**also, "leftover": component} if leftover else also,
        )


def drawn_from(component: str, amount: int, lot: str) -> tuple[str, str, dict[str, Any]]:
    """The lot that a pour draws from (the open one where none is named), what is odd about it, and what `log` takes as `also`.

    A lot is opened by its first pour, and is as it was when that is undone.

    A pour is never refused for it: it happened.
    """
    held = stock.lots_held(component)
    found = next((each for each in held if each.name == lot), None) if lot else (held[0] if held else None)
    if found is None:
        return lot, _list_lot(component, lot) if lot else "", {}
    row = stock.lot_of_row(component, found.name) if found.opened is None else None
    if row is not None:
        row.opened = timezone.localdate()
        row.save(update_fields=["opened"])
    lacking = found.lacks(millilitres(amount))
    told = []
    if lacking >= 0.05:
        told.append(
            f"By the records lot {found.name} had {shown_volume(found.left or 0)} left, {shown_volume(lacking)} too little."
        )
    if found.past and found.until:
        told.append(f"Lot {found.name} was past its day, {show_day(found.until)}.")
    return found.name, " ".join(told), {"sealed": [component, found.name]} if row is not None else {}


def _list_lot(component: str, lot: str) -> str:
    """Put a lot that was read off a bottle onto the shop's list, as open since today; says so, or nothing where the shop does not list the thing."""
    facts = {"opened": timezone.localdate()}
    product = stock.product_row(component)
    if product is not None:
        fresh = ProductLot.objects.get_or_create(product=product, name=lot, defaults=facts)[1]
    else:
        pigment = Pigment.objects.filter(key=component).first()
        if pigment is None:
            return ""
        fresh = PigmentLot.objects.get_or_create(pigment=pigment, name=lot, defaults=facts)[1]
    return (
        f"Lot {lot} is on the shop’s list since this pour."
        if fresh
        else f"Lot {lot} was entered as used up before."
    )


def pour_product(
    row: MixVessel,
    product: Product,
    amount: int,
    *,
    lot: str = "",
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Pour a product that is not in the recipe, such as a thinner, into a cup."""
    if product.role == Role.CROSSLINKER:
        raise Refusal(
            "A crosslinker is not poured as a part of the mix.",
            where="Product",
            remedy="Draw off what this session sprays, and crosslink that.",
        )
    key = stock.component_of(product)
    facts = {"name": product.name, "density": product.density, "hex": "#e9e6df"}
    MixComponent.objects.get_or_create(key=key, defaults=facts)
    return pour(row, key, amount, lot=lot, token=token, device=device)


def take_back(entry_id: int, *, token: str | None = None, device: Device | None = None) -> Logged:
    """Take an entry back by a counter-entry; the book keeps both."""
    old = MixEntry.objects.filter(pk=entry_id).first()
    if old is None:
        raise Refusal("There is no such entry.", where="entry", remedy="Reload the page.")
    vessels = list(MixVessel.objects.filter(sequence__entry=old))
    return log(
        vessels,
        lambda book: bench.counter(book, entry_id),
        f"Taken back: {old.text}",
        token=token,
        device=device,
        undoable=False,
    )


@undoes("mixing.take_back")
def _undo(data: dict[str, Any]) -> None:
    take_back(int(data["entry"]))
    if "away" in data:
        MixVessel.objects.filter(pk=data["away"], put_away=None).update(put_away=timezone.now())
    if "unaccept" in data:
        _unaccept({"vessel": data["unaccept"]})
    if "pot_life" in data:
        vessel, minutes = data["pot_life"]
        MixVessel.objects.filter(pk=vessel).update(pot_life=minutes)
    if "leftover" in data:
        Pigment.objects.filter(key=data["leftover"]).update(active=False)
    if "sealed" in data:
        row = stock.lot_of_row(*data["sealed"])
        if row is not None:
            row.opened = None
            row.save(update_fields=["opened"])


def accept(row: MixVessel, *, device: Device | None = None) -> None:
    """Take the cup as it is, though not to the recipe."""
    with transaction.atomic():
        if MixVessel.objects.filter(pk=row.pk, accepted=None).update(accepted=timezone.now()) == 1:
            record(
                row.job,
                f"{row.name} taken as it is",
                undo="mixing.unaccept",
                undo_with={"vessel": row.pk},
                device=device,
            )


@undoes("mixing.unaccept")
def _unaccept(data: dict[str, Any]) -> None:
    MixVessel.objects.filter(pk=data["vessel"]).update(accepted=None)


def change_measure(row: MixVessel, measure: str, tare: float, grain: float) -> None:
    """Another way to measure, another tare."""
    _refuse_grain(grain)
    if measure not in MixVessel.Measure.values or not 0 <= tare < 1e6:
        raise Refusal(
            "This way of measuring is not known.", where="measure", remedy="Choose one of the list."
        )
    MixVessel.objects.filter(pk=row.pk).update(measure=measure, tare=tare, grain=grain)


def calibrate_drop(component: str, drops: int, grams: float) -> float:
    """Note the volume of one drop of a bottle (mL) from weighing some of them."""
    known = MixComponent.objects.filter(pk=component).first()
    if known is None:
        raise Refusal("This bottle is not known.", where="bottle", remedy="Begin a cup with it first.")
    size = drop_volume(drops, grams, known.density)
    with transaction.atomic():
        MixComponent.objects.filter(pk=component).update(drop=size)
        record(None, f"One drop of {known.name} is {size:.3f} mL")
    return size


def bigger_vessel(
    row: MixVessel, capacity: float, *, token: str | None = None, device: Device | None = None
) -> MixVessel:
    """Pour the cup over into a bigger vessel and go on there with the same recipe and aim."""
    with transaction.atomic():
        if token:
            known = MixEntry.objects.filter(token=token).first()
            if known is not None:
                return MixVessel.objects.filter(sequence__entry=known).exclude(pk=row.pk).get()
        larger = MixVessel.objects.create(
            job=row.job,
            colour_number=row.colour_number,
            like=row.like,
            kind=row.kind,
            name=row.name,
            capacity=some_microlitres(capacity, where="Vessel"),
            measure=row.measure,
            grain=row.grain,
            plan=row.plan,
            aim=row.aim,
            recipe_id=row.recipe_id,
        )
        log(
            [row, larger],
            lambda book: bench.box(book, [row.key], larger.key),
            f"Poured {row.name} over into a vessel of {shown(larger.capacity)}",
            token=token,
            device=device,
            undoable=False,
        )
        MixVessel.objects.filter(pk=row.pk).update(put_away=timezone.now())
    return larger


def put_away(row: MixVessel, *, device: Device | None = None) -> None:
    """Put an empty vessel away (undoable); refuses one with colour in it, which must be told first."""
    with transaction.atomic():
        hold([row.pk])
        there = volume(gather.ledger_of([row]), row.key)
        if there:
            raise Refusal(
                f"{row.name} has {shown(there)} in it.",
                where="vessel",
                remedy="Log first where that went: sprayed, kept or discarded.",
            )
        if MixVessel.objects.filter(pk=row.pk, put_away=None).update(put_away=timezone.now()) == 1:
            record(
                row.job,
                f"Put {row.name} away",
                undo="mixing.fetch",
                undo_with={"vessel": row.pk},
                device=device,
            )


@undoes("mixing.fetch")
def _fetch(data: dict[str, Any]) -> None:
    MixVessel.objects.filter(pk=data["vessel"]).update(put_away=None)
