"""Batches as values: what stood in a vessel when its colour first went to the gun, and what papers print of it."""

from collections.abc import Mapping
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from hidewright.mixing import Act
from hidewright.mixing.ledger import contents
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.shelf.models import MixEntry, MixVessel
from hidewright.workshop.shelf.vessel_queries import components, ledger_of
from hidewright.workshop.shop.models import Job

Formula = list[list[Any]]
"""[component, lot, µL] of each thing."""
ALIKE = 0.002
"""Shares that differ by no more than this are the same mix: less than a balance's step in a usual cup (a convention of this tool)."""


def batches() -> QuerySet[Batch]:
    """The batches of which something left for the gun, the newest first; one whose every spraying was taken back is none."""
    gone = MixEntry.objects.filter(
        turns__vessel=OuterRef("vessel"),
        act__in=(Act.USE, Act.SPLIT),
        at__gte=OuterRef("made"),
        counters=None,
        countered_by=None,
    )
    return Batch.objects.filter(Exists(gone), withdrawn=None).select_related("vessel")


def newest_batch(job: Job, number: int = 0) -> Batch | None:
    """What was sprayed last of one of a job's colours: the batch that is on its pieces."""
    return batches().filter(job=job, colour_number=number).first()


def batch_of(row: MixVessel) -> Batch | None:
    """The batch that the mix of a vessel, such as a jar, is of; None where nothing like it was sprayed."""
    if row.job is None:
        return None
    formula = formula_of(row)
    alike = batches().filter(job=row.job, colour_number=row.colour_number)
    return next((batch for batch in alike if same_mix(batch.formula, formula)), None)


def newer_batch(row: MixVessel) -> Batch | None:
    """The batch that is on the pieces where it is another mix than the one in a jar; None where the jar is what is on them."""
    newest = newest_batch(row.job, row.colour_number) if row.job is not None else None
    return newest if newest is not None and not same_mix(newest.formula, formula_of(row)) else None


def formula_of(row: MixVessel) -> Formula:
    """What is in a vessel by component and lot, without its crosslinker."""
    book = ledger_of([row])
    held = contents(book, row.key)
    return [
        [component, lot, amount]
        for (component, lot), amount in held.items()
        if component not in book.crosslinkers and amount > 0
    ]


def shares_of(formula: Formula) -> Mapping[tuple[str, str], float]:
    """(component, lot) → its share of the whole."""
    whole = sum(amount for _, _, amount in formula)
    return {(component, lot): amount / whole for component, lot, amount in formula} if whole else {}


def same_mix(one: Formula, other: Formula) -> bool:
    """Two formulas of one mix, whatever their amounts."""
    first, second = shares_of(one), shares_of(other)
    return first.keys() == second.keys() and all(abs(first[key] - second[key]) <= ALIKE for key in first)


def stands_in(batch: Batch) -> bool:
    """Whether the vessel that a batch was sprayed from still holds its mix, or is empty and nothing else was sprayed from it since."""
    held = formula_of(batch.vessel)
    if held:
        return same_mix(held, batch.formula)
    return not Batch.objects.filter(vessel=batch.vessel, withdrawn=None, pk__gt=batch.pk).exists()


def parts_of(batch: Batch) -> list[dict[str, Any]]:
    """A batch for a litre as papers take it: key, name, screen colour, g and mL a litre; the base last, as in a recipe."""
    known = components()
    merged: dict[str, float] = {}
    lots: dict[str, list[str]] = {}
    for component, lot, amount in batch.formula:
        merged[component] = merged.get(component, 0.0) + amount
        if lot:
            lots.setdefault(component, []).append(lot)
    whole = sum(merged.values())
    ordered = sorted(merged, key=lambda key: (key == "base", -merged[key]))
    return [
        {
            "key": key,
            "name": _name(known[key].name if key in known else key, lots.get(key, [])),
            "hex": known[key].hex if key in known else "",
            "volume_ml_per_l": 1000 * merged[key] / whole,
            "mass_g_per_l": 1000 * merged[key] / whole * (known[key].density if key in known else 1.0),
        }
        for key in ordered
    ]


def density_of(batch: Batch) -> float:
    """g/mL of a batch."""
    return sum(float(part["mass_g_per_l"]) for part in parts_of(batch)) / 1000


def _name(name: str, lots: list[str]) -> str:
    return f"{name}, lot {', '.join(dict.fromkeys(lots))}" if lots else name
