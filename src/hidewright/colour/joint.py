"""All pigments from all drawdowns at once, with full covariance, and which drawdown to make next.

Unknowns are ln k and ln s of every pigment at every band (so that nothing is negative), and the weighing error of each thing in each drawdown, which all bands share.
Curves are drawn toward smoothness, calm for s and looser for k, by a prior with wide tails that lets an edge stand. Gauss-Newton from the one-by-one answer; the covariance is that
of the linearised Gaussian (A. Tarantola, Inverse Problem Theory, 2005, eq. 3.38). A drawdown that contradicts the rest counts less, and is named.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .cie import BANDS, delta_e00, lab
from .cups import lab_slopes
from .film import Surface, below, film, opaque, seen
from .pigments import READING_SD, WEIGHING_SD, Drawdown, Fit

Array = NDArray[np.float64]
BEND_K, BEND_S = 0.5, 0.1
"""sd of the second differences of ln k and ln s from band to band, to begin with (conventions of this tool)."""
CALM_K, CALM_S = 0.15, 0.02
"""Half-widths of the second differences once the edges are seen: a Cauchy prior, calm but for edges, which it lets stand (conventions of this tool)."""
SETTLING = 3
"""Rounds with the loose prior, before bends are told from noise."""
LEVEL = 3.0
"""sd of the level of ln k and ln s, of all bands together, about the one-by-one answer: so wide that it only holds what no drawdown tells."""
STEPS = (1.0, 2.0, 4.0, 6.0)
"""Natural logs by which a pigment's level is tried, up and down, to see whether any film tells."""
TELLS = 25.0
"""Rise of the summed squared misfit (in variances of a reading) from which films tell a level: five sd, since curves of 31 bands follow some of the noise."""
CONTRADICTS = 6.0
"""Mean squared misfit, in units of the expected, above which a drawdown contradicts the rest."""


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """What all drawdowns tell together: `theta` (P, 2, 31) ln k and ln s by pigment, and the covariance of its flattened form."""

    keys: tuple[str, ...]
    theta: Array
    covariance: Array
    misfit: Mapping[str, tuple[float, float]]
    doubt: Mapping[str, float]
    surface: Surface

    def fits(self, drawdowns: Sequence[Drawdown]) -> dict[str, Fit]:
        """One `Fit` a pigment."""
        sd = np.sqrt(np.maximum(np.diag(self.covariance), 0.0)).reshape(self.theta.shape)
        found = {}
        for i, key in enumerate(self.keys):
            own = {d.name: self.misfit[d.name] for d in drawdowns if key in d.shares}
            odd = tuple(name for name in own if self.doubt[name] > CONTRADICTS)
            found[key] = Fit(np.exp(self.theta[i, 0]), np.exp(self.theta[i, 1]), sd[i, 0], sd[i, 1], own, odd)
        return found

    def spread_of(self, shares: Mapping[str, float]) -> float:
        """ΔE00 by which the opaque colour of a mix in these shares may be off (root mean square, D65)."""
        slopes = self._lab_slopes(shares)
        return float(np.sqrt(np.trace(slopes @ self.covariance @ slopes.T)))

    def _curves(self, shares: Mapping[str, float]) -> tuple[Array, Array]:
        c = np.array([shares.get(key, 0.0) for key in self.keys])
        return c @ np.exp(self.theta[:, 0]), c @ np.exp(self.theta[:, 1])

    def _lab_slopes(self, shares: Mapping[str, float]) -> Array:
        """Slopes (3, unknowns) of Lab, through CIEDE2000's local metric, for an opaque mix."""
        from .search import metric

        k, s = self._curves(shares)
        read = seen(opaque(k, s), self.surface)
        step = 1e-6
        by_k = (seen(opaque(k * (1 + step), s), self.surface) - read) / (k * step)
        by_s = (seen(opaque(k, s * (1 + step)), self.surface) - read) / (s * step)
        turn = metric(lab(read)) @ lab_slopes(read)
        out = np.zeros((3, *self.theta.shape))
        for i, key in enumerate(self.keys):
            if key in shares:
                out[:, i, 0] = turn * (by_k * shares[key] * np.exp(self.theta[i, 0]))
                out[:, i, 1] = turn * (by_s * shares[key] * np.exp(self.theta[i, 1]))
        return out.reshape(3, -1)


class _Films:
    """The films of all drawdowns as functions of θ and of the weighing errors."""

    def __init__(self, keys: Sequence[str], drawdowns: Sequence[Drawdown], surface: Surface) -> None:
        self.keys, self.surface = list(keys), surface
        self.c = np.array([[d.shares.get(key, 0.0) for key in keys] for d in drawdowns])
        self.x = np.array([d.microns for d in drawdowns])[:, None]
        self.grounds = [
            np.array([below(getattr(d, g), surface) for d in drawdowns]) for g in ("black", "white")
        ]
        self.read = np.array([[d.over_black for d in drawdowns], [d.over_white for d in drawdowns]])
        self.sd = np.array([d.sd for d in drawdowns])
        self.pairs = [(d, i) for d in range(len(drawdowns)) for i in np.flatnonzero(self.c[d])]

    def at(self, theta: Array, weighed: Array) -> tuple[Array, Array, Array]:
        """Readings (2, D, 31) and their slopes by K and by S."""
        c = self.c.copy()
        for (d, i), error in zip(self.pairs, weighed, strict=True):
            c[d, i] *= np.exp(error)
        k, s = c @ np.exp(theta[:, 0]), c @ np.exp(theta[:, 1])
        told, by_k, by_s = [], [], []
        for ground in self.grounds:
            here = seen(film(k, s, self.x, ground), self.surface)
            step = 1e-6
            told.append(here)
            by_k.append((seen(film(k * (1 + step), s, self.x, ground), self.surface) - here) / (k * step))
            by_s.append((seen(film(k, s * (1 + step), self.x, ground), self.surface) - here) / (s * step))
        return np.array(told), np.array(by_k), np.array(by_s)

    def slopes(self, theta: Array, weighed: Array) -> tuple[Array, Array]:
        """Readings (2, D, 31) and their slopes (2·D·31, unknowns + weighings)."""
        told, by_k, by_s = self.at(theta, weighed)
        count, pigments = self.c.shape
        curve_k, curve_s = np.exp(theta[:, 0]), np.exp(theta[:, 1])
        out = np.zeros((2, count, BANDS, pigments, 2, BANDS))
        bands = np.arange(BANDS)
        for d, i in self.pairs:
            out[:, d, bands, i, 0, bands] = by_k[:, d] * self.c[d, i] * curve_k[i]
            out[:, d, bands, i, 1, bands] = by_s[:, d] * self.c[d, i] * curve_s[i]
        errors = np.zeros((2, count, BANDS, len(self.pairs)))
        for n, (d, i) in enumerate(self.pairs):
            errors[:, d, :, n] = (
                by_k[:, d] * self.c[d, i] * curve_k[i] + by_s[:, d] * self.c[d, i] * curve_s[i]
            )
        return told, np.concatenate(
            [out.reshape(2 * count * BANDS, -1), errors.reshape(2 * count * BANDS, -1)], axis=1
        )


def _smoothness(theta: Array, *, calm: bool) -> Array:
    """Prior information (unknowns, unknowns): smooth curves, and a loose hold on their level.

    With `calm` each second difference d has the weight 2/(b² + d²) of a Cauchy prior at the present θ (iteratively reweighted least squares; P. J. Huber,
    Robust Statistics, 1981, §7.8): noise is smoothed away, an edge costs little more than it already does.
    """
    second = np.diff(np.eye(BANDS), n=2, axis=0)
    out = np.zeros((theta.size, theta.size))
    for n, curve in enumerate(theta.reshape(-1, BANDS)):
        if calm:
            weight = 2.0 / ((CALM_K, CALM_S)[n % 2] ** 2 + (second @ curve) ** 2)
        else:
            weight = np.full(len(second), (BEND_K, BEND_S)[n % 2] ** -2.0)
        here = slice(n * BANDS, (n + 1) * BANDS)
        out[here, here] = (second.T * weight) @ second + np.eye(BANDS) / LEVEL**2
    return out


def _quiet(curves: Array) -> Array:
    """Curves (..., 31) by their running median of seven: a band that a noisy dark reading threw far out is no start for its neighbours."""
    ends = np.pad(curves, [(0, 0)] * (curves.ndim - 1) + [(3, 3)], mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(ends, 7, axis=-1), axis=-1))


def together(
    drawdowns: Sequence[Drawdown], start: Mapping[str, Fit], surface: Surface | None = None, rounds: int = 16
) -> Joint:
    """All pigments at once from a one-by-one start (`characterise` of each)."""
    surface = surface or Surface()
    keys = tuple(start)
    films = _Films(keys, drawdowns, surface)
    first = np.array([[np.log(start[key].k), np.log(start[key].s)] for key in keys])
    first = _quiet(np.clip(first, -14.0, 4.0))
    level = np.eye(first.size) / LEVEL**2
    theta, weighed = first.copy(), np.zeros(len(films.pairs))
    trust = np.ones(len(drawdowns))
    normal = level
    for turn in range(rounds):
        prior = _smoothness(theta, calm=turn >= SETTLING)
        told, slopes = films.slopes(theta, weighed)
        weight = np.broadcast_to((trust / films.sd**2)[None, :, None], told.shape).reshape(-1)
        scaled = slopes * np.sqrt(weight)[:, None]
        miss = (films.read - told).reshape(-1) * np.sqrt(weight)
        normal = scaled.T @ scaled
        size = theta.size
        normal[:size, :size] += prior
        normal[range(size, len(normal)), range(size, len(normal))] += 1 / WEIGHING_SD**2
        pull = scaled.T @ miss
        pull[:size] += level @ (first - theta).reshape(-1) - (prior - level) @ theta.reshape(-1)
        pull[size:] -= weighed / WEIGHING_SD**2
        step = np.linalg.solve(normal, pull)
        theta = np.clip(theta + np.clip(step[:size], -1.0, 1.0).reshape(theta.shape), -16.0, 5.0)
        weighed = weighed + np.clip(step[size:], -0.05, 0.05)
        if turn >= 2:
            square = _squares(films, theta, weighed)
            trust = np.where(square > CONTRADICTS, CONTRADICTS / square, 1.0) ** 2
        if np.abs(step).max() < 1e-4 and turn > SETTLING:
            break
    covariance: Array = np.asarray(np.linalg.inv(normal)[: theta.size, : theta.size], dtype=np.float64)
    covariance = covariance + _open_levels(films, theta, weighed)
    told, _, _ = films.at(theta, np.zeros(len(films.pairs)))
    off = delta_e00(lab(told), lab(films.read))
    square = _squares(films, theta, weighed)
    misfit = {d.name: (float(off[0, i]), float(off[1, i])) for i, d in enumerate(drawdowns)}
    doubt = {d.name: float(square[i]) for i, d in enumerate(drawdowns)}
    return Joint(keys, theta, covariance, misfit, doubt, surface)


def _open_levels(films: _Films, theta: Array, weighed: Array) -> Array:
    """What the linearised covariance does not see: how far a pigment's k and s may rise or fall together without any film telling (unknowns, unknowns).

    An opaque masstone fixes k/s alone. Its fit ends where the film just hides, and there the slopes seem to fix the level; a step further none of them does.
    """
    size = theta.size
    added = np.zeros((size, size))

    def misfit(there: Array) -> float:
        told, _, _ = films.at(there, weighed)
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


def _squares(films: _Films, theta: Array, weighed: Array) -> Array:
    """Mean squared misfit of each drawdown in units of what noise and its own weighing errors explain."""
    told, _, _ = films.at(theta, weighed)
    reading = ((films.read - told) ** 2).mean(axis=(0, 2)) / films.sd**2
    count = np.zeros(len(reading))
    for (d, _), error in zip(films.pairs, weighed, strict=True):
        count[d] = max(count[d], (error / WEIGHING_SD) ** 2)
    return np.maximum(reading, count / 4.0)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A drawdown worth making: its parts by volume, and the mean ΔE00 spread of mixes before and after it."""

    name: str
    parts: Mapping[str, float]
    before: float
    after: float

    @property
    def words(self) -> str:
        """Why, in a sentence."""
        return f"{self.name}: mixes would be foretold to ΔE00 {self.after:.2f} instead of {self.before:.2f}."


def propose(
    joint: Joint, dry_share: float = 0.45, microns: float = 40.0, mixes: int = 40, seed: int = 1
) -> tuple[Proposal, ...]:
    """The most informative next drawdowns, best first: masstones, white tints and shades with about 5 % black of what is known.

    Each is judged by how far it would narrow the forecast of random mixes of three and four pigments (linearised, before it is made).
    """
    rng = np.random.default_rng(seed)
    probes = []
    for _ in range(mixes):
        chosen = rng.choice(len(joint.keys), min(len(joint.keys), int(rng.integers(3, 5))), replace=False)
        parts = dict(zip((joint.keys[i] for i in chosen), rng.dirichlet(np.ones(len(chosen))), strict=True))
        probes.append(joint._lab_slopes(parts))
    stacked = np.concatenate(probes)
    spread = np.einsum("ij,jk,ik->i", stacked, joint.covariance, stacked).reshape(-1, 3).sum(axis=1)
    before = float(np.sqrt(spread).mean())
    ground = [np.full(BANDS, 0.02), np.full(BANDS, 0.9)]
    found = []
    for name, parts in _candidates(joint.keys):
        total = sum(parts.values())
        shares = {key: dry_share * v / total for key, v in parts.items()}
        slopes = _reading_slopes(joint, shares, microns, ground)
        cross = joint.covariance @ slopes.T
        noise = slopes @ cross + READING_SD**2 * np.eye(len(slopes))
        gained = stacked @ cross
        less = np.einsum("ij,ij->i", gained, np.linalg.solve(noise, gained.T).T).reshape(-1, 3).sum(axis=1)
        after = float(np.sqrt(np.maximum(spread - less, 0.0)).mean())
        found.append(Proposal(name, parts, before, after))
    return tuple(sorted(found, key=lambda p: p.after))


def _candidates(keys: Sequence[str]) -> list[tuple[str, dict[str, float]]]:
    white = next((k for k in keys if k.startswith("PW")), None)
    black = next((k for k in keys if k.startswith("PBk")), None)
    found = [(f"masstone of {key}", {key: 1.0}) for key in keys]
    found += [
        (f"{key} let down with white", {key: 0.2, white: 1.0}) for key in keys if white and key != white
    ]
    found += [(f"{key} with 5 % black", {key: 1.0, black: 0.05}) for key in keys if black and key != black]
    return found


def _reading_slopes(
    joint: Joint, shares: Mapping[str, float], microns: float, grounds: Sequence[Array]
) -> Array:
    """Slopes (62, unknowns) of both readings of a drawdown; its weighing errors are left to the reading noise."""
    k, s = joint._curves(shares)
    rows = []
    step = 1e-6
    for ground in grounds:
        here = seen(film(k, s, microns, ground), joint.surface)
        by_k = (seen(film(k * (1 + step), s, microns, ground), joint.surface) - here) / (k * step)
        by_s = (seen(film(k, s * (1 + step), microns, ground), joint.surface) - here) / (s * step)
        out = np.zeros((BANDS, *joint.theta.shape))
        bands = np.arange(BANDS)
        for i, key in enumerate(joint.keys):
            if key in shares:
                out[bands, i, 0, bands] = by_k * shares[key] * np.exp(joint.theta[i, 0])
                out[bands, i, 1, bands] = by_s * shares[key] * np.exp(joint.theta[i, 1])
        rows.append(out.reshape(BANDS, -1))
    return np.concatenate(rows)
