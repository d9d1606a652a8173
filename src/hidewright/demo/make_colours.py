"""Rebuild `drawdowns.csv`, `readings.csv`, `trim_readings.csv` and `launch_readings.csv`: `python -m hidewright.demo.make_colours`.

The pigments are invented: edges and bands in plausible places, named by Colour Index generic names. They are illustrative and stand for no product.
Readings get the noise of a good instrument (sd 0.15 %), seeded, so that the files come out the same each time.
"""

import csv
import io
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import WAVELENGTHS
from hidewright.colour.pigments.film import Surface, below, film, opaque, seen
from hidewright.colour.pigments.pigment import Base, Pigment, dry_shares, mixed

Array = NDArray[np.float64]
NOISE = 0.0015
CARD = {"black": 0.048, "white": 0.86}
MASSTONE_UM, TINT_UM = 45.0, 45.0
LOAD = 0.18
OTHERS = {
    "trim_readings.csv": (
        "Trim, behind the heater cover",
        {"PBr6": 1.0, "PR101": 0.25, "PY42": 0.3, "PW6": 0.06, "PBk7": 0.02},
    ),
    "launch_readings.csv": ("Navy, under a seam", {"PW6": 0.5, "PB15": 0.30, "PBk7": 0.14}),
}
"""File → the one reading in it and the pigments that it was made of: the second colour of the first job, and the colour of the second job."""


def _below(edge: float, width: float) -> Array:
    """Absorbs below an edge: 1 at short wavelengths, 0 at long ones."""
    return 1.0 / (1.0 + np.exp((WAVELENGTHS - edge) / width))


def _band(centre: float, width: float) -> Array:
    return np.asarray(np.exp(-(((WAVELENGTHS - centre) / width) ** 2)))


def _slope(power: float) -> Array:
    return (550.0 / WAVELENGTHS) ** power


def pigments() -> dict[str, Pigment]:
    """The twelve invented pigments, k and s per µm."""
    rows: list[tuple[str, str, Array, Array, float, float]] = [
        ("PW6", "White", 0.0006 + 0.09 * _below(412, 7), 0.55 * _slope(0.9), 1.95, 0.40),
        ("PBk7", "Black", 1.45 * _slope(0.25), 0.035 * _slope(1.2), 1.15, 0.30),
        ("PBr7", "Raw umber", 0.10 + 0.34 * _below(540, 70), 0.13 * _slope(0.5), 1.45, 0.38),
        ("PBr6", "Brown oxide", 0.12 + 0.44 * _below(575, 45), 0.17 * _slope(0.4), 1.55, 0.38),
        (
            "PY42",
            "Yellow oxide",
            0.012 + 0.33 * _below(512, 17) + 0.03 * _band(640, 60),
            0.24 * _slope(0.7),
            1.50,
            0.36,
        ),
        ("PR101", "Red oxide", 0.025 + 0.55 * _below(578, 14), 0.24 * _slope(0.5), 1.70, 0.36),
        (
            "PR254",
            "Clean red",
            0.004 + 0.62 * _below(592, 9) * (0.6 + 0.4 * _band(530, 70)),
            0.11 * _slope(0.8),
            1.12,
            0.28,
        ),
        ("PY154", "Clean yellow", 0.002 + 0.48 * _below(492, 10), 0.12 * _slope(0.9), 1.12, 0.28),
        ("PO73", "Orange", 0.003 + 0.55 * _below(555, 10), 0.12 * _slope(0.8), 1.12, 0.28),
        (
            "PB15",
            "Blue",
            0.01 + 0.85 * _band(625, 68) + 0.8 * _below(395, 14) + 0.5 * _band(700, 40),
            0.05 * _slope(1.2),
            1.14,
            0.28,
        ),
        (
            "PG7",
            "Green",
            0.01 + 0.75 * _band(645, 62) + 0.55 * _below(462, 18),
            0.06 * _slope(1.0),
            1.18,
            0.28,
        ),
        (
            "PV23",
            "Violet",
            0.03 + 0.95 * _band(550, 62) + 0.25 * _band(615, 25),
            0.05 * _slope(1.1),
            1.12,
            0.26,
        ),
    ]
    return {
        index: Pigment(index, name, index, k, s, density, solids, illustrative=True)
        for index, name, k, s, density, solids in rows
    }


def shares(parts: Mapping[str, float], known: Mapping[str, Pigment]) -> dict[str, float]:
    """Shares in the dry film of a mix whose pigment volume is 18 %, `parts` being the pigments' proportions."""
    total = sum(parts.values())
    return dry_shares({key: LOAD * part / total for key, part in parts.items()}, known, Base(), 1 - LOAD)


def _read(ideal: Array, noise: np.random.Generator) -> Array:
    return np.clip(ideal + noise.normal(0.0, NOISE, ideal.shape), 0.0005, None)


def drawdown_rows(
    known: Mapping[str, Pigment], noise: np.random.Generator
) -> list[tuple[str, str, float, str, Array]]:
    """(name, shares, microns, over, reading) of every drawdown and of the bare card."""
    surface = Surface()
    ground = {side: np.full(WAVELENGTHS.shape, value) for side, value in CARD.items()}
    rows: list[tuple[str, str, float, str, Array]] = [
        ("card", "", 0.0, side, value) for side, value in ground.items()
    ]
    for key in known:
        strong = key in ("PBk7", "PB15", "PG7", "PV23")
        mixes = {f"{key} masstone": {key: 1.0}}
        if key != "PW6":
            mixes[f"{key} tint"] = {key: 0.06 if strong else 0.25, "PW6": 1.0}
        for name, parts in mixes.items():
            c = {k: float(f"{v:.5g}") for k, v in shares(parts, known).items()}
            k, s = mixed(c, known)
            words = " ".join(f"{key}={value:.5g}" for key, value in c.items())
            for side in CARD:
                reading = seen(film(k, s, MASSTONE_UM, below(ground[side], surface)), surface)
                rows.append((name, words, MASSTONE_UM, side, _read(reading, noise)))
    return rows


def _csv(head: list[str], rows: list[list[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*head, *(f"{w:.0f}" for w in WAVELENGTHS)])
    writer.writerows(rows)
    return out.getvalue()


def readings(known: Mapping[str, Pigment], noise: np.random.Generator) -> dict[str, Array]:
    """The target (a warm mid-tone, hidden under a cushion) and the old colour (another shop's dull grey-brown coat)."""
    looks = {
        "Target, under the cushion": {"PW6": 1.0, "PBr7": 0.36, "PY42": 0.42, "PR101": 0.105, "PBk7": 0.012},
        "Old coat, back of chair 3": {"PW6": 0.7, "PBk7": 0.09, "PBr6": 0.55, "PR101": 0.2},
    }
    return {name: _look(name, parts, known, noise) for name, parts in looks.items()}


def _look(
    name: str, parts: Mapping[str, float], known: Mapping[str, Pigment], noise: np.random.Generator
) -> Array:
    """A reading of an opaque film that is not quite what the shop's own pigments give."""
    k, s = mixed(shares(parts, known), known)
    wobble = 1.0 + 0.02 * np.sin((WAVELENGTHS - 400) / 47.0 + len(name))
    return _read(seen(opaque(k * wobble, s), Surface()), noise)


def main() -> None:
    """Write the files beside this module."""
    here = Path(__file__).parent
    noise = np.random.default_rng(20260302)
    known = pigments()
    drawn = [
        [name, words, f"{microns:g}" if microns else "", over, *(f"{v:.5f}" for v in values)]
        for name, words, microns, over, values in drawdown_rows(known, noise)
    ]
    (here / "drawdowns.csv").write_text(_csv(["name", "shares", "microns", "over"], drawn), encoding="utf-8")
    use = {"Target, under the cushion": "target", "Old coat, back of chair 3": "old colour"}
    read = [
        [name, use[name], *(f"{v:.5f}" for v in values)] for name, values in readings(known, noise).items()
    ]
    (here / "readings.csv").write_text(_csv(["name", "use"], read), encoding="utf-8")
    noise = np.random.default_rng(20260303)
    for file, (name, parts) in OTHERS.items():
        row = [name, "target", *(f"{v:.5f}" for v in _look(name, parts, known, noise))]
        (here / file).write_text(_csv(["name", "use"], [row]), encoding="utf-8")


if __name__ == "__main__":
    main()
