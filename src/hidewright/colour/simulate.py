"""A simulated shop that matches, pours, reads, corrects and learns: the truth is known, so the engine can be judged.

The shop's bottles differ from the library by pigment: a log-strength, smooth errors of ln k and ln s, and other surface constants than the engine assumes. Pours
have a weighing error and come in drops; readings have noise. Everything is seeded. The truth's smooth errors are drawn at full rank with a length of their own,
not from the engine's basis.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.cups.adjust import AdjustProblem, adjust
from hidewright.colour.learning.cup import BASE, Cup, Pour
from hidewright.colour.learning.learn import Knowledge, OpenCup
from hidewright.colour.learning.lots import Prior, stock_of
from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import opaque, seen, surface_of_index
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.recipes.match import MatchProblem, match

Array = NDArray[np.float64]
CUP_G = 150.0
GOOD = 1.0
"""ΔE00 to the target at which a cup is done."""
MOST_CORRECTIONS = 8
LOAD = (0.16, 0.17)
"""The first cup starts low in the window of 16-20 %: that leaves room to correct without thinning."""
KEEP = 16
"""Recipes among which the first cup is chosen."""


@dataclass(frozen=True, slots=True)
class Scenario:
    """How far the truth is from the library: sd of ln strength, sd of smooth errors over `length` nm, weighing, drops, reading noise,
    and the sd of the film's refractive index about the 1.5 that the engine assumes (binders lie from about 1.46 to 1.54: from memory)."""

    name: str
    strength: float
    shape: float
    noise: float
    length: float = 55.0
    weighing: float = 0.005
    drop_g: float = 0.05
    index: float = 0.02

    @property
    def prior(self) -> Prior:
        """What the engine is told about bottles in such a shop; not its surface, nor the smoothness of its errors."""
        return Prior(strength=self.strength, shape=self.shape, weighing=self.weighing)


USUAL = Scenario("usual", 0.10, 0.04, 0.0015)
ROUGH = Scenario("rough", 0.20, 0.08, 0.002)
SCENARIOS = {scenario.name: scenario for scenario in (USUAL, ROUGH)}


class Shop:
    """The truth of one shop: what its bottles really do. Deterministic for a seed."""

    def __init__(
        self, scenario: Scenario, library: Sequence[Pigment], seed: int, base: Base | None = None
    ) -> None:
        self.scenario, self.base = scenario, base or Base()
        self.random = np.random.default_rng(seed)
        self.surface = surface_of_index(1.5 + float(self.random.normal(0.0, scenario.index)))
        self.library = tuple(library)
        gap = WAVELENGTHS[:, None] - WAVELENGTHS[None, :]
        kernel = np.exp(-0.5 * (gap / scenario.length) ** 2) + 1e-9 * np.eye(WAVELENGTHS.size)
        self.factor = np.linalg.cholesky(kernel)
        self.truth = {p.key: self._bottle(p) for p in library}

    def _bottle(self, pigment: Pigment) -> Pigment:
        scenario = self.scenario
        strength = self.random.normal(0.0, scenario.strength)
        bend_k, bend_s = (
            scenario.shape * self.factor @ self.random.normal(size=WAVELENGTHS.size) for _ in range(2)
        )
        return replace(
            pigment, k=pigment.k * np.exp(strength + bend_k), s=pigment.s * np.exp(strength + bend_s)
        )

    def pour(self, grams: float) -> float:
        """Grams that really went in."""
        return grams * float(np.exp(self.random.normal(0.0, self.scenario.weighing)))

    def colour_of(self, grams: Mapping[str, float]) -> Array:
        """What a perfect instrument reads of these true grams, dry and hiding, (31,)."""
        volumes = {key: g / self.truth[key].density for key, g in grams.items() if key != BASE}
        k = np.sum([v * self.truth[key].k for key, v in volumes.items()], axis=0)
        s = np.sum([v * self.truth[key].s for key, v in volumes.items()], axis=0)
        return seen(opaque(k, s), self.surface)

    def read(self, reflectance: Array) -> Array:
        """A reading with the instrument's noise."""
        return np.clip(
            reflectance + self.random.normal(0.0, self.scenario.noise, reflectance.shape), 0.0, 1.3
        )

    def target(self) -> Array:
        """A colour that can be had in this shop: three or four bottles, strong ones sparingly, slightly bent."""
        weak = [k for k, p in self.truth.items() if p.k.max() < 0.6]
        keys = list(self.truth)
        while True:
            chosen = [*self.random.choice(weak, 2, replace=False)]
            chosen += [
                *self.random.choice(
                    [k for k in keys if k not in chosen], int(self.random.integers(1, 3)), replace=False
                )
            ]
            parts = self.random.dirichlet(np.full(len(chosen), 1.2)) + 0.03
            grams = {
                str(key): float(
                    part * (0.15 if self.truth[key].k.max() > 0.7 else 1.0) * self.truth[key].density
                )
                for key, part in zip(chosen, parts, strict=True)
            }
            colour = self.colour_of(grams)
            if 0.03 < colour.mean() < 0.85:
                bend = 0.005 * self.factor @ self.random.normal(size=WAVELENGTHS.size)
                return np.clip(colour * np.exp(bend), 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class JobResult:
    """One simulated job: true ΔE00 of the first cup and at the end, corrections until ΔE00 < 1, growth of the cup's mass, and how many of the first
    forecast's three 90 % intervals of Lab held the truth."""

    first: float
    last: float
    corrections: int
    growth: float
    held: int

    @property
    def failed(self) -> bool:
        """Still not good after all corrections."""
        return self.last >= GOOD


def first_cup(known: Knowledge, target: Array, drop_g: float) -> dict[str, float]:
    """Grams of a first cup of 150 g: of the best recipes the one whose colour and spread together are least."""
    stock = known.stock
    density = 1.1
    problem = MatchProblem(
        target,
        known.pigments(),
        stock.base,
        lights=("D65",),
        load=LOAD,
        surface=known.surface,
        keep=KEEP,
        step_g=drop_g / (CUP_G / density) * 1000.0,
    )
    cups = []
    for recipe in match(problem).recipes:
        scale = CUP_G / sum(p.mass for p in recipe.parts)
        grams = {
            p.key: max(round(p.mass * scale / drop_g) * drop_g, drop_g) for p in recipe.parts if p.mass > 0
        }
        look = known.forecast(grams)
        off = float(delta_e00(look.lab(), lab(target)))
        cups.append((float(np.hypot(off, look.spread())), grams))
    return min(cups, key=lambda pair: pair[0])[1]


def run_job(shop: Shop, known: Knowledge, *, plain: bool = False) -> tuple[JobResult, Knowledge]:
    """Match, pour, read, correct until it is good; returns what happened and what is known after it.

    `plain` corrects with the library's nominal strengths and an aim shifted by the miss, and learns nothing: the usual way to compare with.
    """
    truth = shop.target()
    target = shop.read(truth)
    cup = Cup("job", tuple(Pour(k, g) for k, g in first_cup(known, target, shop.scenario.drop_g).items()))
    actual = {p.lot: shop.pour(p.grams) for p in cup.pours}
    low, high = known.open(cup).forecast().interval90()
    here = lab(shop.colour_of(actual))
    held = int(np.sum((low <= here) & (here <= high)))
    first = off = float(delta_e00(here, lab(truth)))
    start = cup.mass
    corrections = 0
    cup = cup.seen(shop.read(shop.colour_of(actual)), shop.scenario.noise)
    opened = known.open(cup)
    while off >= GOOD and corrections < MOST_CORRECTIONS:
        grams = _nominal(known, cup, target) if plain else _learned(opened, target)
        if not grams:
            break
        cup = cup.poured([Pour(k, g) for k, g in grams.items()])
        for key, amount in grams.items():
            actual[key] = actual.get(key, 0.0) + shop.pour(amount)
        corrections += 1
        colour = shop.colour_of(actual)
        off = float(delta_e00(lab(colour), lab(truth)))
        cup = cup.seen(shop.read(colour), shop.scenario.noise)
        opened = known.open(cup)
    result = JobResult(first, off, corrections, cup.mass / start - 1.0, held)
    return result, known if plain else opened.close()


def _learned(opened: OpenCup, target: Array) -> dict[str, float]:
    """The safest additions by all that is known, this cup's own readings included."""
    known = opened.knowledge
    volumes = opened.volumes()
    base_ml = volumes.pop(BASE, 0.0)
    problem = AdjustProblem(
        Contents(volumes, base_ml),
        target,
        known.pigments(),
        known.stock.base,
        known.surface,
        spread_of=lambda grams: opened.forecast([Pour(k, g) for k, g in grams.items()]).spread(),
    )
    additions = adjust(problem).additions
    return dict(additions[0].grams) if additions else {}


def _nominal(known: Knowledge, cup: Cup, target: Array) -> dict[str, float]:
    """The plain way: nominal strengths, and an aim shifted by what the last reading missed its forecast by."""
    stock = known.stock
    pigments = tuple(lot.pigment for lot in stock.lots)
    density = {p.key: p.density for p in pigments}
    volumes = {k: g / density[k] for k, g in cup.grams.items() if k != BASE}
    k = np.sum([v * next(p for p in pigments if p.key == key).k for key, v in volumes.items()], axis=0)
    s = np.sum([v * next(p for p in pigments if p.key == key).s for key, v in volumes.items()], axis=0)
    offset = lab(cup.sights[-1].values) - lab(seen(opaque(k, s), stock.surface))
    base_ml = cup.grams.get(BASE, 0.0) / stock.base.density
    problem = AdjustProblem(
        Contents(volumes, base_ml), target, pigments, stock.base, stock.surface, offset=offset
    )
    additions = adjust(problem).additions
    return dict(additions[0].grams) if additions else {}


def run_shop(
    scenario: Scenario,
    library: Sequence[Pigment],
    jobs: int,
    seed: int,
    *,
    memory: bool = True,
    plain: bool = False,
    on_progress: Callable[[float, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[list[JobResult], Knowledge]:
    """So many jobs in one shop, one after the other; without `memory` each job starts from the library again."""
    shop = Shop(scenario, library, seed)
    fresh = Knowledge.fresh(stock_of(library, shop.base, scenario.prior))
    known, results = fresh, []
    for number in range(jobs):
        result, after = run_job(shop, known if memory else fresh, plain=plain)
        known = after if memory else fresh
        results.append(result)
        if on_progress:
            on_progress((number + 1) / jobs, f"job {number + 1} of {jobs}: first cup ΔE00 {result.first:.2f}")
        if should_stop and should_stop():
            break
    return results, known
