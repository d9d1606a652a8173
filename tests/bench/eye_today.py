"""The way by eye before comparisons were kept as differences (as the tool did it at the start of this work): a named rival of the benches "by eye".

The target's photo or guess is taken as exact, by the smoothest spectrum that has its colour; dry words become an absolute CIELAB of the cup with a wide spread, once and for all;
wet words are dropped; the safest addition is poured, and what the engine calls good enough ends the job. The rules for words are kept here as they were; learning, match and
additions are the engine's own.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from bench.eye_adapter import Advice, Look, Start
from bench.eye_rivals import BASE_DENSITY
from bench.eye_world import BASE, CUP_G, DROP_G, Bottle, Shop, book
from hidewright.colour.cups.adjust import AdjustProblem, adjust
from hidewright.colour.learning.cup import Cup, Pour
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import USUAL, Lot, Stock
from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.local import metric
from hidewright.colour.light.smooth import smoothest
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.generic import SPREAD, generic_set
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.recipes.match import MatchProblem, match

Array = NDArray[np.float64]
AXES = {
    "lighter": (0, 1.0),
    "darker": (0, -1.0),
    "redder": (1, 1.0),
    "greener": (1, -1.0),
    "yellower": (2, 1.0),
    "bluer": (2, -1.0),
    "cleaner": (3, 1.0),
    "greyer": (3, -1.0),
}
SIZES = {"a touch": 0.8, "clearly": 2.0, "much": 4.0, "far off": 4.0}
NEAR_GREY = 3.0


def absolute(target: Array, words: Sequence[tuple[str, str]]) -> tuple[Array, Array]:
    """What is said of the cup against a target (31,) as CIELAB of the cup and its covariance, the way it was."""
    middle = lab(target)
    chroma = float(np.hypot(middle[1], middle[2]))
    hue = np.array([0.0, middle[1], middle[2]]) / max(chroma, 1e-9)
    directions = [*np.eye(3), hue]
    turn = metric(middle)
    information, pull = turn.T @ turn, np.zeros(3)
    for word, strength in words:
        axis, sign = AXES[word]
        if axis == 3 and chroma < NEAR_GREY:
            continue
        direction = directions[axis]
        size = SIZES[strength] / float(np.linalg.norm(turn @ direction))
        along = information @ direction
        information = information - np.outer(along, along) / float(direction @ along)
        weight = 1.0 / (0.5 * size) ** 2
        information = information + weight * np.outer(direction, direction)
        pull = pull + weight * sign * size * direction
    covariance = np.linalg.inv(information)
    return middle + covariance @ pull, 0.5 * (covariance + covariance.T)


def stock_from(bottles: Mapping[str, Bottle] | None) -> Stock:
    """What the engine is given: the illustrative set with its own spread, or bottles as characterised (K = 2μa, S = ¾μs')."""
    lots = []
    for one in generic_set():
        pigment, spread = one.pigment, SPREAD
        if bottles is not None:
            real = bottles[pigment.key]
            pigment = Pigment(
                pigment.key,
                pigment.name,
                pigment.index,
                2.0 * real.absorbs,
                0.75 * real.scatters,
                pigment.density,
                pigment.solids,
            )
            spread = 1.0
        lots.append(Lot(pigment.key, pigment, spread))
    return Stock(tuple(lots), Base(density=BASE_DENSITY), USUAL, Surface())


def first_cup(known: Knowledge, target: Array) -> dict[str, float]:
    """Grams of a first cup: of the best recipes the one whose colour and spread together are least."""
    problem = MatchProblem(
        target,
        known.pigments(),
        known.stock.base,
        lights=("D65",),
        load=(0.16, 0.17),
        surface=known.surface,
        keep=16,
        step_g=DROP_G / (CUP_G / 1.1) * 1000.0,
    )
    cups = []
    for recipe in match(problem).recipes:
        scale = CUP_G / sum(p.mass for p in recipe.parts)
        grams = {p.key: max(round(p.mass * scale / DROP_G), 1) * DROP_G for p in recipe.parts if p.mass > 0}
        seen = known.forecast(grams)
        off = float(delta_e00(seen.lab(), lab(target)))
        cups.append((float(np.hypot(off, seen.spread())), grams))
    return min(cups, key=lambda pair: pair[0])[1]


class Today:
    """An advisor that works so: `Advisor` of `eye_adapter`."""

    def __init__(self, stock: Stock) -> None:
        self.known = Knowledge.fresh(stock)

    def begin(self, start: Start) -> Mapping[str, float]:
        """The first cup, for the start's colour as if it were exact."""
        self.aim, self.start = smoothest(start.lab), start
        grams = first_cup(self.known, self.aim)
        self.cup = Cup("job", tuple(Pour(key, g) for key, g in grams.items()))
        return grams

    def look(self, look: Look) -> None:
        """Dry words and instrument readings count; wet words are dropped."""
        if look.instrument is not None:
            self.cup = self.cup.seen(lab(self.aim) + look.instrument, 0.25**2 * np.eye(3))
        elif not look.wet:
            self.cup = self.cup.seen(*absolute(self.aim, look.words))
        self.agreed = look.instrument is None and not look.words

    def advice(self) -> Advice:
        """The safest addition, until it is called good enough."""
        if self.agreed:
            return Advice("done")
        opened = self.known.open(self.cup)
        known = opened.knowledge
        volumes = opened.volumes()
        base = volumes.pop(BASE, 0.0)
        problem = AdjustProblem(
            Contents(volumes, base),
            self.aim,
            known.pigments(),
            known.stock.base,
            known.surface,
            spread_of=lambda grams: opened.forecast([Pour(k, g) for k, g in grams.items()]).spread(),
        )
        found = adjust(problem)
        if found.stop or not found.additions:
            return Advice("stop")
        return Advice("pour", dict(found.additions[0].grams))

    def poured(self, grams: Mapping[str, float], *, fresh: bool) -> None:
        """Into the cup."""
        self.cup = self.cup.poured([Pour(key, g) for key, g in grams.items()])

    def target(self) -> tuple[Array, Array]:
        """What the start said, for ever."""
        return self.start.lab, self.start.sd**2 * np.eye(3)

    def close(self) -> None:
        """Keep what the cup told of the bottles."""
        self.known = self.known.open(self.cup).close()


def today(_shop: Shop, _way: object = None) -> Today:
    """With the illustrative set."""
    return Today(stock_from(None))


def today_characterised(shop: Shop, _way: object = None) -> Today:
    """With these very bottles' own coefficients."""
    return Today(stock_from(shop.bottles))


__all__ = ["Today", "absolute", "book", "stock_from", "today", "today_characterised"]
