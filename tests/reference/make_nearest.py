"""Write `nearest_found.json`: the nearest colours that a slow global search finds. `python tests/reference/make_nearest.py` (half an hour).

The search is SciPy's differential evolution over the volumes of all twelve pigments together (of which the five largest count where a recipe may have no more),
from several seeds, each ended by a simplex search. It uses the films and the colour formulae, which have published checks of their own, but nothing of the engine
that matches: no subsets, no slopes.

Targets: the textiles, paints and plastics among the 99 test samples of CIE 224:2017 / IES TM-30 (spectra from colour-science; which sample is which from the
type list that luxpy carries), and 76 measured paints: `earthlib` 1.1.0 (MIT), level 3 "paint", "urban reflectance spectra from santa barbara", 400-700 nm by 10 nm.
The paints' spectra are kept in the file, so that the test needs neither package; `--paints FOLDER` takes them anew from an unpacked earthlib.
"""

import argparse
import csv
import json
import os
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.optimize import differential_evolution, minimize

os.environ.setdefault("COLOUR_SCIENCE__FILTER_USAGE_WARNINGS", "True")
import colour

from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.demo.make_colours import pigments

FOUND = Path(__file__).with_name("nearest_found.json")
TEXTILES = (0, 1, 5, 10, 15, 16, 25, 28, 31, 40, 42, 46, 56, 61, 73, 78, 81, 82, 85, 93, 97)
PAINTS = (4, 7, 20, 21, 30, 32, 47, 48, 57, 92)
PLASTICS = (6, 13, 18, 23, 45, 52, 58, 63, 65, 66, 89, 98)
KINDS = {"textile": TEXTILES, "paint": PAINTS, "plastic": PLASTICS}
LIGHTS = {"D65": ("D65",), "worst": ("D65", "A", "FL11")}
SEEDS = {"D65": 1, "worst": 3}
MOST = 5
KNOWN = list(pigments().values())
K, S = np.array([p.k for p in KNOWN]), np.array([p.s for p in KNOWN])


def cie_samples() -> np.ndarray:
    """The 99 spectra of CIE 224, (99, 31)."""
    from colour.quality.cfi2017 import load_TCS_CIE2017

    table = load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
    return np.array([np.interp(WAVELENGTHS, table.wavelengths, column) for column in table.values.T])


def earthlib_paints(folder: Path) -> dict[str, np.ndarray]:
    """The 76 paints of an unpacked earthlib, each (31,)."""
    with (folder / "earthlib/data/spectra.csv").open(encoding="utf-8", newline="") as file:
        wanted = [row["NAME"] for row in csv.DictReader(file) if row["LEVEL_3"] == "paint"]
    head = (folder / "earthlib/data/spectra.sli.hdr").read_text(encoding="utf-8")

    def listed(name: str) -> list[str]:
        inside = re.search(name + r" = \{(.*?)\}", head, re.S)
        assert inside is not None
        return [word.strip() for word in inside.group(1).split(",")]

    bands = np.array([float(w) for w in listed("wavelength")])
    nm = bands * 1000 if bands.max() < 100 else bands
    names = listed("spectra names")
    raw = np.fromfile(folder / "earthlib/data/spectra.sli", dtype="<f4").reshape(len(names), len(nm))
    at = [int(np.flatnonzero(np.isclose(nm, w))[0]) for w in WAVELENGTHS]
    return {name: raw[names.index(name), at].astype(float) for name in wanted}


def targets(paints: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Every target by its name."""
    samples = cie_samples()
    found = {f"CIE 224 {kind} {n}": samples[n] for kind, numbers in KINDS.items() for n in numbers}
    return found | {f"earthlib {name}": spectrum for name, spectrum in paints.items()}


def shares(z: np.ndarray, most: int) -> np.ndarray:
    """Relative volumes (n, 12) from logarithms (n, 12); the largest count, the others are left out."""
    v = np.exp(z - z.max(axis=1, keepdims=True))
    if most < v.shape[1]:
        v[v < np.sort(v, axis=1)[:, [-most]]] = 0.0
    return v


def miss(target: np.ndarray, lights: tuple[str, ...], most: int) -> Callable[[np.ndarray], np.ndarray]:
    """ΔE00 to the target, the worst over the lights, as a function of logarithms (12, n) of the volumes."""
    aims = [lab(target, light) for light in lights]

    def off(z: np.ndarray) -> np.ndarray:
        v = shares(z.T, most)
        read = seen(opaque(v @ K, v @ S), Surface())
        return np.max(
            [delta_e00(lab(read, light), aim) for light, aim in zip(lights, aims, strict=True)], axis=0
        )

    return off


def slow_search(target: np.ndarray, lights: tuple[str, ...], seeds: int = 4, rounds: int = 300) -> float:
    """Least ΔE00 (worst over the lights) that differential evolution and a simplex find."""
    most = len(KNOWN) if len(lights) == 1 else MOST
    off = miss(target, lights, most)
    best = np.inf
    for seed in range(seeds):
        found = differential_evolution(
            off,
            [(-12, 0)] * len(KNOWN),
            popsize=12,
            maxiter=rounds,
            tol=1e-6,
            seed=seed,
            vectorized=True,
            updating="deferred",
            polish=False,
        )
        ended = minimize(
            lambda z: float(off(z[:, None])[0]),
            found.x,
            method="Nelder-Mead",
            options={"maxfev": 600, "xatol": 1e-5, "fatol": 1e-6},
        )
        best = min(best, float(found.fun), float(ended.fun))
        if best < 1e-4:
            break
    return best


def main() -> None:
    """Search for every target and write the file."""
    wish = argparse.ArgumentParser(description="Search slowly for the nearest colours.")
    wish.add_argument("--paints", type=Path, help="folder into which earthlib was unpacked")
    folder = wish.parse_args().paints
    if folder is not None:
        paints = earthlib_paints(folder)
    else:
        kept = json.loads(FOUND.read_text(encoding="utf-8"))["earthlib"]
        paints = {name: np.array(values) for name, values in kept.items()}
    found = {}
    for name, target in targets(paints).items():
        found[name] = {
            way: round(slow_search(target, lights, SEEDS[way]), 5) for way, lights in LIGHTS.items()
        }
        print(name, found[name], flush=True)
    rows = {name: [round(float(v), 5) for v in values] for name, values in paints.items()}
    lines = [f"  {json.dumps(name)}: {json.dumps(value)}" for name, value in found.items()]
    spectra = [f"  {json.dumps(name)}: {json.dumps(value)}" for name, value in rows.items()]
    FOUND.write_text(
        '{\n "found": {\n'
        + ",\n".join(lines)
        + '\n },\n "earthlib": {\n'
        + ",\n".join(spectra)
        + "\n }\n}\n",
        encoding="utf-8",
    )


if __name__ == "__main__":
    main()
