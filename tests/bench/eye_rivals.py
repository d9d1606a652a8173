"""Named rivals of the benches "by eye": a craftsperson who knows these very bottles, and a plain joint estimate of the bench's own.

Both take words for numbers, keep one Gaussian over the bottles' strengths, the target's CIELAB, the eye's gain and what only this job has, and pour what brings the forecast
nearest to the target they believe in. The craftsperson has the true bottles and the true physics, and so only the target and the eye to find. No code of the engine's estimator,
match or additions is used.
"""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.eye_adapter import Advice, Look, Start
from bench.eye_world import BASE, CROWDING, CUP_G, DROP_G, DRY_INDEX, Bottle, Shop, book, reflectance
from hidewright.colour.light.cie import lab

Array = NDArray[np.float64]
SIZES = {"a touch": (0.85, 0.4), "clearly": (1.9, 0.75), "much": (3.6, 1.5), "far off": (7.0, 4.0)}
DIRECTIONS = {"redder": (1.0, 0.0), "greener": (-1.0, 0.0), "yellower": (0.0, 1.0), "bluer": (0.0, -1.0)}
LOAD, MOST_LOAD = 0.165, 0.20
BASE_DENSITY = 1.03


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """What somebody believes of bottles: names, μa and μs' (P, 31), densities (P,), and whether they know the true physics of a film."""

    keys: tuple[str, ...]
    absorbs: Array
    scatters: Array
    density: Array
    true: bool

    @classmethod
    def of(cls, bottles: Mapping[str, Bottle], *, true: bool = False) -> "Model":
        """From bottles by key."""
        each = list(bottles.values())
        return cls(
            tuple(bottles),
            np.array([b.absorbs for b in each]),
            np.array([b.scatters for b in each]),
            np.array([b.density for b in each]),
            true,
        )

    def lab(self, volumes: Array) -> Array:
        """Dry CIELAB (..., 3) of mixes of these volumes (..., P), in any one unit."""
        absorbs = volumes @ self.absorbs
        if self.true:
            white = self.keys.index("PW6")
            crowd = 1.0 - CROWDING * volumes[..., white] / volumes.sum(axis=-1)
            scatters = volumes @ self.scatters
            scatters = scatters - ((1.0 - crowd) * volumes[..., white])[..., None] * self.scatters[white]
            return lab(reflectance(absorbs, scatters, DRY_INDEX))
        q = absorbs / (volumes @ self.scatters) * (8.0 / 3.0)
        inside = 1.0 + q - np.sqrt(q * (q + 2.0))
        return lab(0.04 + 0.96 * 0.404 * inside / (1.0 - 0.596 * inside))


def frame(colour: Array) -> Array:
    """(3, 3): CIELAB differences at a colour as lightness, chroma and hue, evened out as CIE94 does (CIE 116-1995; kL = 1)."""
    chroma = float(np.hypot(colour[1], colour[2]))
    along = np.array([colour[1], colour[2]]) / max(chroma, 1e-6)
    return np.array(
        [
            [1.0, 0.0, 0.0],
            [0.0, *(along / (1.0 + 0.045 * chroma))],
            [0.0, *(np.array([-along[1], along[0]]) / (1.0 + 0.015 * chroma))],
        ]
    )


def numbers(words: Sequence[tuple[str, str]], turn: Array) -> tuple[Array, Array]:
    """What is said of a cup as a difference in `frame` (3,) and its covariance (3, 3)."""
    largest = max((SIZES[s][0] for _, s in words), default=0.0)
    information = np.eye(3) / max(0.45, 0.22 * largest) ** 2
    pull = np.zeros(3)
    for word, strength in words:
        size, sd = SIZES[strength]
        way = _way(word, turn)
        along = information @ way
        information = information - np.outer(along, along) / float(way @ along)
        information = information + np.outer(way, way) / sd**2
        pull += way * size / sd**2
    covariance = np.linalg.inv(information)
    return covariance @ pull, covariance + 0.1 * np.eye(3)


def _way(word: str, turn: Array) -> Array:
    if word in ("lighter", "darker"):
        way = np.array([1.0 if word == "lighter" else -1.0, 0.0, 0.0])
    elif word in ("cleaner", "greyer"):
        way = np.array([0.0, 1.0 if word == "cleaner" else -1.0, 0.0])
    else:
        way = turn @ np.array([0.0, *DIRECTIONS[word]])
    return np.asarray(way / np.linalg.norm(way))


@dataclass(frozen=True, slots=True, eq=False)
class Unknowns:
    """Where things stand in the vector of unknowns: strengths (P), target (3), eye's ln gain, wet offset (3), camera's offset (3) and ln gain."""

    bottles: int

    @property
    def size(self) -> int:
        """All unknowns."""
        return self.bottles + 11

    def parts(self, z: Array) -> tuple[Array, Array, float, Array, Array, float]:
        """The unknowns by name."""
        p = self.bottles
        return z[:p], z[p : p + 3], z[p + 3], z[p + 4 : p + 7], z[p + 7 : p + 10], z[p + 10]


class Joint:
    """An advisor with one Gaussian: `Advisor` of `eye_adapter`."""

    def __init__(self, model: Model, strength_sd: float) -> None:
        self.model, self.at = model, Unknowns(len(model.keys))
        self.bottles = np.zeros(self.at.bottles)
        self.spread = np.eye(self.at.bottles) * strength_sd**2
        self.eye, self.eye_var = 0.0, 0.25**2

    def begin(self, start: Start) -> Mapping[str, float]:
        """The first cup: nearest to the start's colour by what is believed of the bottles."""
        p = self.at.bottles
        self.mean = np.zeros(self.at.size)
        self.mean[:p], self.mean[p : p + 3], self.mean[p + 3] = self.bottles, start.lab, self.eye
        self.prior = np.zeros((self.at.size, self.at.size))
        self.prior[:p, :p] = self.spread
        own = [start.sd**2] * 3 + [self.eye_var, 2.0**2, 1.0, 1.5**2, 0.5**2, 1.2**2, 0.8**2, 0.15**2]
        self.prior[range(p, self.at.size), range(p, self.at.size)] = own
        self.start, self.covariance = self.mean.copy(), self.prior.copy()
        self.looks: list[tuple[Array, Look]] = []
        self.again = 0
        volumes = self._solved(np.zeros(p), start.lab)[0]
        grams = volumes * self.model.density
        base = (1.0 - LOAD) / LOAD * volumes.sum() * BASE_DENSITY
        scale = CUP_G / (grams.sum() + base)
        self.cup = {k: float(g * scale) for k, g in zip(self.model.keys, grams, strict=True) if g > 0}
        self.cup[BASE] = float(base * scale)
        self.cup = {k: max(round(g / DROP_G), 1) * DROP_G for k, g in self.cup.items()}
        return dict(self.cup)

    def poured(self, grams: Mapping[str, float], *, fresh: bool) -> None:
        """Into the cup."""
        kept = {} if fresh else self.cup
        self.cup = {key: kept.get(key, 0.0) + grams.get(key, 0.0) for key in kept | dict(grams)}
        self.again = 0

    def target(self) -> tuple[Array, Array]:
        """As now believed."""
        p = self.at.bottles
        return self.mean[p : p + 3], self.covariance[p : p + 3, p : p + 3]

    def close(self) -> None:
        """Keep bottles and eye."""
        p = self.at.bottles
        self.bottles, self.spread = self.mean[:p].copy(), self.covariance[:p, :p].copy()
        self.eye, self.eye_var = float(self.mean[p + 3]), float(self.covariance[p + 3, p + 3])

    def _volumes(self) -> Array:
        return np.array([self.cup.get(k, 0.0) for k in self.model.keys]) / self.model.density

    def look(self, look: Look) -> None:
        """Take a comparison in, and solve all of the job's looks together (Gauss-Newton)."""
        self.looks.append((self._volumes(), look))
        mean = self.mean
        for _ in range(6):
            told, slopes, noise, values = self._sights(mean)
            gain = np.linalg.solve(slopes @ self.prior @ slopes.T + noise, slopes @ self.prior).T
            step = self.start + gain @ (values - told - slopes @ (self.start - mean)) - mean
            mean = mean + step * min(1.0, 3.0 / max(float(np.abs(step).max()), 1e-9))
        self.mean = mean
        self.covariance = self.prior - gain @ slopes @ self.prior

    def _sights(self, z: Array) -> tuple[Array, Array, Array, Array]:
        values, noises, kinds = [], [], []
        turn = frame(self.at.parts(z)[1])
        for number, (_, look) in enumerate(self.looks):
            if look.instrument is None:
                value, noise = numbers(look.words, turn)
                values.append(value)
                noises.append(noise)
                kinds.append((number, "eye"))
            for shot, sd, kind in ((look.photo, 0.6, "photo"), (look.instrument, 0.4, "read")):
                if shot is not None:
                    own = np.hypot(sd, 0.12 * float(np.abs(shot).max()) * (kind == "photo"))
                    values.append(turn @ shot)
                    noises.append(own**2 * turn @ turn.T)
                    kinds.append((number, kind))
        told = self._told(z, turn, kinds)
        slopes = np.empty((told.size, self.at.size))
        for i in range(self.at.size):
            moved = z.copy()
            moved[i] += 1e-4
            slopes[:, i] = (self._told(moved, turn, kinds) - told) / 1e-4
        noise = np.zeros((told.size, told.size))
        for i, one in enumerate(noises):
            noise[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] = one
        return told, slopes, noise, np.concatenate(values)

    def _told(self, z: Array, turn: Array, kinds: Sequence[tuple[int, str]]) -> Array:
        strengths, target, eye, wet, offset, gain = self.at.parts(z)
        cups = self.model.lab(np.array([v for v, _ in self.looks]) * np.exp(strengths))
        rows = []
        for number, kind in kinds:
            apart = cups[number] - target + (wet if self.looks[number][1].wet else 0.0)
            if kind == "eye":
                apart = np.exp(eye) * apart
            elif kind == "photo":
                apart = np.exp(gain) * apart + offset
            rows.append(turn @ apart)
        return np.concatenate(rows)

    def advice(self) -> Advice:
        """Pour, look again, look dry, or end."""
        look = self.looks[-1][1]
        agreed = not look.words
        aim, _ = self.target()
        now = float(np.linalg.norm(frame(aim) @ (self._now(self._volumes()) - aim)))
        if agreed and now < 0.8:
            return Advice("dry") if look.wet else Advice("done")
        volumes, left = self._solved(self._volumes(), aim)
        if left > now - 0.1 or now < 0.3:
            self.again += 1
            return Advice("look") if self.again < 3 else Advice("dry" if look.wet else "stop")
        grams = {
            k: float(round(v * d / DROP_G) * DROP_G)
            for k, v, d in zip(self.model.keys, volumes, self.model.density, strict=True)
            if v * d > DROP_G / 2
        }
        if not grams:
            return Advice("stop")
        pigment, whole = self._volumes().sum(), self._volumes().sum() + self.cup[BASE] / BASE_DENSITY
        added = sum(g / self.model.density[self.model.keys.index(k)] for k, g in grams.items())
        base = ((pigment + added) / MOST_LOAD - whole - added) * BASE_DENSITY
        return Advice("pour", grams | ({BASE: float(base)} if base > DROP_G else {}))

    def _now(self, volumes: Array) -> Array:
        return self.model.lab(volumes * np.exp(self.mean[: self.at.bottles]))

    def _solved(self, cup: Array, aim: Array) -> tuple[Array, float]:
        """Volumes (P,) of up to three bottles to add to a cup (or to begin with), and the distance that is left: all sets side by side, by damped least squares in logarithms."""
        turn, empty = frame(aim), not cup.any()
        whole = 1.0 if empty else float(cup.sum())
        best: tuple[float, Array, float] = (np.inf, cup, np.inf)
        for size in (3,) if empty else (1, 2, 3):
            sets = np.array(list(itertools.combinations(range(self.at.bottles), size)))

            def misses(z: Array, sets: NDArray[np.intp] = sets) -> Array:
                mix = np.zeros((len(sets), self.at.bottles))
                np.put_along_axis(mix, sets, np.exp(z) * whole, axis=1)
                near = (self._now(mix + cup) - aim) @ turn.T
                price = 0.05 * z if empty else 0.6 * np.sqrt(np.exp(z))
                return np.concatenate([near, price], axis=1)

            z = np.full(sets.shape, -2.0 if empty else -4.0)
            damp, miss = np.full(len(sets), 0.1), misses(z)
            for _ in range(14):
                slope = np.stack([(misses(z + 1e-4 * e) - miss) / 1e-4 for e in np.eye(size)], axis=-1)
                turned = np.swapaxes(slope, 1, 2)
                normal = turned @ slope + damp[:, None, None] * np.eye(size)
                step = np.linalg.solve(normal, (turned @ miss[..., None]))[..., 0]
                trial = np.clip(z - np.clip(step, -1.5, 1.5), -12.0, 1.5)
                new = misses(trial)
                better = (new**2).sum(axis=1) < (miss**2).sum(axis=1)
                z, miss = np.where(better[:, None], trial, z), np.where(better[:, None], new, miss)
                damp = np.where(better, damp * 0.3, damp * 5.0)
            left = np.linalg.norm(miss[:, :3], axis=1)
            volume = np.exp(z).sum(axis=1)
            strange = 0.0 if empty else 0.08 * (cup[sets] == 0.0).sum(axis=1)
            cost = left + strange + 0.05 * size + (0.0 if empty else 1.5 * volume)
            pick = int(cost.argmin())
            if cost[pick] < best[0]:
                mix = np.zeros(self.at.bottles)
                mix[sets[pick]] = np.exp(z[pick]) * whole
                best = (float(cost[pick]), mix, float(left[pick]))
        return best[1], best[2]


def craftsperson(shop: Shop, _way: object = None) -> Joint:
    """Who knows these very bottles, and how films of them look."""
    return Joint(Model.of(shop.bottles, true=True), 1e-3)


def plain_joint(_shop: Shop, _way: object = None) -> Joint:
    """Who has the illustrative set and a factor of two either way."""
    return Joint(Model.of(book()), float(np.log(2.0)))
