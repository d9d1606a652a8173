"""The bench's acts: each logs one entry in the book, in one transaction that holds the vessels it touches.

A form's token makes a double tap count once, even when the first answer was lost. A mistake is taken back by a counter-entry.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from hidewright.mixing import Entry, Ledger, MixRecipe
from hidewright.mixing import acts as bench
from hidewright.mixing.amounts import microlitres, millilitres
from hidewright.mixing.guide import drop_volume
from hidewright.mixing.jars import keep_until
from hidewright.mixing.ledger import by_component, volume
from hidewright.mixing.needed import still_needed
from hidewright.mixing.portions import crosslinker_for
from hidewright.mixing.recipe import recipe_as_poured
from hidewright.refusals import Refusal
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.yields import Use as UseValue

from ..gather import mixing as gather
from ..gather import quantities
from ..keep import mixing as keep
from ..models.jobs import Job
from ..models.mixing import MixComponent, MixEntry, MixVessel
from ..models.quantities import Use
from ..models.shop import Device
from .acts import record, undoes
from .quantities import log_use, strike

Maker = Callable[[Ledger], Entry]


@dataclass(frozen=True, slots=True)
class Logged:
    """What a step logged: the entry's row, and whether it is new (a repeated token changes nothing)."""

    entry: MixEntry
    fresh: bool


def _hold(keys: Sequence[int]) -> list[MixVessel]:
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
) -> Logged:
    """Hold the vessels, let `make` find the entry from the ledger as it is now, and add it. Once per token."""
    with transaction.atomic():
        held = _hold([row.pk for row in vessels])
        if token:
            known = MixEntry.objects.filter(token=token).first()
            if known is not None:
                return Logged(known, False)
        put_away = [row for row in held if row.put_away]
        if put_away:
            raise Refusal(f"{put_away[0].name} was put away.", where="vessel", remedy="Reload the page.")
        entry = make(gather.ledger_of(held))
        touched = _all_touched(held, entry)
        row = keep.keep_entry(entry, touched, job=held[0].job, text=text, token=token, device=device)
        if not told:
            return Logged(row, True)
        if undoable:
            record(row.job, text, undo="mixing.take_back", undo_with={"entry": row.pk}, device=device)
        else:
            record(row.job, text, device=device)
        return Logged(row, True)


def _all_touched(held: Sequence[MixVessel], entry: Entry) -> Sequence[MixVessel]:
    missing = entry.vessels() - {row.key for row in held}
    if missing:
        raise Refusal("This touches a vessel that is not held.", where="vessel", remedy="Reload the page.")
    return held


def _ml(amount: int | float) -> str:
    shown = millilitres(amount) if isinstance(amount, int) else amount
    return f"{shown:,.2f}".rstrip("0").rstrip(".") + " mL"


def begin_cup(
    job: Job,
    recipe: MixRecipe,
    aim: float,
    *,
    name: str = "",
    capacity: float | None = None,
    tare: float = 0.0,
    measure: str = MixVessel.Measure.RUNNING,
    grain: float = 0.1,
    hexes: Mapping[str, str] | None = None,
    mixed_hex: str = "",
    recipe_id: int | None = None,
    device: Device | None = None,
) -> MixVessel:
    """Begin a cup of `aim` mL in a vessel of `capacity` mL (a fifth more than the aim without); refuses what does not fit."""
    aim_ul = microlitres(aim, where="How much")
    capacity_ul = microlitres(capacity if capacity is not None else aim * 1.2, where="Vessel")
    still_needed(recipe, aim_ul, {}, capacity=capacity_ul)
    if grain not in (0.1, 0.01, 1.0):
        raise Refusal("A balance shows whole, tenth or hundredth grams.", where="Balance")
    with transaction.atomic():
        keep.keep_components(recipe, hexes or {})
        count = MixVessel.objects.filter(job=job, kind=MixVessel.Kind.CUP).count()
        row = MixVessel(
            job=job,
            kind=MixVessel.Kind.CUP,
            name=name.strip() or f"Cup {count + 1}",
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
        record(job, f"Began {row.name}: {_ml(aim_ul)} of {recipe.name}", device=device)
    return row


def pour(
    row: MixVessel,
    component: str,
    amount: int,
    *,
    lot: str = "",
    said: str = "",
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Log `amount` µL of a component; `said` is how it was read, such as “12.4 g”."""
    known = MixComponent.objects.filter(key=component).first()
    if known is None:
        raise Refusal("This component is not known here.", where="component", remedy="Reload the page.")
    if row.kind == MixVessel.Kind.JAR:
        raise Refusal("A jar is filled by keeping what is left.", where="vessel", remedy="Pour into a cup.")
    told = f"{said}, {_ml(amount)}" if said else _ml(amount)
    text = f"Poured {known.name} into {row.name}: {told}{f', lot {lot}' if lot else ''}"
    return log(
        [row],
        lambda book: bench.pour(book, row.key, component, amount, lot=lot),
        text,
        token=token,
        device=device,
    )


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
    if measure not in MixVessel.Measure.values or not 0 <= tare < 1e6 or grain not in (0.1, 0.01, 1.0):
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
            kind=row.kind,
            name=f"{row.name[:50]}, bigger",
            capacity=microlitres(capacity, where="Vessel"),
            measure=row.measure,
            grain=row.grain,
            plan=row.plan,
            aim=row.aim,
            recipe_id=row.recipe_id,
        )
        log(
            [row, larger],
            lambda book: bench.box(book, [row.key], larger.key),
            f"Poured {row.name} over into a vessel of {_ml(larger.capacity)}",
            token=token,
            device=device,
            undoable=False,
        )
        MixVessel.objects.filter(pk=row.pk).update(put_away=timezone.now())
    return larger


def draw_off(
    source: MixVessel,
    amount: float,
    *,
    name: str = "",
    capacity: float | None = None,
    token: str | None = None,
    device: Device | None = None,
) -> MixVessel:
    """Draw `amount` mL off into a gun load of its own (strained on the way)."""
    amount_ul = microlitres(amount, where="How much")
    with transaction.atomic():
        known = MixEntry.objects.filter(token=token).first() if token else None
        if known is not None:
            return MixVessel.objects.filter(sequence__entry=known).exclude(pk=source.pk).get()
        count = MixVessel.objects.filter(job=source.job, kind=MixVessel.Kind.PORTION).count()
        load = MixVessel.objects.create(
            job=source.job,
            kind=MixVessel.Kind.PORTION,
            name=name.strip() or f"Gun load {count + 1}",
            capacity=microlitres(capacity if capacity is not None else amount * 1.2, where="Vessel"),
            plan={"name": (source.plan or {}).get("name", ""), "hex": (source.plan or {}).get("hex", ""), "parts": []},
        )  # fmt: skip
        log(
            [source, load],
            lambda book: bench.split(book, source.key, load.key, amount_ul),
            f"Drew {_ml(amount_ul)} off {source.name} into {load.name}",
            token=token,
            device=device,
        )
    return load


def crosslink(
    row: MixVessel,
    product: str,
    ratio: float,
    pot_life: float,
    *,
    amount: float | None = None,
    density: float = 1.1,
    lot: str = "",
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Add crosslinker (`ratio` parts by volume to one of colour, or `amount` mL as poured); starts the pot life of `pot_life` min."""
    if not product.strip():
        raise Refusal("Say which crosslinker.", where="Crosslinker", remedy="Write what is on its label.")
    if not 1 <= pot_life <= 20_000:
        raise Refusal(
            "A pot life is from a minute to two weeks.",
            where="Pot life",
            remedy="Write the minutes from the data sheet of the crosslinker.",
        )
    key = f"crosslinker:{slugify(product)[:40]}"
    with transaction.atomic():
        MixComponent.objects.update_or_create(
            key=key,
            defaults={
                "name": product.strip()[:80],
                "density": density,
                "hex": "#d8d2c4",
                "crosslinker": True,
            },
        )
        held = gather.ledger_of([row])
        dose = microlitres(amount) if amount is not None else crosslinker_for(volume(held, row.key), ratio)
        done = log(
            [row],
            lambda book: bench.crosslink(book, row.key, key, dose, lot=lot),
            f"Crosslinked {row.name} with {_ml(dose)} of {product.strip()}; pot life {pot_life:g} min",
            token=token,
            device=device,
        )
        if done.fresh:
            MixVessel.objects.filter(pk=row.pk).update(pot_life=pot_life)
    return done


def use(
    row: MixVessel, amount: float, *, note: str = "", token: str | None = None, device: Device | None = None
) -> Logged:
    """Log that `amount` mL went through the gun."""
    amount_ul = microlitres(amount, where="How much")
    return log(
        [row],
        lambda book: bench.use(book, row.key, amount_ul, note=note),
        f"Sprayed {_ml(amount_ul)} out of {row.name}",
        token=token,
        device=device,
    )


def spray(
    row: MixVessel,
    amount: float,
    pieces: Mapping[str, float],
    *,
    note: str = "",
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Log what was sprayed and on which pieces (piece → share of its coats): the book and the yield learn of it together.

    What the pieces took is the colour alone, without the crosslinker. Both are taken back by one undo.
    """
    if not row.job or not pieces:
        return use(row, amount, note=note, token=token, device=device)
    amount_ul = microlitres(amount, where="How much")
    with transaction.atomic():
        done = log(
            [row],
            lambda book: bench.use(book, row.key, amount_ul, note=note),
            f"Sprayed {_ml(amount_ul)} out of {row.name} on {len(pieces)} pieces",
            token=token,
            device=device,
            told=False,
        )
        if done.fresh:
            linkers = gather.crosslinkers()
            colour = sum(m.amount for m in done.entry.moves.all() if m.component not in linkers)
            loss = quantities.assumptions(row.job).cup_loss
            taken = log_use(
                row.job, UseValue(Stage.COLOUR, pieces, millilitres(colour), loss), note=note, device=device
            )
            both = {"entry": done.entry.pk, "use": taken.pk}
            record(row.job, done.entry.text, undo="mixing.unspray", undo_with=both, device=device)
    return done


@undoes("mixing.unspray")
def _unspray(data: dict[str, Any]) -> None:
    take_back(int(data["entry"]))
    strike(Use.objects.get(pk=data["use"]))


def discard(
    row: MixVessel, amount: float, *, note: str = "", token: str | None = None, device: Device | None = None
) -> Logged:
    """Log that `amount` mL went to waste."""
    amount_ul = microlitres(amount, where="How much")
    return log(
        [row],
        lambda book: bench.discard(book, row.key, amount_ul, note=note),
        f"Discarded {_ml(amount_ul)} of {row.name}",
        token=token,
        device=device,
    )


def box(
    sources: Sequence[MixVessel],
    target: MixVessel,
    *,
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Box: pour all of the sources into the target. The target then is a batch of its own, as it stands."""
    names = " and ".join(row.name for row in sources)
    with transaction.atomic():
        done = log(
            [*sources, target],
            lambda book: bench.box(book, [row.key for row in sources], target.key),
            f"Boxed {names} with {target.name}",
            token=token,
            device=device,
        )
        if done.fresh:
            MixVessel.objects.filter(pk=target.pk, accepted=None).update(accepted=timezone.now())
    return done


def keep_jar(
    source: MixVessel,
    amount: float,
    *,
    name: str = "",
    capacity: float | None = None,
    until: date | None = None,
    token: str | None = None,
    device: Device | None = None,
) -> MixVessel:
    """Keep `amount` mL in a new jar, with its day and its keep-until day. Crosslinked colour is refused."""
    amount_ul = microlitres(amount, where="How much")
    today = timezone.localdate()
    if until is not None and until < today:
        raise Refusal(
            "The jar would be past its day already.", where="Keep until", remedy="Write a later day."
        )
    with transaction.atomic():
        known = MixEntry.objects.filter(token=token).first() if token else None
        if known is not None:
            return MixVessel.objects.filter(sequence__entry=known).exclude(pk=source.pk).get()
        jar = MixVessel.objects.create(
            job=source.job,
            kind=MixVessel.Kind.JAR,
            name=name.strip() or "Jar",
            capacity=microlitres(capacity if capacity is not None else amount * 1.1, where="Jar"),
            plan={"name": (source.plan or {}).get("name", ""), "hex": (source.plan or {}).get("hex", ""), "parts": []},
            kept_on=today,
            keep_until=until or keep_until(today),
        )  # fmt: skip
        if not name.strip():
            jar.name = f"Jar {jar.pk}"
            jar.save(update_fields=["name"])
        log(
            [source, jar],
            lambda book: bench.to_jar(book, source.key, jar.key, amount_ul),
            f"Kept {_ml(amount_ul)} of {source.name} in {jar.name}",
            token=token,
            device=device,
        )
    return jar


def from_jar(
    jar: MixVessel,
    target: MixVessel,
    amount: float,
    *,
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Pour `amount` mL out of a jar into a cup."""
    amount_ul = microlitres(amount, where="How much")
    return log(
        [jar, target],
        lambda book: bench.split(book, jar.key, target.key, amount_ul),
        f"Poured {_ml(amount_ul)} out of {jar.name} into {target.name}",
        token=token,
        device=device,
    )


def put_away(row: MixVessel, *, device: Device | None = None) -> None:
    """Put an empty vessel away (undoable); refuses one with colour in it, which must be told first."""
    with transaction.atomic():
        _hold([row.pk])
        there = volume(gather.ledger_of([row]), row.key)
        if there:
            raise Refusal(
                f"{row.name} has {_ml(there)} in it.",
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


def batch_recipe(row: MixVessel) -> tuple[MixRecipe, dict[str, str]]:
    """The recipe of what really stands in a vessel, crosslinker left out, and its screen colours."""
    known = gather.components()
    book = gather.ledger_of([row])
    held = {k: v for k, v in by_component(book, row.key).items() if k not in book.crosslinkers}
    names = {key: c.name for key, c in known.items()}
    densities = {key: c.density for key, c in known.items()}
    name = f"{row.name} as poured"
    recipe = recipe_as_poured(name, held, names, densities)
    return recipe, {key: known[key].hex for key in held if key in known}


def mix_again(
    row: MixVessel, job: Job, aim: float, *, device: Device | None = None, **facts: Any
) -> MixVessel:
    """Begin a cup that makes again what stands in a vessel: a top-up of a batch, or a jar of months ago."""
    recipe, hexes = batch_recipe(row)
    mixed = (row.plan or {}).get("hex", "")
    return begin_cup(job, recipe, aim, hexes=hexes, mixed_hex=mixed, device=device, **facts)
