"""A batch made again from other lots: as poured it would come out a little off; its pigments are shifted so that it comes out as it was.

A hiding film's colour hangs on the proportions of its pigments alone (`colour.film`), so the share of pigment in the mix is kept as it was and only the
proportions move. What each lot is like is what the shop's cups told of it (`colour.learn`). Least squares in the logarithms of the factors, over the lights,
in ΔE00's local metric, with a light pull toward “as poured”, so that two pigments that do the same do not run away from each other.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LIGHTS, delta_e00, lab
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.pigment import Pigment
from hidewright.refusals import Refusal

Array = NDArray[np.float64]
PULL = 0.1
"""ΔE00 that a factor of e off “as poured” counts as, against what it gains."""
WORTH = 0.1
"""A correction that gains less than this ΔE00 is not worth weighing otherwise."""
FURTHEST = 1.0
"""No pigment is changed by more than a factor of e."""


@dataclass(frozen=True, slots=True, eq=False)
class Again:
    """A batch made again.

    `volumes` mL by lot (in the unit of what was given); `before` ΔE00 (the worst of the lights) if it were poured as it was, `after` with the correction;
    `factors` by lot against as poured. Without a correction `after` is `before` and every factor 1.
    """

    volumes: Mapping[str, float]
    factors: Mapping[str, float]
    before: float
    after: float

    @property
    def corrected(self) -> bool:
        """Whether anything is poured otherwise."""
        return any(abs(factor - 1) > 1e-9 for factor in self.factors.values())


def made_again(
    volumes: Mapping[str, float],
    pigments: Mapping[str, Pigment],
    target: Array,
    *,
    surface: Surface,
    lights: Sequence[str] = tuple(LIGHTS),
) -> Again:
    """Shift `volumes` (mL of pigment by lot as they would be poured, clear base left out) so that they come out at `target` (31,), a reading.

    `pigments` by lot, as they are now believed to be. Their sum stays as it is. Refuses a lot of which nothing is known.
    """
    keys = [key for key, volume in volumes.items() if volume > 0]
    strange = [key for key in keys if key not in pigments]
    if not keys or strange:
        raise Refusal(
            f"Of {', '.join(strange) or 'its pigments'} K and S are not known.",
            where="lots",
            remedy="Bring its drawdowns on the page Pigments.",
        )
    start = np.array([volumes[key] for key in keys])
    k, s = np.array([pigments[key].k for key in keys]), np.array([pigments[key].s for key in keys])
    aims = {light: lab(target, light) for light in lights}

    def read(x: Array) -> Array:
        poured = _as_much(start * np.exp(x), start)
        return seen(opaque(poured @ k, poured @ s), surface)

    def worst(x: Array) -> float:
        reading = read(x)
        return max(float(delta_e00(lab(reading, light), aims[light])) for light in lights)

    nothing = np.zeros(len(keys))
    best = _solved(read, aims, nothing)
    before, after = worst(nothing), worst(best)
    if before - after < WORTH:
        best, after = nothing, before
    poured = _as_much(start * np.exp(best), start)
    factors = {key: float(p / v) for key, p, v in zip(keys, poured, start, strict=True)}
    return Again({key: float(p) for key, p in zip(keys, poured, strict=True)}, factors, before, after)


def _as_much(poured: Array, start: Array) -> Array:
    return np.asarray(poured * (start.sum() / poured.sum()))


def _solved(read: Callable[[Array], Array], aims: Mapping[str, Array], start: Array) -> Array:
    from scipy.optimize import least_squares

    metrics = {light: metric(aim) for light, aim in aims.items()}

    def residual(x: Array) -> Array:
        reading = read(x)
        off = [metrics[light] @ (lab(reading, light) - aim) for light, aim in aims.items()]
        return np.concatenate([*off, PULL * x])

    found = least_squares(residual, start, bounds=(-FURTHEST, FURTHEST), method="trf", max_nfev=60)
    return np.asarray(found.x)
