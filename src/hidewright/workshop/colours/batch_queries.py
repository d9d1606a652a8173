"""Batches as values: what stood in a vessel when its colour first went to the gun, and what papers print of it."""

from collections.abc import Mapping
from typing import Any

from hidewright.mixing.ledger import contents
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.vessel_queries import components, ledger_of

Formula = list[list[Any]]
"""[component, lot, µL] of each thing."""
ALIKE = 0.002
"""Shares that differ by no more than this are the same mix: less than a balance's step in a usual cup (a convention of this tool)."""


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
