"""A spectrum for a colour that is only known as a colour: the smoothest reflectance that has it.

Many spectra look alike under one light. Where only Lab is known, the smoothest one stands in: least sum of squared steps of
z(λ) with R = (1 + tanh z)/2, so that 0 < R < 1, subject to the three tristimulus values (S. A. Burns, Color Res. Appl. 45
(2020) 8, "least hyperbolic tangent slope squared"; pages from memory). How the real thing behaves under other lights stays unknown.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hidewright.refusals import Refusal

from .cie import BANDS, delta_e00, lab, weights, white, xyz_from_lab

Array = NDArray[np.float64]
NEAR = 0.01
"""ΔE00 within which the stand-in must have the colour asked for."""


def smoothest(colour: ArrayLike, light: str = "D65", observer: str = "10") -> Array:
    """The smoothest reflectance, shape (31,), 0 < R < 1, with the CIELAB colour, shape (3,), under the light.

    Refuses colours that no reflecting surface can have under that light.
    """
    wanted = np.asarray(colour, dtype=float)
    if wanted.shape != (3,) or not np.all(np.isfinite(wanted)) or not 0 < wanted[0] < 100:
        raise Refusal(
            "A colour has L* above 0 and below 100, and finite a* and b*.",
            where="Lab",
            remedy="Check the three numbers.",
        )
    w = weights(light, observer)
    aim = xyz_from_lab(wanted, white(light, observer))
    steps = np.diff(np.eye(BANDS), axis=0)
    roughness = 2.0 * steps.T @ steps
    level = float(np.clip(aim[1] / 100.0, 0.01, 0.99))
    z = np.full(BANDS, np.arctanh(2.0 * level - 1.0))
    multiplier = np.zeros(3)
    for _ in range(60):
        z, multiplier, moved = _newton(z, multiplier, roughness, w, aim)
        if moved < 1e-10:
            break
    found = 0.5 * (1.0 + np.tanh(z))
    off = float(delta_e00(lab(found, light, observer), wanted))
    if not np.all(np.isfinite(found)) or not off <= NEAR:
        raise Refusal(
            "No surface that only reflects can have this colour under this light.",
            where="Lab",
            remedy="Check the three numbers, the light and the observer.",
        )
    return np.asarray(np.clip(found, 0.0, 1.0))


def _newton(
    z: Array, multiplier: Array, roughness: Array, w: Array, aim: Array
) -> tuple[Array, Array, float]:
    """One step on the stationary point of the roughness under the three constraints; never more than 1 in z."""
    slope = 0.5 / np.cosh(z) ** 2
    bend = -2.0 * np.tanh(z) * slope
    force = roughness @ z + slope * (w @ multiplier)
    miss = w.T @ (0.5 * (1.0 + np.tanh(z))) - aim
    matrix = np.zeros((BANDS + 3, BANDS + 3))
    matrix[:BANDS, :BANDS] = roughness + np.diag(bend * (w @ multiplier))
    matrix[:BANDS, BANDS:] = slope[:, None] * w
    matrix[BANDS:, :BANDS] = matrix[:BANDS, BANDS:].T
    step = np.linalg.lstsq(matrix, -np.concatenate([force, miss]), rcond=None)[0]
    shrink = min(1.0, 1.0 / max(float(np.max(np.abs(step[:BANDS]))), 1e-300))
    return z + shrink * step[:BANDS], multiplier + shrink * step[BANDS:], float(np.max(np.abs(step[:BANDS])))
