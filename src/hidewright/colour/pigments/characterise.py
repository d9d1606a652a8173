"""What each dispersion absorbs and scatters, found from drawdowns: one pigment after the other, then all together (`joint`)."""

from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, delta_e00, lab
from hidewright.refusals import Refusal

from .drawdowns import Drawdown, Fit
from .film import Surface, below, film, seen
from .joint import Joint, together
from .pigment import Pigment, mixed

Array = NDArray[np.float64]


def characterise(
    key: str, drawdowns: Sequence[Drawdown], known: Mapping[str, Pigment], surface: Surface | None = None
) -> Fit:
    """Find k and s of one pigment from drawdowns in which every other pigment is known.

    Least squares per band in ln k and ln s (so that both stay positive), from several starts, weighted by the instrument's noise
    (sd 0.0015), a weighing error of 0.5 % and what else is not sure of how the film was entered. Refuses when no drawdown holds the pigment or another one is unknown.
    """
    surface = surface or Surface()
    holding = [d for d in drawdowns if key in d.shares]
    if not holding:
        raise Refusal(
            f"No drawdown holds the pigment {key}.",
            where=key,
            remedy="Bring its masstone over black and white.",
        )
    used = [d for d in holding if all(other in known for other in d.shares if other != key)]
    if not used:
        others = sorted({o for d in holding for o in d.shares if o != key and o not in known})
        raise Refusal(
            f"Every drawdown of {key} also holds pigments that are not known yet: {', '.join(others)}.",
            where=key,
            remedy="Bring its masstone, or drawdowns of the others first.",
        )
    problem = _Problem(key, used, known, surface)
    theta = problem.solve(problem.best_start(), rounds=40)[0]
    k, s = np.exp(theta[0]), np.exp(theta[1])
    k_sd, s_sd = problem.spread(theta)
    return Fit(k, s, k_sd, s_sd, problem.misfit(theta))


def characterise_all(
    drawdowns: Sequence[Drawdown],
    surface: Surface | None = None,
    on_progress: Callable[[float, str], None] | None = None,
) -> dict[str, Fit]:
    """Find k and s of every pigment in the drawdowns, those that were drawn alone first, then all together (`joint`).

    Refuses when one cannot be told apart.
    """
    return settled(drawdowns, surface, on_progress).fits(drawdowns)


def settled(
    drawdowns: Sequence[Drawdown],
    surface: Surface | None = None,
    on_progress: Callable[[float, str], None] | None = None,
) -> Joint:
    """The same as one joint answer, with its covariance, its scales of misfit and its evidence."""
    say = on_progress or (lambda fraction, text: None)
    keys = list(dict.fromkeys(key for d in drawdowns for key in d.shares))
    if not keys:
        raise Refusal("There is no drawdown.", where="drawdowns", remedy="Bring at least one masstone.")
    alone = {next(iter(d.shares)) for d in drawdowns if len(d.shares) == 1}
    white_first = sorted(keys, key=lambda key: (key not in alone, -sum(key in d.shares for d in drawdowns)))
    fits: dict[str, Fit] = {}
    known: dict[str, Pigment] = {}
    for number, key in enumerate(white_first):
        fits[key] = characterise(key, drawdowns, known, surface)
        known[key] = Pigment(key, key, key, fits[key].k, fits[key].s)
        say(0.8 * (number + 1) / len(keys), f"{key} found from its drawdowns")
    joint = together(drawdowns, fits, surface)
    say(1.0, "All pigments settled together")
    return joint


def _check_dark(drawdown: Drawdown, surface: Surface) -> None:
    """Refuse a drawdown that reads darker than the surface alone by more than noise: as a whole, or in any band by four sd."""
    for name in ("over_black", "over_white"):
        read = getattr(drawdown, name)
        below(np.array([read.mean(), read.min() + 4.0 * drawdown.sd]), surface)


class _Problem:
    """One pigment's least squares, all bands at once; theta has shape (2, 31): ln k, ln s."""

    def __init__(
        self, key: str, used: Sequence[Drawdown], known: Mapping[str, Pigment], surface: Surface
    ) -> None:
        self.surface, self.used = surface, used
        self.c = np.array([d.shares[key] for d in used])[:, None]
        self.off = np.array([d.amount_sd(key) for d in used])[:, None]
        rest = [mixed({o: c for o, c in d.shares.items() if o != key}, known) for d in used]
        self.k0, self.s0 = np.array([k for k, _ in rest]), np.array([s for _, s in rest])
        self.x = np.array([d.microns for d in used])[:, None]
        self.sd = np.tile(np.array([d.sd for d in used]), 2)[:, None]
        self.grounds = [np.array([below(getattr(d, g), surface) for d in used]) for g in ("black", "white")]
        self.read = np.concatenate([[d.over_black for d in used], [d.over_white for d in used]])
        for d in used:
            _check_dark(d, surface)

    def model(self, theta: Array, strength: "float | Array" = 1.0) -> Array:
        k = self.k0 + strength * self.c * np.exp(theta[0])
        s = self.s0 + strength * self.c * np.exp(theta[1])
        return np.concatenate([seen(film(k, s, self.x, g), self.surface) for g in self.grounds])

    def starts(self) -> list[Array]:
        level = np.linspace(-6.5, -0.5, 3)
        return [np.stack([np.full(BANDS, a), np.full(BANDS, b)]) for a in level for b in level]

    def best_start(self) -> Array:
        """A few rounds from every start; each band goes on from where it came out best."""
        short = [self.solve(start, rounds=12)[0] for start in self.starts()]
        cost = np.array([(((self.model(t) - self.read) / self.sd) ** 2).sum(axis=0) for t in short])
        pick = cost.argmin(axis=0)
        return np.stack([[short[pick[b]][row, b] for b in range(BANDS)] for row in range(2)])

    def noise(self, theta: Array) -> Array:
        moved = (self.model(theta, 1.0 + self.off) - self.model(theta)) ** 2
        return np.sqrt(self.sd**2 + moved)

    def jacobian(self, theta: Array) -> Array:
        step = 1e-5
        base = self.model(theta)
        parts = []
        for row in range(2):
            moved = theta.copy()
            moved[row] += step
            parts.append((self.model(moved) - base) / step)
        return np.stack(parts, axis=-1)

    def solve(self, theta: Array, rounds: int = 60) -> tuple[Array, float]:
        """Levenberg-Marquardt, each band on its own damping; returns theta and the summed weighted squares."""
        damp = np.full(BANDS, 1e-2)
        weight = 1.0 / self.noise(theta)
        cost = (((self.model(theta) - self.read) * weight) ** 2).sum(axis=0)
        for _ in range(rounds):
            miss = (self.model(theta) - self.read) * weight
            jac = self.jacobian(theta) * weight[..., None]
            normal = np.einsum("dbi,dbj->bij", jac, jac)
            gradient = np.einsum("dbi,db->bi", jac, miss)
            scale = np.einsum("bii->bi", normal)
            lifted = normal + damp[:, None, None] * (np.eye(2) * (scale[:, None, :] + 1e-9))
            step = np.linalg.solve(lifted, gradient[..., None])[..., 0]
            trial = np.clip(theta - np.clip(step, -1.0, 1.0).T, -14.0, 4.0)
            new = (((self.model(trial) - self.read) * weight) ** 2).sum(axis=0)
            better = new < cost
            theta = np.where(better, trial, theta)
            damp = np.clip(np.where(better, damp / 3, damp * 4), 1e-9, 1e9)
            if np.all(np.abs(cost - new)[better] < 1e-9 * (1 + cost[better])) and np.all(damp[~better] > 1e3):
                break
            cost = np.where(better, new, cost)
        return theta, float(cost.sum())

    def spread(self, theta: Array) -> tuple[Array, Array]:
        jac = self.jacobian(theta) / self.noise(theta)[..., None]
        normal = np.einsum("dbi,dbj->bij", jac, jac) + np.eye(2) * 1e-4
        covariance = np.linalg.inv(normal)
        sd = np.sqrt(np.einsum("bii->bi", covariance))
        return sd[:, 0], sd[:, 1]

    def misfit(self, theta: Array) -> dict[str, tuple[float, float]]:
        off = delta_e00(lab(self.model(theta)), lab(self.read))
        count = len(self.used)
        return {d.name: (float(off[i]), float(off[i + count])) for i, d in enumerate(self.used)}
