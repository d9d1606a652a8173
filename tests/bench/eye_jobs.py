"""One job after the other in a simulated shop, and what became of them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bench.eye_adapter import Advisor, Look, Start
from bench.eye_observer import Camera, Observer, guessed, off_grey_card
from bench.eye_world import ILLUSTRATIVE, Distance, Shop
from hidewright.colour.light.cie import delta_e00

Array = NDArray[np.float64]
GOOD = 1.5
"""ΔE00 at which the true dry colour counts as reached."""
OPEN = 1.0
"""ΔE00 beyond which a cup that the advisor has given up on is stuck."""
MOST, MOST_LOOKS = 8, 30


@dataclass(frozen=True, slots=True)
class Way:
    """How a person works: the start ("photo", "swatch", "instrument"), whether looks are wet, whether each has a stick photo or an instrument, how noisy the eye is, how far the bottles are off."""

    name: str
    start: str = "photo"
    wet: bool = False
    photo: bool = False
    instrument: bool = False
    noisier: float = 1.0
    far: Distance = ILLUSTRATIVE


@dataclass(frozen=True, slots=True)
class Result:
    """One job: true ΔE00 of the first cup and after each correction, growth by all that was poured, looks (sticks that were dried apart), how it ended, and the target's error and told sd (ΔE00-like)."""

    path: tuple[float, ...]
    growth: float
    looks: int
    dry_looks: int
    end: str
    said: int
    target_error: float
    target_sd: float

    @property
    def final(self) -> float:
        """True ΔE00 when it ended."""
        return self.path[-1]

    def within(self, corrections: int, good: float = GOOD) -> bool:
        """Whether the true colour was reached in so many corrections."""
        return min(self.path[: corrections + 1]) <= good

    @property
    def stuck(self) -> bool:
        """Nothing more is advised, though the eye still differed at its last look and the truth is beyond `OPEN`."""
        return self.end in ("stop", "done") and self.said > 0 and self.final > OPEN


def started(way: Way, target: Array, rng: np.random.Generator) -> Start:
    """What the shop begins with."""
    if way.start == "instrument":
        return Start("instrument", target + rng.normal(0.0, 0.25, 3), 0.3)
    if way.start == "photo":
        return Start("photo", off_grey_card(target, rng), 5.0)
    return Start("swatch", guessed(target, rng), 6.0)


def run_job(shop: Shop, advisor: Advisor, observer: Observer, way: Way) -> Result:
    """One unknown target, from the first cup until the advisor ends it or eight corrections were made."""
    rng = shop.random
    aim = shop.unknown()
    observer.begin()
    camera = Camera.drawn(rng)
    actual = shop.weighed(advisor.begin(started(way, aim.dry(), rng)))
    first = poured = sum(actual.values())
    path = [float(delta_e00(shop.paint(actual).dry(), aim.dry()))]
    wet, dried, looks, dry_looks, words, end = way.wet, False, 0, 0, (), "looks"
    while looks < MOST_LOOKS:
        cup, seen = shop.paint(actual).seen(wet=wet), aim.seen(wet=wet)
        words = () if way.instrument else observer.compare(cup, seen)
        photo = camera.difference(cup, seen, rng) if way.photo else None
        read = cup - seen + rng.normal(0.0, 0.25, 3) if way.instrument else None
        # a second look at the same dry stick costs no drying
        looks, dry_looks = looks + 1, dry_looks + (not wet and not dried)
        dried = not wet
        advisor.look(Look(wet, words, photo, read))
        advice = advisor.advice()
        wet = wet and advice.act != "dry"
        if advice.act in ("done", "stop"):
            end = advice.act
            break
        if advice.act == "pour":
            if len(path) > MOST:
                end = "corrections"
                break
            added = shop.weighed(advice.grams)
            kept = {} if advice.fresh else actual
            actual = {key: kept.get(key, 0.0) + added.get(key, 0.0) for key in kept | added}
            poured += sum(added.values())
            advisor.poured(advice.grams, fresh=advice.fresh)
            path.append(float(delta_e00(shop.paint(actual).dry(), aim.dry())))
            wet, dried = way.wet, False
    believed, covariance = advisor.target()
    advisor.close()
    error = float(delta_e00(believed, aim.dry()))
    return Result(
        tuple(path),
        poured / first - 1.0,
        looks,
        dry_looks if way.wet else 0,
        end,
        len(words),
        error,
        told_sd(believed, covariance),
    )


def told_sd(colour: Array, covariance: Array) -> float:
    """Root mean square ΔE00 that a covariance (3, 3) about a colour stands for, by a sigma-point sum: no metric of the engine's."""
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    square = 0.0
    for value, vector in zip(np.maximum(values, 0.0), vectors.T, strict=True):
        step = 0.2 * vector
        square += value * float(delta_e00(colour, colour + step)) ** 2 / 0.04
    return float(np.sqrt(square))


Maker = Callable[[Shop, Way], Advisor]


def first_jobs(way: Way, maker: Maker, shops: Sequence[int]) -> list[Result]:
    """One job in each of many shops that know nothing yet."""
    found = []
    for seed in shops:
        shop = Shop(seed, way.far)
        observer = Observer(np.random.default_rng([31, seed]), way.noisier)
        found.append(run_job(shop, maker(shop, way), observer, way))
    return found


def long_run(way: Way, maker: Maker, shops: Sequence[int], jobs: int = 20) -> list[list[Result]]:
    """So many jobs one after the other in each shop, with one advisor that remembers."""
    found = []
    for seed in shops:
        shop = Shop(seed, way.far)
        advisor, observer = maker(shop, way), Observer(np.random.default_rng([31, seed]), way.noisier)
        found.append([run_job(shop, advisor, observer, way) for _ in range(jobs)])
    return found
