"""Recipes that no eye could tell apart, in one row: the best ranked of them stands for all."""

from collections.abc import Sequence
from dataclasses import dataclass

from hidewright.colour.light.difference import delta_e00
from hidewright.colour.light.far import STEPS
from hidewright.workshop.colours.swatches import RecipeShown

SAME = STEPS[0][0]
"""ΔE00 between two forecasts up to which an eye hardly sees a difference."""
LIKE_DROP, LIKE_COST = 0.1, 0.10
"""By how much what a drop too many does (ΔE00), and the cost (share of the dearer), may differ and count as like: starting values, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class RecipeRow:
    """A recipe, and the lower ranked ones that look the same, hide in as many coats, and carry a like risk and cost."""

    first: RecipeShown
    others: tuple[RecipeShown, ...] = ()

    @property
    def names(self) -> str:
        """The others by name."""
        return ", ".join(one.row.name for one in self.others)


def alike(one: RecipeShown, other: RecipeShown) -> bool:
    """Whether nothing that decides between two recipes differs: their colour under every light, coats, a drop too many, cost, jars."""
    a, b = one.recipe, other.recipe
    return (
        a.labs.keys() == b.labs.keys()
        and all(float(delta_e00(a.labs[light], b.labs[light])) <= SAME for light in a.labs)
        and one.ok == other.ok
        and a.guessed == b.guessed
        and a.coats == b.coats
        and abs(a.drop - b.drop) <= LIKE_DROP
        and abs(float(a.cost) - float(b.cost)) <= LIKE_COST * max(float(a.cost), float(b.cost))
        and not one.jars
        and not other.jars
    )


def in_rows(shown: Sequence[RecipeShown], chosen: int | None = None) -> tuple[RecipeRow, ...]:
    """The recipes in their order, each beside the first above it that is like it; the chosen one (its key) stands by itself."""
    rows: list[list[RecipeShown]] = []
    for recipe in shown:
        lead = next((row for row in rows if row[0].row.pk != chosen and alike(row[0], recipe)), None)
        if lead is None or recipe.row.pk == chosen:
            rows.append([recipe])
        else:
            lead.append(recipe)
    return tuple(RecipeRow(row[0], tuple(row[1:])) for row in rows)
