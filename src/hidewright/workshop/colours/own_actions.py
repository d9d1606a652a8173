"""A cup of one's own: begun without a reading and without a recipe, poured freely, and made the recipe once it is liked."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from hidewright.colour.cups.own import leftover_lot
from hidewright.colour.learning.cup import BASE
from hidewright.colour.light import cie
from hidewright.colour.recipes.recipe import judge
from hidewright.mixing.amounts import microlitres, microlitres_of_mass, some_microlitres
from hidewright.refusals import Refusal
from hidewright.workshop.colours import own_queries as gather
from hidewright.workshop.colours import saving as keep
from hidewright.workshop.colours.actions import aim_at_family
from hidewright.workshop.colours.cup_actions import known_component
from hidewright.workshop.colours.models import Choice, Reading, Recipe
from hidewright.workshop.colours.queries import BY_HAND, setting, target_row
from hidewright.workshop.colours.shop_actions import aim_at, withdraw_target
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.pigments.comparisons import FAMILY
from hidewright.workshop.pigments.knowledge import kind_of
from hidewright.workshop.pigments.saving import numbers
from hidewright.workshop.shelf import vessel_actions as bench
from hidewright.workshop.shelf.models import MixComponent, MixVessel, Pigment
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes
from hidewright.workshop.shop.units import said_volume

OWN = "own cup"
"""The source of a target that is the colour of a cup that was liked."""
LOAD_LEFT = 0.18
"""Share of pigment that is taken for a leftover of unknown content: the middle of the usual window."""


@dataclass(frozen=True, slots=True)
class Start:
    """How a cup of one's own begins: its `name` (empty: the next number), mL to the line of its vessel and of one part, a family word and a piece (both may be empty)."""

    name: str
    capacity: float
    part: float
    word: str = ""
    piece: str = ""

    def __post_init__(self) -> None:
        if not 0.1 <= self.part <= self.capacity:
            raise Refusal(
                "One part must fit into the vessel.", where="One part", remedy="Write what one measure holds."
            )


def begin(job: Job, start: Start, *, number: int = 0, device: Device | None = None) -> MixVessel:
    """Begin a cup of one's own. A family word is aimed at where no target is in force; without one it is just poured."""
    name = start.name.strip() or bench.next_name(job, "Own")
    with transaction.atomic():
        if start.word and target_row(job, number) is None:
            aim_at_family(job, start.word, number, start.piece)
        row = MixVessel.objects.create(
            job=job,
            colour_number=number,
            kind=MixVessel.Kind.CUP,
            name=name[:60],
            capacity=some_microlitres(start.capacity, where="Vessel"),
            grain=the_shop().balance_step,
            plan={"name": bench.colour_name(name)[:60], "parts": [], gather.PART: start.part},
        )
        record(
            job,
            f"Began {row.name}, a cup of one’s own",
            undo="colour.own_cup",
            undo_with={"id": row.pk},
            device=device,
        )
    return row


@undoes("colour.own_cup")
def _put_away(data: dict[str, Any]) -> None:
    row = MixVessel.objects.get(pk=data["id"])
    if gather.grams_in(row):
        raise Refusal(
            f"There is colour in {row.name}.",
            where=row.name,
            remedy="Take its pours back first, or discard it.",
        )
    MixVessel.objects.filter(pk=row.pk).update(put_away=timezone.now())


def pour(
    row: MixVessel,
    component: str,
    value: float,
    unit: str,
    *,
    token: str | None = None,
    device: Device | None = None,
) -> bench.Logged:
    """Log a free pour: `value` in one of `UNITS`, of any pigment that is listed, or of the base. Pigment first or base first, in any order."""
    if component not in {key for key, _ in gather.bottles()}:
        raise Refusal("This is not on the shelf.", where="what", remedy="Choose one of the list.")
    with transaction.atomic():
        density = known_component(component)
        drop = MixComponent.objects.get(pk=component).drop or the_shop().drop
        amount = _microlitres(value, unit, density, drop, gather.part_of(row))
        if amount <= 0:
            raise Refusal("Nothing was poured.", where="value", remedy="Write how much went in.")
        return bench.pour(row, component, amount, said=f"{value:g} {unit}", token=token, device=device)


def _microlitres(value: float, unit: str, density: float, drop: float, part: float) -> int:
    if unit == "g":
        return microlitres_of_mass(value, density, where="value")
    sizes = gather.sizes(part, drop)
    if unit not in sizes:
        raise Refusal(f"“{unit}” is no measure here.", where="unit", remedy="Choose one of the list.")
    return microlitres(value * sizes[unit], where="value")


def pour_leftover(
    row: MixVessel,
    name: str,
    lab: tuple[float, float, float],
    amount: float,
    *,
    token: str | None = None,
    device: Device | None = None,
) -> bench.Logged:
    """Throw in `amount` mL of a mixed leftover that nobody logged, by the colour that it looks: L*, a*, b* under D65. What it holds is a guess that looks narrow down."""
    amount_ul = microlitres(amount, where="How much")
    if amount_ul <= 0:
        raise Refusal("Nothing was poured.", where="How much", remedy="Write how much went in.")
    with transaction.atomic():
        number = Pigment.objects.filter(load__lt=1.0).count() + 1
        lot = leftover_lot(f"left-{number}", np.array(lab), LOAD_LEFT)
        one = lot.pigment
        label = (name.strip() or f"Leftover {number}")[:80]
        Pigment.objects.create(
            key=one.key,
            name=label,
            density=one.density,
            solids=one.solids,
            load=one.load,
            k=numbers(one.k),
            s=numbers(one.s),
            provenance="A leftover that nobody logged: K and S guessed from the colour that it looked.",
            characterised=timezone.now(),
            on_shelf=False,
        )
        shade = cie.hex_from_lab(np.array(lab))
        MixComponent.objects.create(key=one.key, name=label, density=one.density, hex=shade)
        return bench.pour(
            row, one.key, amount_ul, said="a leftover", token=token, device=device, leftover=True
        )


def like(row: MixVessel, name: str = "", *, device: Device | None = None) -> Recipe:
    """The cup as it is becomes the recipe, and is chosen.

    Where the piece was known by no more than a word, or not at all, the cup's colour becomes the target. Refuses a cup that cannot be mixed again: without base, or with a
    leftover in it that nobody logged.
    """
    job = row.job
    if job is None:
        raise Refusal("This cup belongs to no job.", where=row.name)
    grams: dict[str, float] = {}
    for lot, each in gather.grams_in(row).items():
        grams[kind_of(lot)] = grams.get(kind_of(lot), 0.0) + each
    base_g = grams.pop(BASE, 0.0)
    _refuse_unrepeatable(row, grams, base_g)
    label = (name.strip() or bench.colour_name(row.name))[:60]
    with transaction.atomic():
        reading, target = _aimed(job, row, label)
        judged = setting(job, row.colour_number)
        assert judged is not None, "a target is in force"
        total = base_g + sum(grams.values())
        recipe = judge(
            {key: 1000 * each / total for key, each in grams.items()}, 1000 * base_g / total, judged
        )
        batch = (Recipe.objects.filter(job=job).aggregate(last=Max("batch"))["last"] or 0) + 1
        kept = Recipe.objects.create(
            job=job,
            target=target,
            name=label,
            rank=1,
            batch=batch,
            way=BY_HAND,
            data=keep.recipe_data(recipe, gather_values.hexes()),
        )
        choice = Choice.objects.create(job=job, recipe=kept, device=device)
        row.plan = {**(row.plan or {}), "name": label, "hex": kept.data["hex"]}
        row.recipe = kept
        row.save(update_fields=["plan", "recipe"])
        record(
            job,
            f"{row.name} is the recipe: {label}",
            undo="colour.liked",
            undo_with={
                "choice": choice.pk,
                "vessel": row.pk,
                "reading": reading.pk if reading else None,
                "target": target.pk if reading else None,
            },
            device=device,
        )
        return kept


def _refuse_unrepeatable(row: MixVessel, grams: dict[str, float], base_g: float) -> None:
    if not grams:
        raise Refusal(
            "There is no pigment in the cup yet.", where=row.name, remedy="Pour one of the bottles."
        )
    if base_g <= 0:
        raise Refusal(
            "There is no base in the cup yet.", where=row.name, remedy="Add base up to the window first."
        )
    left = Pigment.objects.filter(key__in=grams, load__lt=1.0).first()
    if left is not None:
        raise Refusal(
            f"{left.name} is in it, and nobody knows how to mix more of that.",
            where=row.name,
            remedy="Spray what there is; for more, begin a cup without it and hold it against this one.",
        )


def _aimed(job: Job, row: MixVessel, label: str) -> tuple[Reading | None, Any]:
    """The target in force; where none is, or only a word, the cup's own colour as a new reading, aimed at."""
    now = target_row(job, row.colour_number)
    if now is not None and now.reading.source != FAMILY:
        return None, now
    seen = gather.forecast_of(row)
    reading = Reading.objects.create(
        job=job,
        name=f"{label}, as it was liked"[:120],
        reflectance=numbers(seen.reflectance),
        source=OWN,
        spread=float(np.sqrt(np.trace(seen.lab_covariance()) / 3)),
        note=f"What {row.name} should dry to; nothing was read."[:240],
    )
    old = now.old if now else None
    return reading, aim_at(job, row.colour_number, reading, old)


@undoes("colour.liked")
def _not_liked(data: dict[str, Any]) -> None:
    Choice.objects.filter(pk=data["choice"]).update(withdrawn=timezone.now())
    row = MixVessel.objects.get(pk=data["vessel"])
    plan = {key: value for key, value in (row.plan or {}).items() if key != "hex"}
    row.plan = {**plan, "name": bench.colour_name(row.name)[:60]}
    row.recipe = None
    row.save(update_fields=["plan", "recipe"])
    if data["reading"]:
        withdraw_target(data["target"])
        Reading.objects.filter(pk=data["reading"]).update(struck=timezone.now())


def said_part(row: MixVessel) -> str:
    """What one part of this cup is, in the shop's units."""
    return said_volume(gather.part_of(row))
