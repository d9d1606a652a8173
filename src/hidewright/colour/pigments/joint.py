"""All pigments from all drawdowns at once, with full covariance, and which drawdown to make next.

Unknowns are ln k and ln s of every pigment at every band (so that nothing is negative), and the weighing error of each thing in each drawdown, which all bands share.
Curves are drawn toward smoothness by a prior with wide tails that lets an edge stand; how smooth each curve is, the readings tell, and what they leave open the other pigments' curves do.
Gauss-Newton from the one-by-one answer, its levels tried first; the covariance is that of the linearised Gaussian (A. Tarantola, Inverse Problem Theory, 2005, eq. 3.38). A drawdown that
contradicts the rest counts less, and is named.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, delta_e00, lab
from hidewright.colour.light.local import lab_slopes, metric

from .drawdowns import READING_SD, WEIGHING_SD, Drawdown, Fit
from .film import Surface, below, film, opaque, seen

Array = NDArray[np.float64]
BENDS_FIRST = (0.5, 0.1)
"""sd of the second differences of ln k and ln s from band to band, to begin with (conventions of this tool)."""
BENDS = (0.05, 0.01)
"""What these sd are held to be where no reading tells (conventions of this tool)."""
TAILS = 3.0
"""Degrees of freedom of the Student prior of a second difference: wide tails let an edge stand."""
KINDRED = 2.0
"""Half the degrees of freedom by which the bends of one curve are drawn to those of its kind (the other ln k, or the other ln s)."""
LEAST_BEND = 2e-4
"""The least sd of a bend: a line to every digit shown."""
SETTLING = 3
"""Rounds with the loose prior, before bends are told from noise."""
LEVEL = 3.0
"""sd of the level of ln k and ln s, of all bands together, about the one-by-one answer: so wide that it only holds what no drawdown tells."""
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


SECOND: Array = np.diff(np.eye(BANDS), n=2, axis=0)


class _Bends:
    """How far each curve bends from band to band, learned beside the curves: an empirical Bayes prior of two levels.

    A second difference d of a curve has a Student prior of `TAILS` degrees of freedom and scale τ, as a Gaussian of precision λ/τ², with λ = (ν + 1)/(ν + E[d²]/τ²) (K. L. Lange,
    R. J. A. Little, J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989) 881). τ² = (2a·c² + Σλd²)/(2a + γ), where γ counts the differences that the readings, not the prior, determine
    (D. J. C. MacKay, Neural Comput. 4 (1992) 415, eq. 4.8-4.10: γ = Σ(1 − precision × variance)). c, the scale of all curves of a kind, is the mean of ln τ weighted by γ, with one
    difference's weight on `BENDS`. All sources from memory.
    """

    def __init__(self, curves: int) -> None:
        self.own = np.tile(np.array(BENDS) ** 2, curves // 2)
        self.kind = np.array(BENDS) ** 2
        self.lent = np.ones((curves, len(SECOND)))
        self.settled = False

    @property
    def precision(self) -> Array:
        """(curves, 29): what each second difference is held to zero with."""
        if not self.settled:
            return np.tile(np.array(BENDS_FIRST)[:, None] ** -2.0, (len(self.own) // 2, len(SECOND)))
        return np.asarray(self.lent / self.own[:, None])

    def learn(self, theta: Array, covariance: Array) -> None:
        """Bends by the curves (P, 2, 31) and their covariance as they now stand."""
        told = np.zeros(len(self.own))
        precision = self.lent / self.own[:, None]
        for n, curve in enumerate(theta.reshape(-1, BANDS)):
            here = slice(n * BANDS, (n + 1) * BANDS)
            square = (SECOND @ curve) ** 2
            variance = np.einsum("ij,jk,ik->i", SECOND, covariance[here, here], SECOND)
            told[n] = np.clip(1.0 - precision[n] * variance, 0.0, 1.0).sum()
            whole = 2 * KINDRED * self.kind[n % 2] + (self.lent[n] * square).sum()
            self.own[n] = max(whole / (2 * KINDRED + told[n]), LEAST_BEND**2)
            self.lent[n] = (TAILS + 1) / (TAILS + (square + variance) / self.own[n])
        for which, begun in enumerate(BENDS):
            weight, logs = told[which::2], np.log(self.own[which::2])
            self.kind[which] = np.exp((2 * np.log(begun) + weight @ logs) / (1.0 + weight.sum()))
        self.settled = True

    def information(self) -> Array:
        """Prior information (unknowns, unknowns): smooth curves, and a loose hold on their level."""
        precision = self.precision
        out = np.zeros((len(precision) * BANDS,) * 2)
        for n, weight in enumerate(precision):
            here = slice(n * BANDS, (n + 1) * BANDS)
            out[here, here] = (SECOND.T * weight) @ SECOND + np.eye(BANDS) / LEVEL**2
        return out


def _quiet(curves: Array) -> Array:
    """Curves (..., 31) by their running median of seven: a band that a noisy dark reading threw far out is no start for its neighbours."""
    ends = np.pad(curves, [(0, 0)] * (curves.ndim - 1) + [(3, 3)], mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(ends, 7, axis=-1), axis=-1))


def _levelled(films: _Films, theta: Array) -> Array:
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


def _lift(films: _Films, theta: Array, i: int, righted: NDArray[np.bool_], lifts: Array) -> bool:
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


def together(
    drawdowns: Sequence[Drawdown], start: Mapping[str, Fit], surface: Surface | None = None, rounds: int = 24
) -> Joint:
    """All pigments at once from a one-by-one start (`characterise` of each), whose levels may be far off."""
    surface = surface or Surface()
    keys = tuple(start)
    films = _Films(keys, drawdowns, surface)
    first = np.array([[np.log(start[key].k), np.log(start[key].s)] for key in keys])
    first = np.clip(_levelled(films, _quiet(np.clip(first, -14.0, 8.0))), -14.0, 4.0)
    level = np.eye(first.size) / LEVEL**2
    bends = _Bends(2 * len(keys))
    theta, weighed = first.copy(), np.zeros(len(films.pairs))
    trust = np.ones(len(drawdowns))
    inverse = np.zeros((0, 0))
    for turn in range(rounds):
        prior = bends.information()
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
        inverse = np.linalg.inv(normal)
        step = inverse @ pull
        theta = np.clip(theta + np.clip(step[:size], -1.0, 1.0).reshape(theta.shape), -16.0, 5.0)
        weighed = weighed + np.clip(step[size:], -0.05, 0.05)
        if turn >= SETTLING - 1:
            bends.learn(theta, inverse[:size, :size])
            square = _squares(films, theta, weighed)
            trust = np.where(square > CONTRADICTS, CONTRADICTS / square, 1.0) ** 2
        if np.abs(step).max() < 1e-3 and turn > SETTLING + 2:
            break
    covariance = inverse[: theta.size, : theta.size] + _open_levels(films, theta, weighed)
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
