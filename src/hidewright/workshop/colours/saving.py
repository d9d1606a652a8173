"""Colour values as rows: fits, drawdowns, readings and recipes."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.repeats import lab_sd
from hidewright.colour.recipes.leftovers import Leftover, unpacked
from hidewright.colour.recipes.recipe import Recipe
from hidewright.papers.from_recipe import recipe_to_data
from hidewright.workshop.colours import models as rows
from hidewright.workshop.pigments.saving import numbers
from hidewright.workshop.shop.models import Job


def keep_reading(job: Job, reading: Reading, **facts: Any) -> rows.Reading:
    """Add a reading to a job's: its spectrum, or its colour where no spectrum was read."""
    told: dict[str, Any] = {
        "reflectance": numbers(reading.reflectance),
        "spread": lab_sd(reading.reflectance, reading.sd),
    }
    if reading.colour is not None:
        only = reading.colour
        told = {
            "lab": [float(v) for v in only.lab],
            "light": only.light,
            "observer": only.observer,
            "spread": float(np.sqrt(np.trace(only.covariance) / 3)),
        }
    return rows.Reading.objects.create(job=job, name=reading.name[:120], **told, **facts)


def recipe_data(
    recipe: Recipe,
    hexes: Mapping[str, str],
    jars: Sequence[Leftover] = (),
    *,
    batch: float | None = None,
    coats: int | None = None,
) -> dict[str, Any]:
    """A recipe as the papers take it, with its forecast spectrum; `hexes` by part key.

    `parts` are pigments and base throughout. Where leftover `jars` (mL by the batch that was asked for) are in it, `pours` tells what to
    weigh: the jars, and what is fresh beside them. `coats` is the number that the colour was judged at, None for an opaque film.
    """
    whole = replace(recipe, parts=unpacked(recipe.parts, jars))
    told = {**recipe_to_data(whole, hexes), "reflectance": numbers(recipe.reflectance)}
    used = {one.pigment.key: one.pigment.name for one in jars} if jars else {}
    used = {key: name for key, name in used.items() if any(part.key == key for part in recipe.parts)}
    if used:
        told |= {"pours": recipe_to_data(recipe, hexes)["parts"], "jars": used}
    if batch is not None:
        told["batch_ml"] = batch
    if coats is not None:
        told["judged_coats"] = coats
    return told
