"""The engine under the match: many small sets of pigments solved side by side.

A set's unknowns are z, logarithms of dispersion volumes relative to one another (so that none is ever negative). Residuals are colour
differences whose squares sum to ΔE00²: first through CIEDE2000's local metric at the target, then exactly (Sharma 2005, eq. 22 written as a
sum of three squares). Each set has its own Levenberg-Marquardt damping. The worst of several lights is approached by C. L. Lawson's
reweighting (as in J. R. Rice, The Approximation of Functions 2, 1969, §13-6) and ended by SciPy's SLSQP on the few best.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike, delta_e00, lab, weights, white
from hidewright.colour.light.difference import parts_e00
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.film import Surface, film
from hidewright.colour.pigments.pigment import Base, Pigment

Array = NDArray[np.float64]


_KAPPA, _EPSILON = 24389 / 27, 216 / 24389


HOLD = 30.0
"""ΔE00 that using e times more of a thing than there is counts as, so that the search stays within what is there."""


PULL = 0.2
"""ΔE00 that using e times less of a leftover than there is counts as, where it is to be used up: too little to spoil the colour."""


_TO_LAB = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """The target under several lights at once: `table` (31, 3L), `whites` (3L,), `targets` (L, 3), local metrics (L, 3, 3)."""

    table: Array
    whites: Array
    targets: Array
    metrics: Array

    @classmethod
    def of(cls, target: Array, lights: Sequence[LightLike]) -> "View":
        """The view of a target spectrum (31,) under the lights."""
        labs = np.array([lab(target, light) for light in lights])
        return cls(
            np.concatenate([weights(light) for light in lights], axis=1),
            np.concatenate([white(light) for light in lights]),
            labs,
            np.array([metric(one) for one in labs]),
        )

    def colours(self, read: Array) -> tuple[Array, Array]:
        """Lab (n, L, 3) of readings (n, 31), and its derivative by XYZ as the factor (n, 3L) before `_TO_LAB`."""
        t = (read @ self.table) / self.whites
        bright = t > _EPSILON
        root = np.cbrt(np.maximum(t, 1e-12))
        f = np.where(bright, root, (_KAPPA * t + 16) / 116)
        slope = np.where(bright, 1 / (3 * root * root), _KAPPA / 116) / self.whites
        labs = f.reshape(len(read), -1, 3) @ _TO_LAB.T
        labs[..., 0] -= 16.0
        return labs, slope


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """What the mix is laid out as: opaque (`ground` None), or `microns` of dry film over an internal ground (31,) at a pigment load."""

    surface: Surface = field(default_factory=Surface)
    base: Base = field(default_factory=Base)
    ground: Array | None = None
    microns: float = 0.0
    load: float = 0.18


class Batch:
    """All sets of one size: `k`, `s` have shape (n, p, 31). `caps` (n, p), if set, is the most of the mix's volume (0..1) that each may be; `leftover` (n, p) is 1 where it should be used up."""

    def __init__(self, pigments: Sequence[Sequence[Pigment]], view: View, sheet: Sheet) -> None:
        index = {id(p): i for i, p in enumerate(dict.fromkeys(p for row in pigments for p in row))}
        every = list(dict.fromkeys(p for row in pigments for p in row))
        which = np.array([[index[id(p)] for p in row] for row in pigments])
        self.k, self.s = np.array([p.k for p in every])[which], np.array([p.s for p in every])[which]
        self.solids = np.array([p.solids for p in every])[which]
        self.load = np.array([p.load for p in every])[which]
        self.view, self.sheet = view, sheet
        self.lights = len(view.targets)
        self.importance = np.ones((len(which), self.lights))
        self.caps: Array | None = None
        self.leftover = np.zeros(which.shape)

    def taken(self, rows: NDArray[np.intp]) -> "Batch":
        """A batch of only these rows (indices), with importances of one."""
        part = object.__new__(Batch)
        part.view, part.sheet, part.lights = self.view, self.sheet, self.lights
        part.k, part.s, part.solids, part.load = (
            self.k[rows],
            self.s[rows],
            self.solids[rows],
            self.load[rows],
        )
        part.importance = np.ones((len(rows), self.lights))
        part.caps = None if self.caps is None else self.caps[rows]
        part.leftover = self.leftover[rows]
        return part

    def too_much(self, z: Array, slopes: bool = False) -> tuple[Array, Array]:
        """ln of how many times more of each is used than there is, (n, p), below 0 where it is enough; and if asked for its slopes by z (n, p, p)."""
        assert self.caps is not None
        v = np.exp(z)
        wide, full = (v * self.load).sum(axis=1) / self.sheet.load, v.sum(axis=1)
        over = z - np.log(np.maximum(wide, full))[:, None] - np.log(self.caps)
        if not slopes:
            return over, over
        share = np.where((wide >= full)[:, None], v * self.load / self.sheet.load, v)
        share = share / np.maximum(wide, full)[:, None]
        return over, np.eye(z.shape[1]) - share[:, None, :]

    def excess(self, z: Array) -> Array:
        """What using more than there is counts as, in ΔE00 (n,); 0 where everything is enough."""
        if self.caps is None:
            return np.zeros(len(z))
        return HOLD * np.sqrt((np.maximum(self.too_much(z)[0], 0.0) ** 2).sum(axis=1))

    def shares(self, z: Array) -> Array:
        """c (n, p): dispersion volume per unit of dry film at the sheet's load."""
        v = np.exp(z)
        volumes = v * (self.sheet.load / (v * self.load).sum(axis=1, keepdims=True))
        left = np.maximum(1.0 - volumes.sum(axis=1, keepdims=True), 0.0)
        dry = (volumes * self.solids).sum(axis=1, keepdims=True) + left * self.sheet.base.solids
        return np.asarray(volumes / dry)

    def reading(self, z: Array) -> Array:
        """What an instrument reads, (n, 31)."""
        return self._film(z)[0]

    def _film(self, z: Array, slopes: bool = False) -> tuple[Array, Array]:
        """Readings (n, 31) and, if asked for, their slopes by z (n, p, 31)."""
        surface = self.sheet.surface
        if self.sheet.ground is None:
            inside, slope = self._opaque(z, slopes)
        else:
            inside, slope = self._over(z, slopes)
        through = 1.0 - surface.k2 * inside
        gain = (1.0 - surface.k1) * (1.0 - surface.k2)
        read = gain * inside / through + (surface.k1 if surface.specular else 0.0)
        if slopes:
            slope *= (gain / (through * through))[:, None, :]
        return read, slope

    def _opaque(self, z: Array, slopes: bool) -> tuple[Array, Array]:
        v = np.exp(z - z.max(axis=1, keepdims=True))
        k = (v[:, None, :] @ self.k)[:, 0]
        s = (v[:, None, :] @ self.s)[:, 0] + 1e-12
        q = k / s
        root = np.sqrt(q * (q + 2.0))
        inside = 1.0 / (1.0 + q + root)
        if not slopes:
            return inside, inside
        turn = (-inside / (np.maximum(root, 1e-12) * s))[:, None, :]
        return inside, (self.k - q[:, None, :] * self.s) * turn * v[..., None]

    def _over(self, z: Array, slopes: bool) -> tuple[Array, Array]:
        assert self.sheet.ground is not None
        c = self.shares(z)
        k, s = (c[:, None, :] @ self.k)[:, 0], (c[:, None, :] @ self.s)[:, 0]
        x, ground = self.sheet.microns, self.sheet.ground
        inside = film(k, s, x, ground)
        if not slopes:
            return inside, inside
        step_k, step_s = 1e-6 * (k + 1e-6), 1e-6 * (s + 1e-6)
        by_k = (film(k + step_k, s, x, ground) - inside) / step_k
        by_s = (film(k, s + step_s, x, ground) - inside) / step_s
        turn = np.stack([(self.shares(z + 1e-6 * e) - c) / 1e-6 for e in np.eye(z.shape[1])], axis=1)
        return inside, (turn @ self.k) * by_k[:, None] + (turn @ self.s) * by_s[:, None]

    def _differences(self, labs: Array, exact: bool) -> Array:
        if exact:
            parts = parts_e00(labs, self.view.targets)
        else:
            parts = np.einsum("lij,nlj->nli", self.view.metrics, labs - self.view.targets)
        return (parts * np.sqrt(self.importance)[..., None]).reshape(len(labs), -1)

    def linearised(self, z: Array, exact: bool) -> tuple[Array, Array]:
        """Residuals (n, 3L), weighted by the root of each light's importance, and their slopes by z (n, 3L, p); with `caps` also what is too much (n, p)."""
        read, slope = self._film(z, True)
        labs, factor = self.view.colours(read)
        n, p = z.shape
        by_z = (slope.reshape(n * p, -1) @ self.view.table).reshape(n, p, -1) * factor[:, None, :]
        by_z = by_z.reshape(n, p, self.lights, 3) @ _TO_LAB.T
        miss = self._differences(labs, exact)
        if exact:
            scale = np.sqrt(self.importance)[..., None]
            here = parts_e00(labs, self.view.targets)
            turns = [(parts_e00(labs + 1e-5 * e, self.view.targets) - here) / 1e-5 * scale for e in np.eye(3)]
            turn = np.stack(turns, axis=-1)
        else:
            turn = self.view.metrics * np.sqrt(self.importance)[..., None, None]
        jac = np.einsum("nlij,nplj->nlip", turn, by_z).reshape(n, -1, p)
        if self.caps is None:
            return miss, jac
        over, turned = self.too_much(z, True)
        stiff = np.where(over > 0.0, HOLD, PULL * self.leftover)
        over = np.where(stiff > 0.0, over, 0.0)
        return np.concatenate([miss, stiff * over], axis=1), np.concatenate(
            [jac, stiff[..., None] * turned], axis=1
        )

    def solve(self, z: Array, rounds: int, exact: bool = False) -> tuple[Array, Array]:
        """Levenberg-Marquardt from z (n, p); returns z and the sums of squares (n,)."""
        damp = np.full(len(z), 1e-3)
        miss, jac = self.linearised(z, exact)
        cost = (miss * miss).sum(axis=1)
        eye = np.eye(z.shape[1])
        for _ in range(rounds):
            turned = np.swapaxes(jac, 1, 2)
            normal = turned @ jac
            gradient = (turned @ miss[..., None])[..., 0]
            level = np.einsum("nii->n", normal)[:, None, None] + 1e-6
            step = np.linalg.solve(normal + (damp[:, None, None] * level) * eye, gradient[..., None])[..., 0]
            trial = np.clip(z - np.clip(step, -1.5, 1.5), -12.0, 12.0)
            trial -= trial.max(axis=1, keepdims=True)
            trial = np.maximum(trial, -12.0)
            new_miss, new_jac = self.linearised(trial, exact)
            new = (new_miss * new_miss).sum(axis=1)
            better = new < cost
            z = np.where(better[:, None], trial, z)
            miss = np.where(better[:, None], new_miss, miss)
            jac = np.where(better[:, None, None], new_jac, jac)
            cost = np.where(better, new, cost)
            damp = np.clip(np.where(better, damp * 0.2, damp * 6), 1e-8, 1e4)
            if not better.any() and damp.min() > 1.0:
                break
        return z, cost

    def differences(self, z: Array) -> Array:
        """ΔE00 under each light, (n, L)."""
        labs, _ = self.view.colours(self.reading(z))
        return delta_e00(labs, self.view.targets)

    def solve_worst(self, z: Array, rounds: int = 8) -> Array:
        """Toward the least of the worst light: importances grow with each light's difference (Lawson)."""
        if self.lights == 1:
            return self.solve(z, 8, exact=True)[0]
        best, least = z, self.differences(z).max(axis=1) + self.excess(z)
        self.importance = np.full_like(self.importance, 1.0 / self.lights)
        for _ in range(rounds):
            z, _ = self.solve(z, 2, exact=True)
            off = self.differences(z)
            worst = off.max(axis=1) + self.excess(z)
            better = worst < least
            best = np.where(better[:, None], z, best)
            least = np.where(better, worst, least)
            self.importance = self.importance * (off + 1e-9)
            self.importance /= self.importance.sum(axis=1, keepdims=True)
            self.importance = np.maximum(self.importance, 1e-4)
        self.importance = np.ones_like(self.importance)
        return np.asarray(best)


def polished(batch: Batch, z: Array, rounds: int = 15) -> Array:
    """One set (a batch of one row) ended by SLSQP: least t with ΔE00 under every light at most t, and no more used than there is. Returns z (p,)."""
    from scipy.optimize import minimize

    start = np.append(z, batch.differences(z[None])[0].max())
    eye = np.eye(len(z))

    def room(x: Array) -> Array:
        return x[-1] - batch.differences(x[None, :-1])[0]

    wide = Batch.taken(batch, np.zeros(len(z) + 1, dtype=int))

    def slope(x: Array) -> Array:
        off = wide.differences(np.vstack([x[None, :-1], x[None, :-1] + 1e-6 * eye]))
        return np.column_stack([-(off[1:] - off[0]).T / 1e-6, np.ones(batch.lights)])

    along = np.append(np.zeros(len(z)), 1.0)

    def enough(x: Array) -> Array:
        return -batch.too_much(x[None, :-1])[0][0]

    def tighter(x: Array) -> Array:
        return np.column_stack([-batch.too_much(x[None, :-1], True)[1][0], np.zeros(len(z))])

    rules = [{"type": "ineq", "fun": room, "jac": slope}]
    if batch.caps is not None:
        rules.append({"type": "ineq", "fun": enough, "jac": tighter})

    def height(x: Array) -> float:
        return float(x[-1])

    def upward(_x: Array) -> Array:
        return along

    found = minimize(  # type: ignore[call-overload]
        height,
        start,
        jac=upward,
        method="SLSQP",
        bounds=[*[(-14.0, 14.0)] * len(z), (0.0, 1000.0)],
        constraints=rules,
        options={"maxiter": rounds, "ftol": 1e-5},
    )
    end = found.x[None, :-1]
    better = batch.differences(end).max() + batch.excess(end)[0] < start[-1] + batch.excess(z[None])[0]
    return np.asarray(end[0]) if better else z
