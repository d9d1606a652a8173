"""What to add to a cup that is a little off: the smallest additions, never negative, that bring it to the target.

Every set of up to three things to pour is solved side by side (Levenberg-Marquardt in the logarithms of the amounts, with a light pull toward less), then
put on the grid of what can be weighed or dropped, and judged again. Base is added as far as the load window asks for it. Three answers are
picked: least volume, fewest pourings, and the safest one, which weighs in how well each pigment is known and what a drop too many does.
"""

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike, delta_e00, lab
from hidewright.colour.light.spectra import each_once, numbers, spectrum, within
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.recipes.match import MatchProblem, nearest
from hidewright.colour.recipes.search import View
from hidewright.refusals import Refusal

Array = NDArray[np.float64]


SEEN = 0.3
"""ΔE00 below which the rest is under what an eye sees side by side and under what one reading tells (convention of this tool)."""


SURE = 0.65
"""Share of the tolerance inside which what is left and the forecast's spread together must lie for an addition to count as enough."""


SHORT_LIST = 30
"""How many additions are judged in full."""


PULL = 4.0
"""How many ΔE00 a doubling of the volume counts as, while additions are being looked for."""


SMALL, LARGE = 3e-3, 0.3
"""Shares of the cup at which the search for amounts starts: at small ones, and at large ones where small ones do not come into tolerance."""


MOST_GROWTH = 3.0
"""Growth beyond which an addition is not offered: a fresh cup is less (convention of this tool)."""
OUTSIDE = 1.0
"""What leaving the cup outside the tolerance counts as, in halves of its volume: an addition is to end the matter, not to creep."""


@dataclass(frozen=True, slots=True, eq=False)
class AdjustProblem:
    """A cup, where it should go, and what may be poured.

    `target` reading (31,); `pigments` everything in the cup and all that may be added (`must_not_use` keeps some out; leftover cups are pigments with a
    `load`); `vessel_ml` the most it may hold; `load` the window of pigment share; `step_g` g that can be weighed or dropped, `steps` the same by bottle (and of the base, under its key) where that differs; `tolerance` ΔE00 that is good
    enough; `offset` Lab (3,) by which the cup is known to differ from its forecast (a reading not yet learned from).
    """

    contents: Contents
    target: Array
    pigments: Sequence[Pigment]
    base: Base = field(default_factory=Base)
    surface: Surface = field(default_factory=Surface)
    light: LightLike = "D65"
    vessel_ml: float = 1e6
    load: tuple[float, float] = (0.16, 0.20)
    step_g: float = 0.05
    steps: Mapping[str, float] = field(default_factory=dict)
    tolerance: float = 1.0
    most: int = 3
    must_not_use: frozenset[str] = frozenset()
    offset: Array | None = None
    spread_of: Callable[[Mapping[str, float]], float] | None = None
    """ΔE00 spread of the colour after additions in g by key (from `OpenCup.forecast`); None when nothing is known."""
    guessed: tuple[str, ...] = ()
    """Names of the lights under which the target is a guess (`Reading.guessed`); it matters where `light` is among them."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "target", spectrum(self.target, "target", upper=1.3))
        if self.offset is not None:
            object.__setattr__(self, "offset", numbers(self.offset, (3,), "offset"))
        each_once([p.key for p in self.pigments], "pigments")
        for step in (self.step_g, *self.steps.values()):
            within(step, 1e-4, 1e4, "A step", "additions")
        within(self.tolerance, 0.01, 100.0, "A tolerance", "tolerance")
        known = {p.key for p in self.pigments}
        strange = sorted(set(self.contents.volumes) - known)
        if strange:
            raise Refusal(
                f"{', '.join(strange)} is in the cup but not known.",
                where="cup",
                remedy="Add it to the shelf.",
            )
        if not self.vessel_ml >= self.contents.total:
            raise Refusal(
                "The vessel holds less than is in the cup.", where="vessel", remedy="Choose a larger vessel."
            )
        if not 0.0 < self.load[0] <= self.load[1] < 1.0:
            raise Refusal(
                "The window of pigment cannot be.", where="load", remedy="Write it like 16 % to 20 %."
            )
        if not 1 <= self.most <= 4:
            raise Refusal("One to four things can be added.", where="additions")

    def step(self, key: str) -> float:
        """g of one step of a bottle (or of the base, under its key)."""
        return self.steps.get(key, self.step_g)


@dataclass(frozen=True, slots=True, eq=False)
class Addition:
    """One way to go on: `grams` by key (base under its key), in the order to pour; what comes of it.

    `delta_e` to the target, `growth` the share by which the volume grows, `load` the pigment share after, `spread` ΔE00 by which the forecast may be off, `drop`
    the largest ΔE00 that one step too many makes, `path` ΔE00 after each pouring, `reflectance` (31,) at the end.
    """

    why: str
    grams: Mapping[str, float]
    delta_e: float
    growth: float
    load: float
    spread: float
    drop: float
    path: tuple[float, ...]
    reflectance: Array

    @property
    def pourings(self) -> int:
        """How many things to pour."""
        return len(self.grams)


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """What to do: `now` ΔE00 as it stands; `additions` the alternatives, each once; `stop` True when the rest is not worth a pour, with `words`.

    `guessed` the light it was judged under, where the target was never seen under it: then every ΔE00 here is a guess. Empty where it was.
    """

    now: float
    additions: tuple[Addition, ...]
    stop: bool
    words: str
    guessed: tuple[str, ...] = ()


def adjust(problem: AdjustProblem) -> Advice:
    """The smallest additions that bring the cup to the target; advises to stop when what is left is below what an eye or one reading tells."""
    guessed = tuple(name for name in problem.guessed if name == str(problem.light))
    return replace(_advised(problem), guessed=guessed)


def _advised(problem: AdjustProblem) -> Advice:
    bench = _Bench(problem)
    now = bench.distance(np.zeros((1, len(bench.keys))))[0]
    if now <= SEEN:
        return Advice(float(now), (), True, "Stop here: the rest is below what an eye sees.")
    tried = [option for option in bench.options() if option.delta_e < now - 0.05]
    if not tried:
        words = (
            "Nothing that may be added brings it nearer inside the vessel and the window of pigment"
            f" without making more than {1 + MOST_GROWTH:.0f} times as much: a fresh cup is less."
        )
        return Advice(float(now), (), True, words)
    return Advice(float(now), _picked(problem, tried), False, "")


def _risk(option: Addition) -> float:
    """ΔE00 to reckon with: what is left, half a step of a slipped drop, and the forecast's own spread."""
    return float(np.hypot(option.delta_e + 0.25 * option.drop, option.spread))


def _picked(problem: AdjustProblem, tried: Sequence[Addition]) -> tuple[Addition, ...]:
    """Least volume first, then fewest pourings, then the safest; one that is several of these is told once."""

    def price(option: Addition) -> float:
        short = max(0.0, _risk(option) / problem.tolerance - SURE)
        outside = OUTSIDE * (option.delta_e > problem.tolerance)
        return outside + 2.0 * short + 2.0 * option.growth + 0.02 * _risk(option)

    least = min(tried, key=price)
    enough = [o for o in tried if _risk(o) <= max(_risk(least), SURE * problem.tolerance)]
    fewest = min(enough, key=lambda o: (o.pourings, o.growth))
    safest = min(tried, key=lambda o: _risk(o) + 0.5 * o.growth)
    picked: dict[int, Addition] = {}
    for why, option in (("least volume", least), ("fewest pourings", fewest), ("safest", safest)):
        earlier = picked.get(id(option))
        words = f"{earlier.why}, {why}" if earlier else why
        picked[id(option)] = replace(option, why=words)
    return tuple(picked.values())


class _Bench:
    """The cup's K and S as volume sums, and what each thing to add would bring; amounts are mL by column of `keys`."""

    def __init__(self, problem: AdjustProblem) -> None:
        self.problem = problem
        known = {p.key: p for p in problem.pigments}
        held = problem.contents.volumes
        self.k0 = np.sum([v * known[key].k for key, v in held.items()], axis=0)
        self.s0 = np.sum([v * known[key].s for key, v in held.items()], axis=0)
        self.load0 = sum(v * known[key].load for key, v in held.items())
        self.parts = [p for p in problem.pigments if p.key not in problem.must_not_use]
        self.keys = [p.key for p in self.parts]
        if not self.keys:
            raise Refusal("Nothing may be added.", where="additions", remedy="Allow at least one pigment.")
        self.k, self.s = np.array([p.k for p in self.parts]), np.array([p.s for p in self.parts])
        self.density = np.array([p.density for p in self.parts])
        self.steps = np.array([problem.step(key) for key in self.keys])
        self.share = np.array([p.load for p in self.parts])
        self.view = View.of(problem.target, [problem.light])
        self.total = problem.contents.total
        self.aim = lab(problem.target, problem.light)
        if problem.offset is not None:
            self.aim = self.aim - problem.offset

    def reading(self, amounts: Array) -> Array:
        """What is read, (n, 31), after adding amounts (n, keys) in mL."""
        return seen(opaque(self.k0 + amounts @ self.k, self.s0 + amounts @ self.s), self.problem.surface)

    def distance(self, amounts: Array) -> Array:
        """ΔE00 to the target, (n,)."""
        return delta_e00(lab(self.reading(amounts), self.problem.light), self.aim)

    def base_for(self, amounts: Array) -> Array:
        """mL of base to add, (n,), so that the pigment share does not leave the window at its upper end."""
        pigment = self.load0 + amounts @ self.share
        # a cup that already stands above the window is only kept from rising
        upper = max(self.problem.load[1], self.load0 / self.total)
        return np.maximum(pigment / upper - self.total - amounts.sum(axis=1), 0.0)

    def _solved(self, sets: NDArray[np.intp], pull: float, start: float = SMALL) -> Array:
        """Amounts (n, keys) for each set of columns (n, size); `pull` is the price of volume, `start` the share of the cup that is tried first."""
        size = sets.shape[1]
        k, s = self.k[sets] * self.total, self.s[sets] * self.total
        m = self.view.metrics[0]
        z = np.full(sets.shape, np.log(start))
        damp = np.full(len(sets), 1e-2)

        def misses(z: Array) -> Array:
            a = np.exp(z)
            inside = opaque(self.k0 + (a[:, None] @ k)[:, 0], self.s0 + (a[:, None] @ s)[:, 0])
            labs, _ = self.view.colours(seen(inside, self.problem.surface))
            return np.concatenate([(labs[:, 0] - self.aim) @ m.T, np.sqrt(pull * a)], axis=1)

        miss = misses(z)
        cost = (miss**2).sum(axis=1)
        for _ in range(16):
            jac = np.stack([(misses(z + 1e-5 * e) - miss) / 1e-5 for e in np.eye(size)], axis=-1)
            turned = np.swapaxes(jac, 1, 2)
            normal = turned @ jac
            level = np.einsum("nii->n", normal)[:, None, None] + 1e-6
            slope = (turned @ miss[..., None])[..., 0]
            step = np.linalg.solve(normal + damp[:, None, None] * level * np.eye(size), slope[..., None])[
                ..., 0
            ]
            trial = np.clip(z - np.clip(step, -2.0, 2.0), -14.0, 1.0)
            new_miss = misses(trial)
            new = (new_miss**2).sum(axis=1)
            better = new < cost
            z = np.where(better[:, None], trial, z)
            miss, cost = np.where(better[:, None], new_miss, miss), np.where(better, new, cost)
            damp = np.clip(np.where(better, damp * 0.25, damp * 5), 1e-8, 1e4)
        amounts = np.zeros((len(sets), len(self.keys)))
        np.put_along_axis(amounts, sets, np.exp(z) * self.total, axis=1)
        return amounts

    def _on_grid(self, amounts: Array, sets: NDArray[np.intp]) -> Array:
        """Each set's best neighbour on the grid of steps; steps of nothing are allowed."""
        step = self.steps / self.density
        down = np.floor(np.take_along_axis(amounts, sets, axis=1) / step[sets])
        corners = np.array(list(itertools.product((0.0, 1.0), repeat=sets.shape[1])))
        grid = (down[:, None, :] + corners) * step[sets][:, None, :]
        wide = np.zeros((len(sets), len(corners), len(self.keys)))
        np.put_along_axis(wide, np.broadcast_to(sets[:, None, :], grid.shape), grid, axis=2)
        off = self.distance(wide.reshape(-1, len(self.keys))).reshape(len(sets), -1)
        return np.take_along_axis(wide, off.argmin(axis=1)[:, None, None], axis=1)[:, 0]

    def _found(self, pulls: Sequence[float], start: float) -> Array:
        """Amounts (n, keys) on the grid, of the best sets of each size at each price of volume, that fit the vessel."""
        found: list[Array] = []
        for size in range(1, min(self.problem.most, len(self.keys)) + 1):
            sets = np.array(list(itertools.combinations(range(len(self.keys)), size)), dtype=np.intp)
            for pull in pulls:
                solved = self._solved(sets, pull, start)
                growth = (solved.sum(axis=1) + self.base_for(solved)) / self.total
                best = np.argsort(self.distance(solved) + (PULL if pull > 1 else 1.0) * growth)[:20]
                found.append(self._on_grid(solved[best], sets[best]))
        amounts = np.unique(np.concatenate(found), axis=0)
        whole = self.total + amounts.sum(axis=1) + self.base_for(amounts)
        most = min(self.problem.vessel_ml, (1.0 + MOST_GROWTH) * self.total)
        return np.asarray(amounts[(amounts.sum(axis=1) > 0) & (whole <= most)])

    def options(self) -> list[Addition]:
        """All that is worth judging, each a different addition; large ones are looked for where no small one comes into tolerance."""
        amounts = self._found((0.1, 1.0, 6.0), SMALL)
        if not np.any(self.distance(amounts) <= self.problem.tolerance):
            amounts = np.unique(np.concatenate([amounts, self._found((0.02, 0.1), LARGE)]), axis=0)
        off = self.distance(amounts)
        growth = (amounts.sum(axis=1) + self.base_for(amounts)) / self.total
        hopeful: dict[int, None] = {}
        for price in (PULL, 1.0, 0.2):
            hopeful.update(dict.fromkeys(np.argsort(off + price * growth)[: SHORT_LIST // 3].tolist()))
        return [self._judged(amounts[i]) for i in hopeful]

    def _judged(self, amounts: Array) -> Addition:
        problem = self.problem
        used = np.flatnonzero(amounts)
        strongest_last = sorted(used, key=lambda i: -amounts[i])
        stages = np.cumsum(
            [np.where(np.arange(len(amounts)) == i, amounts, 0.0) for i in strongest_last], axis=0
        )
        base = float(self.base_for(amounts[None])[0])
        grams = {self.keys[i]: round(float(amounts[i] * self.density[i]), 4) for i in strongest_last}
        if base > 0:
            step = problem.step(problem.base.key)
            grams[problem.base.key] = float(np.ceil(base * problem.base.density / step) * step)
            base = grams[problem.base.key] / problem.base.density
        more = np.array(
            [amounts + np.where(np.arange(len(amounts)) == i, self.steps / self.density, 0.0) for i in used]
        )
        here = lab(self.reading(amounts[None]), problem.light)
        drop = float(delta_e00(lab(self.reading(more), problem.light), here).max())
        added = float(amounts.sum()) + base
        path = [float(v) for v in self.distance(stages)]
        return Addition(
            "",
            grams,
            path[-1],
            added / self.total,
            float(self.load0 + amounts @ self.share) / (self.total + added),
            problem.spread_of(grams) if problem.spread_of else 0.0,
            drop,
            tuple(path + [path[-1]] * (base > 0)),
            self.reading(amounts[None])[0],
        )


def as_if(
    reading: Array,
    volume_ml: float,
    pigments: Sequence[Pigment],
    base: Base | None = None,
    load: float = 0.18,
) -> Contents:
    """What an unknown cup might as well be: the contents whose colour comes nearest to its reading (31,) under D65, A and FL11.

    Its true contents stay unknown, so additions to it are rough: small steps, and a reading after each.
    """
    if not 0.0 < volume_ml < 1e6:
        raise Refusal("An unknown cup needs its volume.", where="cup", remedy="Measure it in mL.")
    problem = MatchProblem(reading, tuple(pigments), base or Base(), worst=True, load=(load, load))
    _, parts = nearest(problem)
    known = {p.key: p for p in pigments}
    scale = load * volume_ml / sum(v * known[key].load for key, v in parts.items())
    volumes = {key: v * scale for key, v in parts.items()}
    return Contents(volumes, max(volume_ml - sum(volumes.values()), 0.0))
