"""Colour as it is shown: touching swatches under each light, the words beside them, curves."""

from collections.abc import Iterable

import numpy as np
from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.films import film_curves
from hidewright.charts.render import to_svg
from hidewright.charts.strengths import Strength, strength_bars
from hidewright.charts.swatches import Swatch, touching_swatches
from hidewright.colour.pigments.pigment import Pigment
from hidewright.workshop.pigments import values as gather


def safe_svg(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308 - our own SVG, every text in it is escaped


def strengths(prior: float, lots: Iterable[tuple[str, float, float, int]]) -> SafeString:
    """The strength of each lot beside what was believed before any cup (`prior`: its sd, %); lots as words, %, sd, readings."""
    bars = [Strength("Before any cup", 100.0, prior)]
    return safe_svg(strength_bars([*bars, *(Strength(*lot) for lot in lots)]))


def pigment_curves(pigment: Pigment) -> SafeString:
    """K and S of a pigment with their spread."""
    spread = pigment.covariance if pigment.covariance is not None else np.zeros((2, len(pigment.k)))
    spec = film_curves(pigment.k, pigment.s, spread[0], spread[1])
    return safe_svg(to_svg(spec, label=f"What {pigment.name} absorbs and scatters"))


def pigment_swatch(pigment: Pigment, white: Pigment | None, *, height: float = 56) -> SafeString:
    """Masstone and tint of a pigment, touching."""
    patches = [Swatch(gather.masstone_hex(pigment), "Alone")]
    if white is not None and white.key != pigment.key:
        patches.append(Swatch(gather.tint_hex(pigment, white), "1 in 10 of white"))
    return safe_svg(touching_swatches(patches, height=height, width=220))
