"""The reading of a cup's content as a function of all unknowns, with exact slopes.

Contents are volumes of lots with an error for each pour; K and S are their sums; the film is dry and hides; the surface is that of θ. Slopes follow from
dR∞/dq = −R∞/√(q(q + 2)) with q = K/S, and from Saunderson's formula.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.pigments.film import Surface, opaque
from hidewright.refusals import Refusal

from .cup import BASE, Pour, Sight
from .lots import Stock

Array = NDArray[np.float64]


class CupModel:
    """Readings of a cup's content as a function of θ followed by its pours' errors."""

    def __init__(self, stock: Stock, pours: tuple[Pour, ...]) -> None:
        self.stock, self.pours = stock, pours
        self.numbers = [None if p.lot == BASE else stock.number(p.lot) for p in pours]
        self.error = np.array([np.hypot(stock.prior.weighing, 0.29 * p.resolution / p.grams) for p in pours])
        density = [stock.base.density if n is None else stock.lots[n].pigment.density for n in self.numbers]
        self.nominal = np.array([p.grams for p in pours]) / np.array(density)

    def millilitres(self, mean: Array) -> Array:
        """mL of each pour, its error included."""
        return np.asarray(
            self.nominal * np.exp(self.error * mean[self.stock.size : self.stock.size + len(self.pours)])
        )

    def at(self, mean: Array, after: int) -> tuple[Array, Array, NDArray[np.intp]]:
        """Reading (31,) after the first pours, its slopes (31, m) by the unknowns that matter, and where those stand (m,)."""
        stock = self.stock
        volume = self.millilitres(mean)
        used = sorted({n for n in self.numbers[:after] if n is not None})
        if not used:
            raise Refusal("There is no pigment in the cup yet.", where="cup")
        amount = {
            n: sum(float(v) for v, m in zip(volume[:after], self.numbers, strict=False) if m == n)
            for n in used
        }
        curves = {n: stock.curves_at(mean, n) for n in used}
        k = np.sum([amount[n] * curves[n][0] for n in used], axis=0)
        s = np.sum([amount[n] * curves[n][1] for n in used], axis=0)
        inside = opaque(k, s)
        q = k / s
        by_q = -inside / np.sqrt(q * (q + 2.0) + 1e-18)
        read, by_inside, by_surface = _through(
            inside, stock.surface_at(mean), stock.prior.surface_k1, stock.prior.surface_k2
        )
        by_k, by_s = by_inside * by_q / s, -by_inside * by_q * q / s
        blocks, places = [by_surface], [np.arange(2)]
        for n in used:
            own_k, own_s = curves[n]
            turned = by_k[:, None] * stock.slopes(n, own_k, scattering=False)
            turned = turned + by_s[:, None] * stock.slopes(n, own_s, scattering=True)
            blocks.append(amount[n] * turned)
            places.append(np.arange(stock.size)[stock.where(n)])
        for i, number in enumerate(self.numbers[:after]):
            if number is not None:
                own_k, own_s = curves[number]
                blocks.append(((by_k * own_k + by_s * own_s) * volume[i] * self.error[i])[:, None])
                places.append(np.array([stock.size + i]))
        return read, np.concatenate(blocks, axis=1), np.concatenate(places)


def _through(inside: Array, surface: Surface, sd_k1: float, sd_k2: float) -> tuple[Array, Array, Array]:
    """What is read of an internal reflectance, its slope by it (31,), and by the two surface unknowns (31, 2)."""
    k1, k2 = surface.k1, surface.k2
    under = 1.0 - k2 * inside
    core = (1.0 - k2) * inside / under
    read = (1.0 - k1) * core + (k1 if surface.specular else 0.0)
    by_inside = (1.0 - k1) * (1.0 - k2) / under**2
    by_k1 = (1.0 if surface.specular else 0.0) - core
    by_k2 = (1.0 - k1) * inside * (inside - 1.0) / under**2
    return read, by_inside, np.column_stack([sd_k1 * by_k1, sd_k2 * by_k2])


def stacked(model: CupModel, mean: Array, sights: Sequence[Sight], size: int) -> tuple[Array, Array]:
    """Forecasts of all sights in a row, (m,), and their slopes by all unknowns, (m, size)."""
    values, rows = [], []
    for sight in sights:
        read, slopes, where = model.at(mean, sight.after)
        told, turn = sight.of(read)
        row = np.zeros((told.size, size))
        row[:, where] = turn @ slopes
        values.append(told)
        rows.append(row)
    return np.concatenate(values), np.concatenate(rows)


def noise_of(stock: Stock, sights: Sequence[Sight], weights: Sequence[float]) -> Array:
    """Covariance of several readings in a row, each divided by its weight; what nothing explains is included."""
    total = sum(s.values.size for s in sights)
    noise = np.zeros((total, total))
    at = 0
    for sight, weight in zip(sights, weights, strict=True):
        end = at + sight.values.size
        floor = 0.0 if sight.is_colour else stock.prior.floor**2
        noise[at:end, at:end] = (sight.noise + floor * np.eye(sight.values.size)) / weight
        at = end
    return noise
