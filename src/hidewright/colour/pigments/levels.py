"""Levels of pigments' curves: put right in a start, and how far they stay open at the end."""

import numpy as np
from numpy.typing import NDArray

from .film import film, seen
from .films import Films

Array = NDArray[np.float64]
LIFTS = np.arange(-4.0, 5.0)
"""Natural logs by which the levels of ln k and ln s of a start are tried; then a quarter of each."""
SWEEPS = 6
"""How often all pigments' levels are gone through, at most."""
CLEARLY = 0.9
"""A level is taken instead of the start's when it leaves less than this share of the misfit, and `TELLS` less at least."""
STEPS = (1.0, 2.0, 4.0, 6.0)
"""Natural logs by which a pigment's level is tried, up and down, to see whether any film tells."""
TELLS = 25.0
"""Rise of the summed squared misfit (in variances of a reading) from which films tell a level: five sd, since curves of 31 bands follow some of the noise."""


def quiet(curves: Array) -> Array:
    """Curves (..., 31) by their running median of seven: a band that a noisy dark reading threw far out is no start for its neighbours."""
    ends = np.pad(curves, [(0, 0)] * (curves.ndim - 1) + [(3, 3)], mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(ends, 7, axis=-1), axis=-1))


def levelled(films: Films, theta: Array) -> Array:
    """The start (P, 2, 31) with its levels put right where others explain the films far better; pigments that stand alone in a film come first.

    Gauss-Newton from levels some e² off can end in another minimum: a film that hides, or that is clear, has no slope to lead it back.
    """
    theta = theta.copy()
    alone = films.c[(films.c > 0).sum(axis=1) == 1].sum(axis=0) > 0
    order = sorted(range(len(theta)), key=lambda i: (not alone[i], -np.count_nonzero(films.c[:, i])))
    righted = np.zeros(len(theta), dtype=bool)
    for i in order:
        righted[i] = True
        for lifts in (LIFTS, LIFTS / 4):
            _lift(films, theta, i, righted, lifts)
    for _ in range(SWEEPS):
        moved = [_lift(films, theta, i, righted, lifts) for i in order for lifts in (LIFTS, LIFTS / 4)]
        if not any(moved):
            break
    return theta


def _lift(films: Films, theta: Array, i: int, righted: NDArray[np.bool_], lifts: Array) -> bool:
    """Raise or lower ln k and ln s of pigment i (in place) to the levels that explain best those of its films that hold nothing but `righted` pigments.

    False where none does clearly better.
    """
    rows = np.flatnonzero((films.c[:, i] > 0) & ~np.any(films.c[:, ~righted] > 0, axis=1))
    if not rows.size:
        return False
    rest = films.c[rows].copy()
    rest[:, i] = 0.0
    own = films.c[rows, i, None]
    k, s = (rest @ np.exp(theta[:, which]) for which in (0, 1))
    k = k + own * np.exp(theta[i, 0] + lifts[:, None, None, None])
    s = s + own * np.exp(theta[i, 1] + lifts[None, :, None, None])
    told = np.stack([seen(film(k, s, films.x[rows], g[rows]), films.surface) for g in films.grounds])
    miss = (told - films.read[:, None, None, rows]) / films.sd[rows, None]
    cost = (miss**2).sum(axis=(0, 3, 4))
    best = np.unravel_index(cost.argmin(), cost.shape)
    still = int(np.flatnonzero(lifts == 0.0)[0])
    if cost[best] >= min(CLEARLY * cost[still, still], cost[still, still] - TELLS):
        return False
    theta[i] += lifts[list(best), None]
    return True


def open_levels(films: Films, theta: Array) -> Array:
    """What the linearised covariance does not see: how far a pigment's k and s may rise or fall together without any film telling (unknowns, unknowns).

    An opaque masstone fixes k/s alone. Its fit ends where the film just hides, and there the slopes seem to fix the level; a step further none of them does.
    """
    size = theta.size
    added = np.zeros((size, size))

    def misfit(there: Array) -> float:
        told = films.at(there).read
        return float((((films.read - told) / films.sd[None, :, None]) ** 2).sum())

    least = misfit(theta)
    for i in range(len(theta)):
        whole = np.zeros_like(theta)
        whole[i] = 1.0
        reach = 0.0
        for way in (1.0, -1.0):
            for step in STEPS:
                if misfit(theta + way * step * whole) > least + TELLS:
                    break
                reach = max(reach, step)
        direction = whole.reshape(-1)
        added += (reach / 2) ** 2 * np.outer(direction, direction)
    return added
