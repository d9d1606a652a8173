"""What a mix that was made again is compared with: the vessel it is made like, as it was read, or else as its own lots foretell."""

from dataclasses import replace

import numpy as np

from hidewright.colour.learning.cup import BASE
from hidewright.colour.light import cie
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.colours.batch_queries import Formula, batches, stands_in
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.pigments import knowledge as cups
from hidewright.workshop.pigments import memory
from hidewright.workshop.pigments.values import LIGHTS, base
from hidewright.workshop.shelf.models import MixVessel, Pigment

Like = tuple[str, Formula]
"""The name of a mix, and what is in it."""


def look_of(row: MixVessel) -> colour.ReadingValue | None:
    """How the mix of a vessel looks dry: its own newest spectrum, else the forecast from its lots; None where a lot's K and S are not known."""
    own = [
        sight
        for sight in cups.standing_sights()
        if sight.vessel_id == row.pk and sight.state == "dry" and sight.reflectance is not None
    ]
    if own:
        return _value(f"{row.name}, as read", np.array(own[-1].reflectance), "file")
    return _by_lots(row.name, contents_of(row))


def look_of_batch(batch: Batch) -> colour.ReadingValue | None:
    """How a batch looks dry: as its vessel looks while that holds it, else as its lots foretell."""
    return look_of(batch.vessel) if stands_in(batch) else _by_lots(batch.vessel.name, grams_of(batch.formula))


def _by_lots(name: str, grams: dict[str, float]) -> colour.ReadingValue | None:
    lots = [lot for lot in grams if lot != BASE]
    if not lots:
        return None
    known = memory.known(lots)
    if not set(lots) <= {pigment.key for pigment in known.pigments()}:
        return None
    return _value(f"{name}, by its lots", known.forecast(grams, weighed=False).reflectance, "worked out")


def contents_of(row: MixVessel) -> dict[str, float]:
    """Lot → g of what stands in a vessel; of what was sprayed of it where it is empty now."""
    found: dict[str, float] = {}
    for lot, grams in cups.pours_of(row):
        found[lot] = found.get(lot, 0.0) + grams
    if found:
        return found
    batch = batches().filter(vessel=row).first()
    return grams_of(batch.formula) if batch else {}


def grams_of(formula: Formula) -> dict[str, float]:
    """Lot → g of a formula; what is no pigment counts as base of the same volume."""
    found: dict[str, float] = {}
    density = dict(Pigment.objects.values_list("key", "density"))
    for component, lot, amount in formula:
        key = cups.lot_key(component, lot) if component in density else BASE
        each = density[component] if component in density else base().density
        found[key] = found.get(key, 0.0) + amount / 1000 * each
    return found


def made_like(vessel: MixVessel) -> Like | None:
    """What a cup makes again, where that is a mix which its vessel holds no more: its name and formula."""
    again = (vessel.plan or {}).get("again") or {}
    return (str(again["of"]), again["formula"]) if again.get("formula") else None


def _value(name: str, reflectance: colour.Array, source: str) -> colour.ReadingValue:
    labs = {light: colour.lab_under(reflectance, light) for light in LIGHTS}
    return colour.ReadingValue(
        0, name, reflectance, labs, cie.hex_from_lab(labs["D65"]), source, "dry", assumed=False
    )


def aim_of(vessel: MixVessel) -> colour.TargetValue | None:
    """What a cup is held against: the mix that it makes again, where that is known; else the target of its colour."""
    if vessel.job is None:
        return None
    aimed = colour.target(vessel.job, vessel.colour_number)
    gone = made_like(vessel)
    if gone is not None:
        look = _by_lots(gone[0], grams_of(gone[1]))
    else:
        look = look_of(vessel.like) if vessel.like is not None else None
    if look is None:
        return aimed
    if aimed is None:
        return colour.TargetValue(0, look, None, 1.0)
    return replace(aimed, target=look)
