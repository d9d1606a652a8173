"""A vessel's mix made again from the lots now on the shelf: how far it would be off, and what to pour instead."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cup import BASE
from hidewright.mixing import MixPart, MixRecipe
from hidewright.mixing.again import Again, made_again
from hidewright.mixing.amounts import millilitres
from hidewright.refusals import Refusal
from hidewright.workshop.colours.batch_queries import batches, formula_of
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.pigments import knowledge as cups
from hidewright.workshop.pigments import memory
from hidewright.workshop.pigments import values as colour
from hidewright.workshop.shelf import vessel_queries as mixing
from hidewright.workshop.shelf.models import MixVessel, Pigment

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Change:
    """One pigment of the mix: the lots it was made with, the lot now on the shelf, its share as poured and now (of the mix, by volume)."""

    key: str
    name: str
    lots: tuple[str, ...]
    lot: str
    was: float
    share: float

    @property
    def percent(self) -> float:
        """By how much more of it is poured."""
        return 100 * (self.share / self.was - 1)

    @property
    def was_percent(self) -> float:
        """Share as poured, %."""
        return 100 * self.was

    @property
    def now_percent(self) -> float:
        """Share to pour, %."""
        return 100 * self.share


@dataclass(frozen=True, slots=True, eq=False)
class Remake:
    """How to make a mix again: the recipe to pour, its screen colours, and the correction; `why_not` when none could be worked out."""

    recipe: MixRecipe
    hexes: Mapping[str, str]
    changes: tuple[Change, ...]
    again: Again | None
    why_not: str = ""
    from_reading: bool = False

    def facts(self, of: str) -> dict[str, Any]:
        """What the new cup's plan remembers of it."""
        found: dict[str, Any] = {"of": of, "why_not": self.why_not}
        if self.again is not None:
            moved = [[c.name, round(c.percent, 1)] for c in self.changes if abs(c.percent) >= 0.05]
            found |= {
                "before": round(self.again.before, 2),
                "after": round(self.again.after, 2),
                "moved": moved,
            }
        return found


def _held(row: MixVessel) -> dict[tuple[str, str], int]:
    """(component, lot) → µL of what stands in a vessel without its crosslinker; of what was sprayed of it last where it is empty."""
    found = {(component, lot): amount for component, lot, amount in formula_of(row)}
    if found:
        return found
    sprayed = batches().filter(vessel=row).first()
    return {(component, lot): amount for component, lot, amount in sprayed.formula} if sprayed else {}


def remake(row: MixVessel, batch: Batch | None = None) -> Remake:
    """How to make again what stands in a vessel, or was sprayed out of it, corrected for the lots now on the shelf; `batch`: as that was, though the vessel holds another mix by now. Refuses one that was never used."""
    held = _held(row) if batch is None else {(c, lot): amount for c, lot, amount in batch.formula}
    if not held:
        raise Refusal("There is nothing in it to make again.", where=row.name)
    known = Pigment.objects.in_bulk(field_name="key")
    by_lot: dict[str, float] = {}
    rest: dict[str, float] = {}
    lots: dict[str, list[str]] = {}
    for (key, lot), amount in held.items():
        place = by_lot if key in known else rest
        name = cups.lot_key(key, lot) if key in known else key
        place[name] = place.get(name, 0.0) + millilitres(amount)
        lots.setdefault(key, [])
        if lot:
            lots[key].append(lot)
    opened = cups.current_lots()
    swapped: dict[str, float] = {}
    was: dict[str, float] = {}
    for name, volume in by_lot.items():
        kind = cups.kind_of(name)
        now = opened.get(kind, name)
        swapped[now] = swapped.get(now, 0.0) + volume
        was[kind] = was.get(kind, 0.0) + volume
    again, why_not, seen = _corrected(row if batch is None else None, by_lot, swapped)
    poured = dict(again.volumes) if again is not None else swapped
    whole = sum(poured.values()) + sum(rest.values())
    shares = {cups.kind_of(name): 0.0 for name in poured}
    for name, volume in poured.items():
        shares[cups.kind_of(name)] += volume / whole
    changes = tuple(
        Change(
            kind,
            known[kind].name,
            tuple(lots.get(kind, ())),
            next((cups.LOT.join(n.split(cups.LOT)[1:]) for n in poured if cups.kind_of(n) == kind), ""),
            was[kind] / whole,
            share,
        )
        for kind, share in shares.items()
    )
    return _as_recipe(
        row, {**{key: v / whole for key, v in rest.items()}, **shares}, changes, again, why_not, seen
    )


def _as_recipe(
    row: MixVessel,
    shares: Mapping[str, float],
    changes: tuple[Change, ...],
    again: Again | None,
    why_not: str,
    seen: bool,
) -> Remake:
    parts = mixing.components()
    ordered = sorted(shares, key=lambda key: -shares[key])
    recipe = MixRecipe(
        f"{row.name} again",
        tuple(
            MixPart(
                key,
                parts[key].name if key in parts else key,
                shares[key],
                parts[key].density if key in parts else 1.0,
            )
            for key in ordered
        ),
    )
    hexes = {key: parts[key].hex for key in shares if key in parts}
    return Remake(recipe, hexes, changes, again, why_not, seen)


def _corrected(
    row: MixVessel | None, by_lot: Mapping[str, float], swapped: Mapping[str, float]
) -> tuple[Again | None, str, bool]:
    """The correction, or why there is none; and whether it aims at a reading of the vessel itself."""
    if not by_lot:
        return None, "There is no pigment in it.", False
    known = memory.known([*by_lot, *swapped])
    pigments = {p.key: p for p in known.pigments()}
    strange = sorted({name for name in (*by_lot, *swapped) if name not in pigments})
    if strange:
        words = ", ".join(cups.lot_words(name) for name in strange)
        return None, f"Of {words} K and S are not known: it is poured as it was.", False
    target, seen = _target(row, by_lot, known, pigments)
    try:
        return made_again(swapped, pigments, target, surface=known.surface), "", seen
    except Refusal as refusal:
        return None, str(refusal), False


def _target(
    row: MixVessel | None, by_lot: Mapping[str, float], known: Any, pigments: Mapping[str, Any]
) -> tuple[Array, bool]:
    """What it looked like: the newest dry reading of the vessel `row` (None: it holds another mix by now), else the forecast from the lots that went into it."""
    own = [
        sight
        for sight in cups.standing_sights()
        if row is not None
        and sight.vessel_id == row.pk
        and sight.state == "dry"
        and sight.reflectance is not None
    ]
    if own:
        return np.array(own[-1].reflectance), True
    grams = {name: volume * pigments[name].density for name, volume in by_lot.items()}
    return known.forecast({**grams, BASE: colour.base().density}, weighed=False).reflectance, False
