"""Colour values as rows: fits, drawdowns, readings and recipes."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from django.utils import timezone
from numpy.typing import NDArray

from hidewright.colour.light.cie import Light
from hidewright.colour.pigments.drawdowns import Drawdown, Fit
from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.repeats import lab_sd
from hidewright.colour.recipes.leftovers import Leftover, unpacked
from hidewright.colour.recipes.recipe import Recipe
from hidewright.papers.from_recipe import recipe_to_data

from ..models import colour as rows
from ..models.jobs import Job

Array = NDArray[np.float64]


def numbers(values: Array) -> list[float]:
    """A spectrum as JSON: nine significant digits, far below any reading's noise."""
    return [float(f"{v:.9g}") for v in values]


def keep_fit(key: str, fit: Fit) -> int:
    """Write what was found for a pigment; returns how many rows changed (0: it is not listed)."""
    return rows.Pigment.objects.filter(key=key).update(
        k=numbers(fit.k),
        s=numbers(fit.s),
        k_sd=numbers(fit.k_sd),
        s_sd=numbers(fit.s_sd),
        misfit={name: [round(black, 4), round(white, 4)] for name, (black, white) in fit.misfit.items()},
        undetermined=fit.undetermined,
        provenance="",
        characterised=timezone.now(),
    )


def keep_drawdown(drawdown: Drawdown) -> rows.Drawdown:
    """Add a drawdown."""
    return rows.Drawdown.objects.create(
        name=drawdown.name,
        shares=dict(drawdown.shares),
        microns=drawdown.microns,
        over_black=numbers(drawdown.over_black),
        over_white=numbers(drawdown.over_white),
        black=numbers(drawdown.black),
        white=numbers(drawdown.white),
        readings=drawdown.readings,
    )


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


def keep_lamp(light: Light, nm: Array, power: Array) -> rows.Lamp:
    """Add a lamp, or put a new measurement in the place of the old one of that name."""
    row, _ = rows.Lamp.objects.update_or_create(
        name=light.name,
        defaults={
            "nm": [float(v) for v in nm],
            "power": [float(v) for v in power],
            "table": [[float(v) for v in row] for row in light.table],
            "removed": None,
        },
    )
    return row
