"""What a film of this composition differs from its forecast by, learned from the films that are there: on top of the physics, with a spread of its own.

The residual is y = ln q(read) − ln q(film), q = (1 − R)²/2R of the internal reflectance: what mixes add up in. It is smooth over the bands (`smooth_basis`), and each of its coefficients is a Gaussian process over
the composition, with one kernel exp(−|Δf|²/2ℓ² − (Δt)²/2m²): f the share of each pigment in what the film absorbs and scatters, t the logarithm of the whole amount. ℓ, m and the part that is not noise are those of a
small grid that the films find likeliest (C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.25-2.26 and 5.8). Far from every film the residual is nothing, and its spread is
that of the misfit as a whole.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.spectra import smooth_basis, within

from .drawdowns import Drawdown
from .film import Surface, below, film, k_over_s, seen
from .joint import Joint

Array = NDArray[np.float64]
LENGTH = 60.0
WIDTHS, AMOUNTS, PARTS = (0.1, 0.2, 0.4, 0.8), (0.4, 1.0, 3.0), (0.5, 2.0, 8.0, 32.0)
"""The grid: ℓ, m, and variance of the process over that of the noise (conventions of this tool)."""
BRIGHT, DARK = 0.995, 1e-3
NOISE = 0.004
"""Reflectance by which a reading and its film may differ at random, to weigh the bands by (convention of this tool)."""
FEWEST = 8
"""Films below which there is nothing to learn a residual from."""


def _lnq(read: Array, surface: Surface) -> Array:
    dark = (surface.k1 if surface.specular else 0.0) + 1e-4
    return np.log(k_over_s(np.clip(below(np.maximum(read, dark), surface), DARK, BRIGHT)))


def _read(lnq: Array, surface: Surface) -> Array:
    q = np.exp(lnq)
    return seen(1.0 / (1.0 + q + np.sqrt(q * (q + 2.0))), surface)


@dataclass(frozen=True, slots=True, eq=False)
class Residual:
    """The learned residual: films' features f (D, P) and t (D,), the kernel's `width`, `amount` and `part`, its Cholesky factor (D, D), weights (D, r), and each coefficient's noise variance (r,)."""

    joint: Joint
    shares: Array
    amounts: Array
    width: float
    amount: float
    part: float
    factor: Array
    weights: Array
    noise: Array

    @property
    def films(self) -> int:
        """From how many films it was learned."""
        return len(self.amounts)

    def at(self, shares: Mapping[str, float], microns: float) -> tuple[Array, Array]:
        """Of a film: ln q to add, (31,), and its covariance (31, 31)."""
        f, t = _features(self.joint, [shares], np.array([microns]))
        near = self.part * _kernel(f, t, self.shares, self.amounts, self.width, self.amount)[0]
        basis = smooth_basis(LENGTH)
        sure = np.linalg.solve(self.factor, near)
        left = max(self.part - float(sure @ sure), 0.0)
        return basis @ (near @ self.weights), (basis * (left * self.noise)) @ basis.T

    def read(self, shares: Mapping[str, float], microns: float, ground: Array) -> tuple[Array, Array]:
        """What an instrument reads of a film over a ground (31,) as it was read, and the covariance (31, 31) of that by the residual."""
        surface = self.joint.surface
        plain = seen(film(*self.joint.curves(shares), microns, below(ground, surface)), surface)
        more, spread = self.at(shares, microns)
        lnq = _lnq(plain, surface)
        here = _read(lnq + more, surface) + plain - _read(lnq, surface)
        slope = (_read(lnq + more + 1e-5, surface) - _read(lnq + more, surface)) / 1e-5
        return here, slope[:, None] * spread * slope[None, :]


def _features(joint: Joint, mixes: Sequence[Mapping[str, float]], microns: Array) -> tuple[Array, Array]:
    """Share of each pigment in what the film absorbs and scatters, mean over the bands, (n, P), and ln of the amount, (n,)."""
    c = np.array([[mix.get(key, 0.0) for key in joint.keys] for mix in mixes])
    own = c[:, :, None] * np.exp(joint.theta).sum(axis=1)[None]
    return (own / own.sum(axis=1, keepdims=True)).mean(axis=-1), np.log(c.sum(axis=1) * microns)


def _kernel(f: Array, t: Array, g: Array, u: Array, width: float, amount: float) -> Array:
    apart = ((f[:, None] - g[None]) ** 2).sum(axis=-1) / width**2
    return np.asarray(np.exp(-0.5 * (apart + (t[:, None] - u[None]) ** 2 / amount**2)))


def _coefficients(joint: Joint, drawdowns: Sequence[Drawdown]) -> Array:
    """Each film's residual in the smooth basis, (D, r): least squares with bands weighed by what their readings tell, mean of its grounds."""
    basis = smooth_basis(LENGTH)
    found = []
    for d in drawdowns:
        whole, pull = 4.0 * np.eye(basis.shape[1]), np.zeros(basis.shape[1])
        sides = (
            [(d.over_white, d.white)] if d.one_ground else [(d.over_black, d.black), (d.over_white, d.white)]
        )
        for read, card in sides:
            plain = seen(film(*joint.curves(d.shares), d.microns, below(card, joint.surface)), joint.surface)
            lnq = _lnq(plain, joint.surface)
            slope = np.abs(_read(lnq + 1e-5, joint.surface) - _read(lnq, joint.surface)) / 1e-5
            weight = np.minimum((slope / NOISE) ** 2, 2500.0)
            whole += basis.T @ (basis * weight[:, None])
            pull += basis.T @ (weight * (_lnq(read, joint.surface) - lnq))
        found.append(np.linalg.solve(whole, pull))
    return np.array(found)


def residual_of(joint: Joint, drawdowns: Sequence[Drawdown]) -> Residual | None:
    """The residual that these films teach; None where there are fewer than `FEWEST`."""
    if len(drawdowns) < FEWEST:
        return None
    z = _coefficients(joint, drawdowns)
    f, t = _features(joint, [d.shares for d in drawdowns], np.array([d.microns for d in drawdowns]))
    best: tuple[float, Residual] | None = None
    for width, amount, part in itertools.product(WIDTHS, AMOUNTS, PARTS):
        whole = part * _kernel(f, t, f, t, width, amount) + np.eye(len(f))
        factor: Array = np.asarray(np.linalg.cholesky(whole), dtype=float)
        half = np.linalg.solve(factor, z)
        noise = (half**2).mean(axis=0) + 1e-12
        likely = -0.5 * len(f) * float(np.log(noise).sum()) - z.shape[1] * float(
            np.log(np.diag(factor)).sum()
        )
        if best is None or likely > best[0]:
            weights = np.linalg.solve(factor.T, half)
            best = (likely, Residual(joint, f, t, width, amount, part, factor, weights, noise))
    assert best is not None
    return best[1]


@dataclass(frozen=True, slots=True)
class HeldBack:
    """A film that the residual was not learned from: its shares, and ΔE00 (D65) of its reading over each ground without the residual (`off`) and with it (`on`)."""

    shares: Mapping[str, float]
    off: tuple[float, ...]
    on: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Gain:
    """What the residual would gain: ΔE00 on average (D65, all grounds) of films that it was not learned from, without it (`off`) and with it (`on`), and how many `films` there are.

    K and S are those of all films, both times.
    """

    films: int
    off: float
    on: float


def held_back(joint: Joint, drawdowns: Sequence[Drawdown], parts: int = 5) -> tuple[HeldBack, ...]:
    """Learn the residual from four fifths of the films (`parts` 2 to 20) and try it on the rest, in turn; nothing where there are too few films."""
    within(parts, 2, 20, "A number of parts", "films")
    if len(drawdowns) < FEWEST + parts:
        return ()
    tried = []
    for part in range(parts):
        rest = residual_of(joint, [d for i, d in enumerate(drawdowns) if i % parts != part])
        if rest is not None:
            tried += [_tried(rest, one) for one in drawdowns[part::parts]]
    return tuple(tried)


def _tried(rest: Residual, one: Drawdown) -> HeldBack:
    surface = rest.joint.surface
    sides = ((one.over_black, one.black), (one.over_white, one.white))
    off, on = [], []
    for read, ground in sides[1:] if one.one_ground else sides:
        plain = seen(film(*rest.joint.curves(one.shares), one.microns, below(ground, surface)), surface)
        off.append(float(delta_e00(lab(read), lab(plain))))
        on.append(float(delta_e00(lab(read), lab(rest.read(one.shares, one.microns, ground)[0]))))
    return HeldBack(one.shares, tuple(off), tuple(on))


def gain_of(tried: Sequence[HeldBack], key: str = "") -> Gain | None:
    """What the residual would gain on films held back; only those that hold `key` are counted, if one is named. None where there are none."""
    counted = [one for one in tried if not key or key in one.shares]
    if not counted:
        return None
    off = float(np.mean([each for one in counted for each in one.off]))
    on = float(np.mean([each for one in counted for each in one.on]))
    return Gain(len(tried), off, on)
