"""Honest spread in shops whose bottles stray in another way than the engine's prior says: does the prior that is fitted to the shop's own cups hold the truth?

Truth: the demonstration's pigments bent as `eye_world` bends them (strength, colour against hiding, edges that move, a tilt), not by the engine's smooth curves, through a surface whose index is off. Each shop reads
twelve cups, fits its prior, learns, and forecasts eighteen more. Beside it the same with the usual prior and with the rough one. Seeds 7100 onward (7000 to 7099 were tuned on); `python tests/bench/bench_colour_stray.py 16` runs 16 shops a row.
"""

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.eye_world import Bottle, Distance, bent
from hidewright.colour.learning.cup import Cup, Pour
from hidewright.colour.learning.learn import Knowledge, learn
from hidewright.colour.learning.lots import ROUGH, USUAL, Prior, Stock, stock_of
from hidewright.colour.learning.stray import fitted_prior
from hidewright.colour.light.cie import lab
from hidewright.colour.pigments.film import opaque, seen, surface_of_index
from hidewright.demo.make_colours import pigments

FIRST, TAUGHT, AHEAD = 7100, 12, 18
NOISE = 0.002
SHOPS = {
    "as usual": Distance(0.10, 0.03, 1.0, 0.03, 0.0),
    "rough": Distance(0.17, 0.06, 2.0, 0.06, 0.0),
    "very rough": Distance(0.35, 0.12, 4.0, 0.12, 0.0),
}


class Truth:
    """One shop's bottles, balance and instrument."""

    def __init__(self, far: Distance, seed: int) -> None:
        self.random = np.random.default_rng([17, seed])
        self.library = list(pigments().values())
        self.bottles = {p.key: bent(Bottle(p.k, p.s, p.density), far, self.random) for p in self.library}
        self.surface = surface_of_index(1.5 + float(self.random.normal(0.0, 0.02)))

    def cup(self, number: int) -> tuple[Cup, np.ndarray]:
        """A cup of white and three others, with its reading, and its true Lab."""
        keys = [p.key for p in self.library if p.key != "PW6"]
        chosen = [str(k) for k in self.random.choice(keys, 3, replace=False)]
        grams = {"PW6": float(self.random.uniform(5, 25))}
        grams |= {k: float(self.random.uniform(0.5, 6)) for k in chosen}
        k, s = np.zeros(31), np.zeros(31)
        for key, g in grams.items():
            bottle = self.bottles[key]
            volume = g * float(np.exp(self.random.normal(0.0, 0.005))) / bottle.density
            k, s = k + volume * bottle.absorbs, s + volume * bottle.scatters
        true = seen(opaque(k, s), self.surface)
        cup = Cup(f"cup {number}", tuple(Pour(key, g) for key, g in grams.items()))
        return cup.seen(np.clip(true + self.random.normal(0, NOISE, 31), 0, 1.2), NOISE), lab(true)


def inside(stock: Stock, prior: Prior, taught: list[Cup], ahead: list[tuple[Cup, np.ndarray]]) -> float:
    """Share of the forecasts' 90 % intervals of L*, a*, b* that hold the truth."""
    known: Knowledge = learn(replace(stock, prior=prior), taught)
    held = []
    for cup, true in ahead:
        low, high = known.open(Cup("ahead", cup.pours)).forecast().interval90()
        held.append((low <= true) & (true <= high))
    return float(np.mean(held))


def shop(far: Distance, seed: int) -> tuple[dict[str, float], Prior]:
    """One shop: shares held by each prior, and what was fitted."""
    truth = Truth(far, seed)
    taught = [truth.cup(n)[0] for n in range(TAUGHT)]
    ahead = [truth.cup(n) for n in range(AHEAD)]
    stock = stock_of(truth.library)
    fitted = fitted_prior(stock, taught)
    ways = {"fitted": fitted, "usual": USUAL, "rough": ROUGH}
    return {name: inside(stock, prior, taught, ahead) for name, prior in ways.items()}, fitted


def sections(shops: int = 8) -> Iterator[dict[str, object]]:
    """One row a kind of shop, as it is ready."""
    for name, far in SHOPS.items():
        found = [shop(far, FIRST + n) for n in range(shops)]
        share = {way: float(np.mean([held[way] for held, _ in found])) for way in found[0][0]}
        single = [held["fitted"] for held, _ in found]
        strength, shape = (np.median([getattr(p, n) for _, p in found]) for n in ("strength", "shape"))
        yield {
            "stage": "colour",
            "name": f"honest spread, a shop {name}, {TAUGHT} cups taught, {AHEAD} ahead: prior fitted to its cups",
            "value": round(share["fitted"], 3),
            "unit": "share of 90 % intervals",
            "goal": "0.85 to 0.95",
            "holds": 0.85 <= share["fitted"] <= 0.95,
            "baseline": f"usual prior {share['usual']:.3f}, rough prior {share['rough']:.3f}; single shops {min(single):.2f} to {max(single):.2f}; fitted strength {strength:.3f}, shape {shape:.3f} (medians)",
        }


def run(shops: int = 8) -> list[dict[str, object]]:
    """All rows of this bench."""
    return list(sections(shops))


if __name__ == "__main__":
    for line in sections(int(sys.argv[1]) if len(sys.argv) > 1 else 8):
        print({k: line[k] for k in ("name", "value", "goal", "holds", "baseline")}, flush=True)
