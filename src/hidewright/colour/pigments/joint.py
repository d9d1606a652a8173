"""All pigments from all drawdowns at once, with full covariance, however well the film fits them.

Unknowns are ln k and ln s of every pigment at every band (so that nothing is negative). Curves are drawn toward smoothness (`bends`); how far readings are off, by noise, amounts and what the
film leaves out, is learned from the readings (`misfit`), so that more films never count for more than they tell. Gauss-Newton from the one-by-one answer, its levels tried first; the covariance is
that of the linearised Gaussian (A. Tarantola, Inverse Problem Theory, 2005, eq. 3.38). A drawdown that contradicts the rest, judged by those same scales, counts less, and is named.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, delta_e00, lab
from hidewright.colour.light.local import lab_slopes, metric

from .bends import LEVEL, Bends
from .drawdowns import Drawdown, Fit
from .film import Surface, opaque, seen
from .films import Films
from .levels import levelled, open_levels, quiet
from .misfit import BEGIN, CLEAN, NOISY, Scales, Spread, kin, spread_of

Array = NDArray[np.float64]
SETTLING = 3
"""Rounds with the loose prior, before bends and misfit are told from noise."""
CONTRADICTS = 6.0
"""Mean squared misfit, in units of the expected, above which a drawdown contradicts the rest."""


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """What all drawdowns tell together: `theta` (P, 2, 31) ln k and ln s by pigment, the covariance of its flattened form, and how far readings are off (`scales`).

    `evidence` is the log likelihood of the readings with the curves summed out (Laplace), up to a constant of their number: to compare surfaces by.
    """

    keys: tuple[str, ...]
    theta: Array
    covariance: Array
    misfit: Mapping[str, tuple[float, float]]
    doubt: Mapping[str, float]
    surface: Surface
    scales: Scales = field(default_factory=Scales)
    evidence: float = 0.0

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
        """ΔE00 by which the opaque colour of a mix in these shares may be off (root mean square, D65), by what the curves are known to."""
        slopes = self.lab_slopes(shares)
        return float(np.sqrt(np.trace(slopes @ self.covariance @ slopes.T)))

    def curves(self, shares: Mapping[str, float]) -> tuple[Array, Array]:
        """K and S (31,) of a film of these shares."""
        c = np.array([shares.get(key, 0.0) for key in self.keys])
        return c @ np.exp(self.theta[:, 0]), c @ np.exp(self.theta[:, 1])

    def lab_slopes(self, shares: Mapping[str, float]) -> Array:
        """Slopes (3, unknowns) of Lab, through CIEDE2000's local metric, for an opaque mix."""
        k, s = self.curves(shares)
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


@dataclass(slots=True, eq=False)
class _Round:
    """All films at one θ: the information they give (unknowns, unknowns), its pull (unknowns,), and what is needed to learn the scales."""

    information: Array
    pull: Array
    spreads: list[Spread]
    slopes: list[Array]
    misses: list[Array]
    squares: Array


def _taken(films: Films, theta: Array, scales: Scales, trust: Array, like: Array) -> _Round:
    looks = films.at(theta)
    information, pull = np.zeros((theta.size,) * 2), np.zeros(theta.size)
    spreads, every, misses, squares = [], [], [], []
    for d in range(len(films.c)):
        slopes = films.slopes(theta, looks, d)
        miss = films.missed(looks, d)
        spread = spread_of(films, looks, slopes, d, scales, float(like[d]))
        told = spread.counting @ miss
        sides, rows, _ = slopes.shape
        blocks = spread.counting.reshape(sides, BANDS, sides, BANDS)
        part = np.zeros((rows, BANDS, rows, BANDS))
        for g in range(sides):
            for h in range(sides):
                part += (
                    slopes[g][:, :, None, None] * blocks[g, :, h][None, :, None, :] * slopes[h][None, None]
                )
        places = films.places(d)
        information[np.ix_(places, places)] += trust[d] * part.reshape(places.size, -1)
        pull[places] += trust[d] * (slopes * told.reshape(sides, 1, BANDS)).sum(axis=0).reshape(-1)
        spreads.append(spread)
        every.append(slopes)
        misses.append(miss)
        squares.append(float(miss @ spread.inverse @ miss) / miss.size)
    return _Round(information, pull, spreads, every, misses, np.array(squares))


def _learned(films: Films, here: _Round, inverse: Array, scales: Scales, trust: Array) -> Scales:
    """The scales after one step of restricted likelihood."""
    quadratic, trace = np.zeros(5), np.zeros(5)
    for d, (spread, slopes, miss) in enumerate(zip(here.spreads, here.slopes, here.misses, strict=True)):
        places = films.places(d)
        known = inverse[np.ix_(places, places)] * trust[d]
        sides = len(slopes)
        told = spread.inverse @ miss
        turned = spread.inverse @ spread.factors
        along = (slopes[..., None] * turned.reshape(sides, 1, BANDS, -1)).sum(axis=0).reshape(places.size, -1)
        by_column = (spread.factors * turned).sum(axis=0) - ((known @ along) * along).sum(axis=0)
        square = (spread.factors.T @ told) ** 2
        np.add.at(quadratic, spread.source, trust[d] * square)
        np.add.at(trace, spread.source, trust[d] * np.maximum(by_column, 0.0))
        bands = spread.inverse.reshape(sides, BANDS, -1)
        lit = (slopes[..., None] * bands[:, None]).sum(axis=0).reshape(places.size, -1)
        whole = np.trace(spread.inverse) - ((known @ lit) * lit).sum()
        quadratic[0] += trust[d] * spread.per_band * float(told @ told)
        trace[0] += trust[d] * spread.per_band * max(float(whole), 0.0)
    return scales.stepped(quadratic, trace)


def together(
    drawdowns: Sequence[Drawdown], start: Mapping[str, Fit], surface: Surface | None = None, rounds: int = 32
) -> Joint:
    """All pigments at once from a one-by-one start (`characterise` of each), whose levels may be far off."""
    surface = surface or Surface()
    keys = tuple(start)
    films = Films(keys, drawdowns, surface)
    first = np.array([[np.log(start[key].k), np.log(start[key].s)] for key in keys])
    first = np.clip(levelled(films, quiet(np.clip(first, -14.0, 8.0))), -14.0, 4.0)
    found = _settled(films, first, Scales(), rounds)
    if found.scales.noise > NOISY * CLEAN[0]:
        found = max(found, _settled(films, first, Scales(*BEGIN), rounds), key=lambda one: one.evidence)
    covariance = found.inverse + open_levels(films, found.theta) + found.shared @ found.shared.T
    off = delta_e00(lab(films.at(found.theta).read), lab(films.read))
    misfit = {d.name: (float(off[0, i]), float(off[1, i])) for i, d in enumerate(drawdowns)}
    doubt = {d.name: float(found.squares[i]) for i, d in enumerate(drawdowns)}
    return Joint(keys, found.theta, covariance, misfit, doubt, surface, found.scales, found.evidence)


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Where Gauss-Newton came to rest."""

    theta: Array
    inverse: Array
    scales: Scales
    squares: Array
    evidence: float
    shared: Array
    """(unknowns, causes): how far θ is off when what films share from how they were entered is one sd off."""


def _settled(films: Films, first: Array, scales: Scales, rounds: int) -> _Found:
    level = np.eye(first.size) / LEVEL**2
    bends = Bends(first.shape[0] * 2)
    theta, trust, like = first.copy(), np.ones(len(films.c)), kin(films)
    for turn in range(rounds):
        prior = bends.information()
        here = _taken(films, theta, scales, trust, like)
        inverse: Array = np.asarray(np.linalg.inv(here.information + prior), dtype=float)
        pull = here.pull + level @ (first - theta).reshape(-1) - (prior - level) @ theta.reshape(-1)
        step = inverse @ pull
        theta = np.clip(theta + np.clip(step, -1.0, 1.0).reshape(theta.shape), -16.0, 5.0)
        if turn >= SETTLING - 1:
            bends.learn(theta, inverse)
            before = scales.variances
            trust = np.where(here.squares > CONTRADICTS, CONTRADICTS / here.squares, 1.0) ** 2
            scales = _learned(films, here, inverse, scales, trust)
            still = float(np.abs(np.log(scales.variances / before)).max()) < 0.02
            if np.abs(step).max() < 1e-3 and still and turn > SETTLING + 2:
                break
    here = _taken(films, theta, scales, trust, like)
    shared = inverse @ _pulled(films, here, trust)
    return _Found(theta, inverse, scales, here.squares, _evidence(here, theta, first, bends), shared)


def _pulled(films: Films, here: _Round, trust: Array) -> Array:
    """(unknowns, causes): how far the readings pull when a cause that films share is one sd off in all of them at once.

    More films of one bar, or of a pigment of which the density is not known, do not make that any surer: such a common error is considered, not averaged out
    (S. F. Schmidt's consider covariance; A. H. Jazwinski, Stochastic Processes and Filtering Theory, 1970, §8.4; from memory).
    """
    causes = sorted({cause for own in films.causes for cause in own if cause})
    pulls = np.zeros((here.pull.size, len(causes)))
    for d, own in enumerate(films.causes):
        off = films.entered(here.slopes[d], d)
        sides = len(here.slopes[d])
        for n, cause in enumerate(own):
            if cause:
                told = (here.spreads[d].counting @ off[:, n]).reshape(sides, 1, BANDS)
                part = trust[d] * (here.slopes[d] * told).sum(axis=0).reshape(-1)
                np.add.at(pulls[:, causes.index(cause)], films.places(d), part)
    return pulls


def _evidence(here: _Round, theta: Array, first: Array, bends: Bends) -> float:
    prior = bends.information()
    level = (theta - first).reshape(-1) / LEVEL
    flat = theta.reshape(-1)
    smooth = float(flat @ (prior @ flat) - (flat @ flat) / LEVEL**2)
    readings = sum(
        spread.logdet + float(miss @ spread.inverse @ miss)
        for spread, miss in zip(here.spreads, here.misses, strict=True)
    )
    curves = np.linalg.slogdet(here.information + prior)[1] - np.linalg.slogdet(prior)[1]
    return -0.5 * float(readings + smooth + level @ level + curves)
