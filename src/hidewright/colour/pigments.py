"""Pigments: what each dispersion absorbs and scatters, and finding that out from drawdowns.

A mix is volumes of pigment dispersions and of clear base. When it has dried, a unit volume of film holds cᵢ volumes of dispersion i,
and K = Σ cᵢkᵢ, S = Σ cᵢsᵢ (Duncan 1940). kᵢ and sᵢ are per µm of film at cᵢ = 1. The clear base adds nothing once dry.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal

from .cie import BANDS, delta_e00, lab
from .film import Surface, below, film, seen

Array = NDArray[np.float64]


def spectrum(values: object, where: str, *, upper: float | None = None) -> Array:
    """A checked array of shape (31,), finite, from 0 to `upper`; refuses anything else."""
    array = np.array(values, dtype=float)
    if array.shape != (BANDS,) or not np.all(np.isfinite(array)):
        raise Refusal("A spectrum has 31 finite values, 400 to 700 nm by 10 nm.", where=where)
    if np.any(array < 0) or (upper is not None and np.any(array > upper)):
        raise Refusal(f"A value lies outside 0 to {upper if upper is not None else 'infinity'}.", where=where)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True, eq=False)
class Pigment:
    """One pigment dispersion.

    `k`, `s`: shape (31,), per µm of dry film at unit volume of dispersion. `density` g/mL of the dispersion; `solids` the share of its
    volume that stays when dry (0..1); `price` money per mL; `index` its Colour Index generic name; `tint` a hex for the screen.
    """

    key: str
    name: str
    index: str
    k: Array
    s: Array
    density: float = 1.2
    solids: float = 0.4
    price: Decimal = Decimal("0")
    illustrative: bool = False
    covariance: Array | None = field(default=None, repr=False)
    """Optional (2, 31): relative standard deviations of k and s."""
    load: float = 1.0
    """The share of its volume that counts as pigment dispersion: 1 for a dispersion, less for a leftover jar of mixed colour."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "k", spectrum(self.k, f"{self.key} k"))
        object.__setattr__(self, "s", spectrum(self.s, f"{self.key} s"))
        if not 0.5 <= self.density <= 6.0:
            raise Refusal(
                f"A density of {self.density} g/mL is not that of a dispersion.",
                where=self.key,
                remedy="It lies from 0.5 to 6.",
            )
        if not 0.01 <= self.solids <= 1.0:
            raise Refusal(
                f"Volume solids of {self.solids} cannot be.",
                where=self.key,
                remedy="Write it as a share from 0.01 to 1.",
            )
        if not 0.0 < self.load <= 1.0:
            raise Refusal(f"A pigment share of {self.load} cannot be.", where=self.key)


@dataclass(frozen=True, slots=True)
class Base:
    """The clear base: `density` g/mL, `solids` the share of its volume that stays, `price` money per mL."""

    key: str = "base"
    name: str = "Clear base"
    density: float = 1.03
    solids: float = 0.25
    price: Decimal = Decimal("0")

    def __post_init__(self) -> None:
        if not 0.5 <= self.density <= 2.0:
            raise Refusal(f"A density of {self.density} g/mL is not that of a base.", where=self.key)
        if not 0.05 <= self.solids <= 1.0:
            raise Refusal(f"Volume solids of {self.solids} cannot be.", where=self.key)


def dry_shares(
    volumes: Mapping[str, float], pigments: Mapping[str, Pigment], base: Base, base_volume: float
) -> dict[str, float]:
    """cᵢ: volume of each dispersion per unit volume of dry film, from volumes (any one unit) in the mix."""
    dry = base_volume * base.solids + sum(v * pigments[k].solids for k, v in volumes.items())
    if dry <= 0:
        raise Refusal("The mix has nothing that stays when it dries.", where="mix")
    return {key: volume / dry for key, volume in volumes.items()}


def mixed(shares: Mapping[str, float], pigments: Mapping[str, Pigment]) -> tuple[Array, Array]:
    """K and S of a dry film, each (31,), per µm."""
    k = sum((c * pigments[key].k for key, c in shares.items()), np.zeros(BANDS))
    s = sum((c * pigments[key].s for key, c in shares.items()), np.zeros(BANDS))
    return np.asarray(k), np.asarray(s)


READING_SD = 0.0015
WEIGHING_SD = 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Drawdown:
    """A film drawn over a card and read, dry.

    `shares`: dispersion volumes per unit of dry film by pigment key; `microns` dry thickness in µm; `over_black`, `over_white`: readings
    (31,) as the instrument gives them; `black`, `white`: readings of the bare card; `readings`: how many readings of the film were averaged.
    """

    name: str
    shares: Mapping[str, float]
    microns: float
    over_black: Array
    over_white: Array
    black: Array
    white: Array
    readings: int = 1

    def __post_init__(self) -> None:
        if not 1 <= self.readings <= 100:
            raise Refusal("One to a hundred readings can be averaged.", where=self.name)
        for part in ("over_black", "over_white", "black", "white"):
            object.__setattr__(self, part, spectrum(getattr(self, part), f"{self.name} {part}", upper=1.3))
        if not 1.0 <= self.microns <= 1000.0:
            raise Refusal(
                f"A dry film of {self.microns} µm cannot be.",
                where=self.name,
                remedy="It lies from 1 to 1000 µm.",
            )
        if not self.shares or min(self.shares.values()) <= 0:
            raise Refusal("A drawdown needs at least one pigment, with a share above 0.", where=self.name)

    @property
    def sd(self) -> float:
        """Noise of its readings a band: the instrument's, less when several were averaged."""
        return READING_SD / float(np.sqrt(self.readings))


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What was found for one pigment: `k`, `s` (31,), their relative sd (31,), and the misfit of each drawdown in ΔE00 (black, white)."""

    k: Array
    s: Array
    k_sd: Array
    s_sd: Array
    misfit: Mapping[str, tuple[float, float]]
    contradicts: tuple[str, ...] = ()
    """Drawdowns that contradict the rest; they counted less."""

    @property
    def undetermined(self) -> bool:
        """True when the drawdowns say next to nothing about scattering in half of the bands (masstone and tint read alike)."""
        return bool(np.median(self.s_sd) > 0.5)


def characterise(
    key: str, drawdowns: Sequence[Drawdown], known: Mapping[str, Pigment], surface: Surface | None = None
) -> Fit:
    """Find k and s of one pigment from drawdowns in which every other pigment is known.

    Least squares per band in ln k and ln s (so that both stay positive), from several starts, weighted by the instrument's noise
    (sd 0.0015) and a weighing error of 0.5 %. Refuses when no drawdown holds the pigment or another one is unknown.
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
    say = on_progress or (lambda fraction, text: None)
    keys = list(dict.fromkeys(key for d in drawdowns for key in d.shares))
    alone = {next(iter(d.shares)) for d in drawdowns if len(d.shares) == 1}
    white_first = sorted(keys, key=lambda key: (key not in alone, -sum(key in d.shares for d in drawdowns)))
    fits: dict[str, Fit] = {}
    known: dict[str, Pigment] = {}
    for number, key in enumerate(white_first):
        fits[key] = characterise(key, drawdowns, known, surface)
        known[key] = Pigment(key, key, key, fits[key].k, fits[key].s)
        say(0.8 * (number + 1) / len(keys), f"{key} found from its drawdowns")
    from .joint import together

    settled = together(drawdowns, fits, surface).fits(drawdowns)
    say(1.0, "All pigments settled together")
    return settled


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
        rest = [mixed({o: c for o, c in d.shares.items() if o != key}, known) for d in used]
        self.k0, self.s0 = np.array([k for k, _ in rest]), np.array([s for _, s in rest])
        self.x = np.array([d.microns for d in used])[:, None]
        self.sd = np.tile(np.array([d.sd for d in used]), 2)[:, None]
        self.grounds = [np.array([below(getattr(d, g), surface) for d in used]) for g in ("black", "white")]
        self.read = np.concatenate([[d.over_black for d in used], [d.over_white for d in used]])
        for d in used:
            _check_dark(d, surface)

    def model(self, theta: Array, strength: float = 1.0) -> Array:
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
        moved = (self.model(theta, 1.0 + WEIGHING_SD) - self.model(theta)) ** 2
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
