"""Rebuild `cups.csv`: `python -m hidewright.demo.make_cups`.

Twelve cups of an invented shop, weighed and read: its bottles stray from their drawdowns as usual (`colour.simulate`), its base is milkier than the starting
values say. Halfway a new bottle of white, lot B2, is opened. Some cups were read wet too; one reading went wrong and is struck out. Nothing here was measured.
"""

import csv
import io
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cup import BASE
from hidewright.colour.light.cie import WAVELENGTHS
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.wet import Milk, look_wet
from hidewright.colour.simulate import USUAL, Shop

from .make_colours import pigments

Array = NDArray[np.float64]
MILK = Milk(amplitude=0.03, power=2.5)
"""What the invented base's milk really does."""
CUPS, HALFWAY, SEED = 12, 6, 20260309
CUP_ML, LOAD = 140.0, 0.17
WET, STRUCK = (1, 4, 8), 3
"""Cups that were read wet too, and the one whose first reading was of a dirty spot."""


def recipes(random: np.random.Generator) -> list[dict[str, float]]:
    """mL of each pigment in each cup: white or an earth, and two or three more."""
    weak = ["PW6", "PBr7", "PBr6", "PY42", "PR101"]
    strong = ["PBk7", "PR254", "PY154", "PO73", "PB15", "PG7", "PV23"]
    found = []
    for number in range(CUPS):
        keys = ["PW6", *random.choice(weak[1:], 2, replace=False), strong[number % len(strong)]]
        parts = random.dirichlet(np.ones(4)) + 0.08
        parts[3] *= 0.12
        volumes = CUP_ML * LOAD * parts / parts.sum()
        found.append({str(key): float(v) for key, v in zip(keys, volumes, strict=True)})
    return found


def _wet(grams: Mapping[str, float], shop: Shop) -> Array:
    volumes = {key: g / shop.truth[key].density for key, g in grams.items() if key != BASE}
    return look_wet(Contents(volumes, grams[BASE] / shop.base.density), list(shop.truth.values()), MILK)


def rows(seed: int = SEED) -> list[list[str]]:
    """Name, pours, state, struck and the bands of every reading; another seed is another shop."""
    shop = Shop(USUAL, list(pigments().values()), seed)
    second = Shop(USUAL, list(pigments().values()), seed + 1).truth["PW6"]
    told = []
    for number, volumes in enumerate(recipes(np.random.default_rng(seed))):
        if number == HALFWAY:
            shop.truth["PW6"] = second
        lot = {"PW6": "PW6#B2"} if number >= HALFWAY else {}
        base = CUP_ML * (1 - LOAD) * shop.base.density
        grams = {key: round(v * shop.truth[key].density, 2) for key, v in volumes.items()} | {
            BASE: round(base, 1)
        }
        words = " ".join(f"{lot.get(key, key)}={g:g}" for key, g in grams.items())
        actual = {key: shop.pour(g) for key, g in grams.items()}
        dry = shop.colour_of(actual)
        seen = [("dry", "", shop.read(dry))]
        if number in WET:
            seen.insert(0, ("wet", "", shop.read(_wet(actual, shop))))
        if number == STRUCK:
            seen.insert(0, ("dry", "yes", shop.read(0.6 * dry + 0.02)))
        for state, struck, values in seen:
            told.append([f"Cup {number + 1}", words, state, struck, *(f"{v:.5f}" for v in values)])
    return told


def text(seed: int = SEED) -> str:
    """The file's text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["name", "pours", "state", "struck", *(f"{w:.0f}" for w in WAVELENGTHS)])
    writer.writerows(rows(seed))
    return out.getvalue()


def main() -> None:
    """Write the file beside this module."""
    (Path(__file__).parent / "cups.csv").write_text(text(), encoding="utf-8")


if __name__ == "__main__":
    main()
