"""Colours of many mixes at once, with exact slopes by everything unknown: the engine under the joint estimate and the next pours.

The same physics as `learning.cupmodel`, one mix a row: K and S are sums over lots, the film is dry and hides, the surface is that of θ. Slopes follow from
dR∞/dq = −R∞/√(q(q + 2)) with q = K/S, from Saunderson's formula, and from CIELAB's cube roots.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.lots import Stock
from hidewright.colour.light.cie import LightLike, weights, white
from hidewright.colour.pigments.film import LEAST, Surface, opaque
from hidewright.colour.pigments.wet import WET_SURFACE, Milk

Array = NDArray[np.float64]
_KAPPA, _EPSILON = 24389 / 27, 216 / 24389
USUAL_BASE = 0.83
"""Share of base in what a wet cup is held against, where that is not known: the load window's middle, near enough."""
_TO_LAB = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])


def lab_and_slopes(read: Array, light: LightLike = "D65") -> tuple[Array, Array]:
    """Lab (m, 3) of readings (m, 31), and its slopes by them (m, 3, 31)."""
    table, point = weights(light), white(light)
    t = (read @ table) / point
    bright = t > _EPSILON
    root = np.cbrt(np.maximum(t, 1e-12))
    labs = np.where(bright, root, (_KAPPA * t + 16) / 116) @ _TO_LAB.T
    labs[:, 0] -= 16.0
    slope = np.where(bright, 1 / (3 * root * root), _KAPPA / 116) / point
    return labs, (_TO_LAB[None] * slope[:, None, :]) @ table.T


def _through(inside: Array, surface: Surface) -> tuple[Array, Array]:
    """What is read of internal reflectances, and its slope by them."""
    under = 1.0 - surface.k2 * inside
    gain = (1.0 - surface.k1) * (1.0 - surface.k2)
    return gain * inside / under + (surface.k1 if surface.specular else 0.0), gain / under**2


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Colours and what they hang on: `labs` (m, 3), `by_theta` (m, 3, unknowns of the stock), `by_amount` (m, 3, lots) a mL."""

    labs: Array
    by_theta: Array
    by_amount: Array


class Palette:
    """The stock's lots as they look at θ: `k`, `s` (lots, 31)."""

    def __init__(self, stock: Stock, theta: Array, light: LightLike = "D65") -> None:
        self.stock, self.light = stock, light
        self.surface = stock.surface_at(theta)
        curves = [stock.curves_at(theta, number) for number in range(len(stock.lots))]
        self.k = np.array([k for k, _ in curves])
        self.s = np.array([s for _, s in curves])
        self.spread = np.array([stock.spread_of(number) for number in range(len(stock.lots))])

    def readings(self, amounts: Array) -> Array:
        """What is read, (m, 31), of mixes (m, lots) in mL."""
        return _through(opaque(amounts @ self.k, amounts @ self.s), self.surface)[0]

    def labs(self, amounts: Array) -> Array:
        """Lab (m, 3) of mixes (m, lots) in mL."""
        return lab_and_slopes(self.readings(amounts), self.light)[0]

    def _turned(self, amounts: Array) -> tuple[Array, Array, Array, Array, Array]:
        """Lab, its slopes by K and by S (m, 3, 31), by the reading (m, 3, 31), and the internal reflectance (m, 31)."""
        k, s = amounts @ self.k, np.maximum(amounts @ self.s, LEAST)
        inside = opaque(k, s)
        q = k / s
        by_q = -inside / np.sqrt(q * (q + 2.0) + 1e-18)
        read, by_inside = _through(inside, self.surface)
        labs, turn = lab_and_slopes(read, self.light)
        along = turn * (by_inside * by_q / s)[:, None, :]
        return labs, along, -along * q[:, None, :], turn, inside

    def by_amount(self, amounts: Array) -> tuple[Array, Array]:
        """Lab (m, 3) and its slopes by each lot's mL (m, 3, lots)."""
        labs, by_k, by_s, _, _ = self._turned(amounts)
        return labs, by_k @ self.k.T + by_s @ self.s.T

    def slopes(self, amounts: Array) -> Slopes:
        """Colours with their slopes by every unknown of the stock and by every amount."""
        labs, by_k, by_s, turn, inside = self._turned(amounts)
        stock, count = self.stock, len(amounts)
        out = np.zeros((count, 3, stock.size))
        out[:, :, :2] = self._by_surface(turn, inside)
        basis = stock.basis
        rank = basis.shape[1]
        own_k = by_k[:, :, None, :] * self.k[None, None]
        own_s = by_s[:, :, None, :] * self.s[None, None]
        per_mL = own_k.sum(axis=-1) + own_s.sum(axis=-1)
        block = np.concatenate(
            [
                (per_mL * self.spread[:, 0])[..., None],
                (own_k @ basis) * self.spread[:, 1, None],
                (own_s @ basis) * self.spread[:, 1, None],
            ],
            axis=-1,
        )
        block *= amounts[:, None, :, None]
        out[:, :, 2:] = block.reshape(count, 3, len(self.k) * (1 + 2 * rank))
        return Slopes(labs, out, per_mL)

    def _by_surface(self, turn: Array, inside: Array) -> Array:
        """Slopes of Lab by the two unknowns of the surface, (m, 3, 2)."""
        k1, k2 = self.surface.k1, self.surface.k2
        under = 1.0 - k2 * inside
        by_k1 = (1.0 if self.surface.specular else 0.0) - (1.0 - k2) * inside / under
        by_k2 = (1.0 - k1) * inside * (inside - 1.0) / under**2
        prior = self.stock.prior
        both = np.stack([prior.surface_k1 * by_k1, prior.surface_k2 * by_k2], axis=-1)
        return turn @ both

    def wet(self, amounts: Array, base_ml: Array, milk: Milk) -> tuple[Array, Array]:
        """How mixes (m, lots) with so much base show while wet against something of the base share `USUAL_BASE`: gain (m, 3, 3) and shift of Lab (m, 3).

        The gain is by how much a small difference ΔLab between dry mixes shows when both are wet with the same milk; that difference is taken to be one of ln K, spread over
        the bands like the light's own three weights. The shift is what a base share of its own makes.
        """
        k, s = amounts @ self.k, np.maximum(amounts @ self.s, LEAST)
        cloud = milk.scattering(1.0)[None]
        whole = amounts.sum(axis=1) / (1.0 - USUAL_BASE)
        parts, labs = [], []
        for scatter, surface in (
            (s, self.surface),
            (s + cloud * base_ml[:, None], WET_SURFACE),
            (s + cloud * (USUAL_BASE * whole)[:, None], WET_SURFACE),
        ):
            inside = opaque(k, scatter)
            q = k / scatter
            read, by_inside = _through(inside, surface)
            colour, turn = lab_and_slopes(read, self.light)
            labs.append(colour)
            parts.append(turn * (by_inside * inside * q / np.sqrt(q * (q + 2.0) + 1e-18))[:, None, :])
        shape = weights(self.light) / white(self.light)
        gain = (parts[2] @ shape) @ np.linalg.inv(parts[0] @ shape)
        return np.asarray(gain), np.asarray(labs[1] - labs[2])
