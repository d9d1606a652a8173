"""One joint Gaussian estimate a job: bottles, target, the person's eye, and what only this job has.

Unknowns, all in units of their prior sd: those of the stock (`learning.lots`), the eye's ln gain, the milk of the base, the camera's ln gain and offset, an offset of what is compared
wet, an offset that all cups of the job share, the Lab of every swatch (the target among them), and the error of every pour. Gauss-Newton over all looks of the job (`looks`), with exact slopes and limited steps (B. M. Bell, F. W. Cathey, IEEE
Trans. Autom. Control 38 (1993) 294), in the form that solves for the looks, not for the unknowns (A. Tarantola, Inverse Problem Theory, 2005, eq. 3.51). A look that is far from what all
others say counts less (P. J. Huber, Ann. Math. Stat. 35 (1964) 73).
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cup import Cup
from hidewright.colour.learning.cupmodel import CupModel
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.wet import Milk

from .colours import Palette
from .looks import Layout, Looks, Rows, amounts_of, film_root
from .memory import EYE, Memory
from .things import Job

Array = NDArray[np.float64]
HUBER = 2.0
"""Residual in sd from which a look counts less."""
STEP = 1.5
"""The furthest that any unknown goes in one round, in units of its prior sd."""
ROUNDS, TRUSTING = 8, 2
"""Rounds at most, and those in which every look counts in full."""


@dataclass(frozen=True, slots=True, eq=False)
class Estimate:
    """What a job tells: mean and covariance of all unknowns. `closed` gives the memory after it."""

    job: Job
    memory: Memory
    layout: Layout
    mean: Array
    covariance: Array
    palette: Palette = field(repr=False)

    def swatch(self, name: str) -> Array:
        """Lab (3,) of a swatch, as now believed."""
        one = self.job.swatches[name]
        return np.asarray(one.lab + np.linalg.cholesky(one.covariance) @ self.mean[self.layout.swatch(name)])

    @property
    def target(self) -> Array:
        """Lab (3,) of the target, as now believed."""
        return self.swatch(self.job.target)

    @property
    def target_covariance(self) -> Array:
        """Covariance (3, 3) of the target's Lab."""
        turn = self.target_slopes()
        return np.asarray(turn @ self.covariance @ turn.T)

    @property
    def target_spread(self) -> float:
        """Root mean square ΔE00 of the target's truth from its estimate."""
        m = metric(self.target)
        return float(np.sqrt(np.trace(m @ self.target_covariance @ m.T)))

    @property
    def eye(self) -> tuple[float, float]:
        """How many times as large a difference looks to this person as usual, and the relative sd of that."""
        return self.closed().eye

    @property
    def knowledge(self) -> Knowledge:
        """What is known of the bottles with this job's looks taken in."""
        return self.closed().knowledge

    def closed(self) -> Memory:
        """What stays after the job: bottles and eye; targets, offsets and pours are summed out."""
        kept = self.layout.theta + EYE
        return self.memory.after(self.mean[:kept], self.covariance[:kept, :kept], len(self.job.comparisons))

    @property
    def film(self) -> Array:
        """ΔLab (3,) by which every cup of the job is believed to differ from its bottles' forecast."""
        return np.asarray(self._film_root @ self.mean[self.layout.film])

    @property
    def _film_root(self) -> Array:
        return film_root(self.job, self.memory.knowledge.stock)

    def amounts(self, cup: Cup) -> tuple[Array, float]:
        """mL by lot (lots,) and mL of base, now believed to be in a cup."""
        held = self._held(cup)
        return held[0], held[1]

    def _held(self, cup: Cup) -> tuple[Array, float, Array]:
        model = CupModel(self.memory.knowledge.stock, cup.pours)
        return amounts_of(model, self.mean[self.layout.pour(cup.name)], len(cup.pours))

    def slopes_of(self, cup: Cup | None, amounts: Array) -> tuple[Array, Array]:
        """Lab (m, 3) of mixes (m, lots), poured onto what is in the cup, and their slopes (m, 3, unknowns) by everything; new pours' own errors are left out."""
        looks = self.palette.slopes(amounts)
        out = np.zeros((len(amounts), 3, self.layout.size))
        out[:, :, : self.layout.theta] = looks.by_theta
        out[:, :, self.layout.film] = self._film_root
        if cup is not None:
            out[:, :, self.layout.pour(cup.name)] = looks.by_amount @ self._held(cup)[2].T
        return looks.labs + self.film, out

    def target_slopes(self) -> Array:
        """Slopes (3, unknowns) of the target's Lab."""
        out = np.zeros((3, self.layout.size))
        root = np.linalg.cholesky(self.job.swatches[self.job.target].covariance)
        out[:, self.layout.swatch(self.job.target)] = root
        return out

    def off(self, cup: Cup) -> tuple[Array, Array]:
        """The cup against the target through the local metric there: a difference (3,) in ΔE00 and its covariance (3, 3); what both have in common cancels."""
        labs, slopes = self.slopes_of(cup, self.amounts(cup)[0][None])
        m = metric(self.target)
        turn = m @ (slopes[0] - self.target_slopes())
        return m @ (labs[0] - self.target), np.asarray(turn @ self.covariance @ turn.T)


def estimate(job: Job, memory: Memory, milk: Milk | None = None) -> Estimate:
    """The joint estimate of a job on top of what the shop remembers; `milk` is that of its base."""
    stock = memory.knowledge.stock
    looks = Looks(job, stock, milk or Milk())
    start, prior = _prior(memory, looks.layout)
    mean, covariance = _solved(looks, start, prior) if looks.any else (start, prior)
    return Estimate(job, memory, looks.layout, mean, covariance, Palette(stock, mean[: stock.size]))


def _prior(memory: Memory, layout: Layout) -> tuple[Array, Array]:
    mean, covariance = np.zeros(layout.size), np.eye(layout.size)
    kept = layout.theta + EYE
    mean[:kept], covariance[:kept, :kept] = memory.mean, memory.covariance
    return mean, covariance


def _solved(looks: Looks, start: Array, prior: Array) -> tuple[Array, Array]:
    mean = start
    open_words = _Open()
    for turn in range(ROUNDS):
        rows = looks.at(mean)
        values, noise = open_words.taken(rows)
        if turn >= TRUSTING:
            noise = _trusted(noise, values - rows.forecasts)
        spread = prior @ rows.slopes.T
        whole = rows.slopes @ spread
        pull = np.linalg.solve(whole + noise, values - rows.forecasts - rows.slopes @ (start - mean))
        step = start + spread @ pull - mean
        far = float(np.abs(step).max())
        step *= min(1.0, STEP / max(far, 1e-12))
        mean = mean + step
        moved = open_words.learn(rows, rows.forecasts + rows.slopes @ step, whole, noise)
        if far < 2e-2 and moved < 0.05 and turn >= TRUSTING:
            break
    rows = looks.at(mean)
    values, noise = open_words.taken(rows)
    noise = _trusted(noise, values - rows.forecasts)
    spread = prior @ rows.slopes.T
    covariance = prior - spread @ np.linalg.solve(rows.slopes @ spread + noise, spread.T)
    return mean, 0.5 * (covariance + covariance.T)


class _Open:
    """Words that are open upward, as Gaussians that have the same mean and spread as "at least so much" has beside all else that is known.

    Expectation propagation (T. P. Minka, UAI 2001, for the probit; C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 3.58).
    """

    def __init__(self) -> None:
        self.value: Array | None = None
        self.variance = np.zeros(0)

    def taken(self, rows: Rows) -> tuple[Array, Array]:
        """Values and noise with the Gaussians in place."""
        which = ~np.isnan(rows.least[:, 0])
        if self.value is None:
            self.value, self.variance = rows.values[which], np.diag(rows.noise)[which].copy()
        values, noise = rows.values.copy(), rows.noise.copy()
        values[which] = self.value
        noise[which] = 0.0
        noise[:, which] = 0.0
        noise[which, which] = self.variance
        return values, noise

    def learn(self, rows: Rows, forecasts: Array, whole: Array, noise: Array) -> float:
        """New Gaussians by what is believed now: `forecasts` (n,) and the prior covariance `whole` (n, n) of all rows; returns how far they moved."""
        which = np.flatnonzero(~np.isnan(rows.least[:, 0]))
        if not which.size or self.value is None:
            return 0.0
        now = np.diag(whole - whole @ np.linalg.solve(whole + noise, whole))[which]
        sign = np.sign(rows.values[which])
        least, sd = rows.least[which].T
        # without its own word: the cavity
        precision = np.maximum(1.0 / now - 1.0 / self.variance, 1e-4)
        mean = sign * (forecasts[which] / now - self.value / self.variance) / precision
        variance = 1.0 / precision
        scale = np.sqrt(variance + sd**2)
        a = np.clip((mean - least) / scale, -8.0, 8.0)
        ratio = np.exp(-0.5 * a * a) / np.sqrt(2 * np.pi) / np.maximum(0.5 * _erfc(-a / np.sqrt(2.0)), 1e-300)
        new = mean + variance * ratio / scale
        spread = variance - variance**2 * ratio * (a + ratio) / scale**2
        own = 1.0 / np.maximum(1.0 / spread - precision, 1e-4)
        value = own * (new / spread - mean * precision)
        moved = float(np.abs(sign * value - self.value).max())
        self.value = 0.5 * self.value + 0.5 * sign * value
        self.variance = 0.5 * self.variance + 0.5 * own
        return moved


def _erfc(values: Array) -> Array:
    from scipy.special import erfc

    return np.asarray(erfc(values))


def _trusted(noise: Array, off: Array) -> Array:
    """Noise in which looks that are far off count less (Huber's weights)."""
    times = np.abs(off) / np.sqrt(np.diag(noise))
    more = np.sqrt(np.maximum(times / HUBER, 1.0))
    return np.asarray(noise * np.outer(more, more))
