"""Colour near a colour: the local metric of CIEDE2000, and the slopes of Lab by the reflectance."""

import itertools

import numpy as np
from numpy.typing import NDArray

from .cie import LightLike, delta_e00, lab_from_xyz, weights, white

Array = NDArray[np.float64]


def lab_slopes(reflectance: Array, light: LightLike = "D65", observer: str = "10") -> Array:
    """Slopes (3, 31) of Lab by the reflectance (31,)."""
    table, point = weights(light, observer), white(light, observer)
    here = reflectance @ table
    step = 1e-4
    turned = [
        (lab_from_xyz(here + step * e, point) - lab_from_xyz(here - step * e, point)) / (2 * step)
        for e in np.eye(3)
    ]
    return np.asarray(np.stack(turned, axis=-1) @ table.T)


def metric(target: Array) -> Array:
    """A (3, 3) matrix M so that |M·ΔLab| is the CIEDE2000 difference for small ΔLab at the target."""
    step = 1e-2
    square = np.zeros((3, 3))
    eye = np.eye(3) * step
    single = [float(delta_e00(target, target + eye[i])) ** 2 for i in range(3)]
    for i in range(3):
        square[i, i] = single[i] / step**2
    for i, j in itertools.combinations(range(3), 2):
        both = float(delta_e00(target, target + eye[i] + eye[j])) ** 2
        square[i, j] = square[j, i] = (both - single[i] - single[j]) / (2 * step**2)
    return np.asarray(np.linalg.cholesky(square).T, dtype=float)
