"""What a shifted target changes down the line, before anybody aims at it: the pigments it would take, coats, litres and cost."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.recipes.match import match
from hidewright.colour.recipes.recipe import Recipe
from hidewright.colour.recipes.shift import downstream as told
from hidewright.refusals import Refusal
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.colours import search_queries as shelf
from hidewright.workshop.pigments import values as colour_values
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.shop.models import Job


@dataclass(frozen=True, slots=True)
class Downstream:
    """The chosen recipe's pigments, matched once more to a shifted target.

    `delta_e` is by how much they miss it under the main light and `near` whether that is near enough; `words` what changes in coats and cost; mL of mixed
    colour now and then, half of the time (None without pieces); `pours` each part's name with its g a litre now and then.
    """

    delta_e: float
    near: bool
    words: tuple[str, ...]
    ml_now: float | None
    ml_then: float | None
    pours: tuple[tuple[str, float, float], ...]


def downstream(job: Job, shifted: NDArray[np.float64], number: int = 0) -> Downstream | None:
    """The chosen recipe's pigments matched to `shifted` (31,); None where no recipe is chosen or its pigments are not all on the list."""
    chosen, aimed = colour.chosen_recipe(job, number), colour.target(job, number)
    if chosen is None or aimed is None:
        return None
    keys = {part.key for part in chosen.recipe.pigments}
    known = {p.key for p in colour_values.pigments()}
    if not keys <= known:
        return None
    setup = colour_values.setup()
    asked = {
        "load": (setup.load_low, setup.load_high),
        "most": min(5, len(keys)),
        "must_not_use": known - keys,
        "number": number,
    }
    light = str(colour_values.LIGHTS[0])
    try:
        found = match(replace(shelf.problem(job, asked), target=shifted))
    except Refusal:
        return None
    new = min(found.recipes, key=lambda recipe: recipe.delta_e[light])
    off = new.delta_e[light]
    then = {part.key: part.mass for part in new.parts}
    pours = tuple((part.name, part.mass, then.get(part.key, 0.0)) for part in chosen.recipe.parts)
    return Downstream(
        off,
        off <= aimed.tolerance,
        told(chosen.recipe, new) if aimed.old is not None else (),
        _millilitres(job, chosen.recipe, number),
        _millilitres(job, new, number),
        pours,
    )


def _millilitres(job: Job, recipe: Recipe, number: int) -> float | None:
    """mL of one of its mixed colours that the whole job takes with this recipe, half of the time."""
    found = quantities.colour_forecast(job, number, recipe)
    return found.colour.p50 if found else None
