"""Colour values as rows: fits, drawdowns, readings and recipes."""

from collections.abc import Iterable

import numpy as np
from django.utils import timezone
from numpy.typing import NDArray

from hidewright.colour.light.cie import Light
from hidewright.colour.pigments.drawdowns import Drawdown, Fit
from hidewright.workshop.pigments import models as rows
from hidewright.workshop.shelf import models as rows_models

Array = NDArray[np.float64]


def numbers(values: Array) -> list[float]:
    """A spectrum as JSON: nine significant digits, far below any reading's noise."""
    return [float(f"{v:.9g}") for v in values]


def keep_fit(key: str, fit: Fit) -> int:
    """Write what was found for a pigment; returns how many rows changed (0: it is not listed)."""
    return rows_models.Pigment.objects.filter(key=key).update(
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
        mix=str(drawdown.entry.mix) if drawdown.entry else "",
        film=str(drawdown.entry.film) if drawdown.entry else "",
    )


def keep_turned(films: Iterable[Drawdown]) -> None:
    """Note what the shop's weights and gauges came to when K and S were found from them."""
    for film in films:
        if film.entry is not None:
            rows.Drawdown.objects.filter(name=film.name, aside=None).update(
                shares=dict(film.shares), microns=film.microns
            )


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
