"""The simulated shops of the benches "by eye": what paint really does there, wet and dry, by another physics than the engine's.

A film that hides scatters as a half-infinite medium behind a smooth Fresnel surface; its reflectance hangs on the albedo alone, and comes from adding-doubling (S. A. Prahl's
`iadpython`; S. A. Prahl, M. J. C. van Gemert, A. J. Welch, Appl. Opt. 32 (1993) 559) as a table. The engine knows two fluxes and Saunderson's surface instead. Bottles start
from the illustrative set's optical coefficients (K = 2μa, S = ¾μs', its own definition) and are bent in ways that the engine does not draw: strength by a factor, colour
against hiding, edges that move along the spectrum, a tilt of the scattering, dirt. White crowds itself out. Sizes of all these are from memory.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import WAVELENGTHS, lab

Array = NDArray[np.float64]
BASE = "base"
CUP_G = 150.0
DROP_G = 0.05
WEIGHING = 0.005
"""Relative error of each pour (one sd)."""
DRY_INDEX, WET_INDEX = 1.5, 1.37
CROWDING = 0.3
"""Share of its scattering that white loses where it is the only pigment."""
STRONG = {"PBk7", "PB15", "PG7", "PV23", "PR254", "PY154", "PO73"}


@dataclass(frozen=True, slots=True, eq=False)
class Bottle:
    """What a bottle holds, or is said to hold: μa and μs' (31,) per µm at unit volume, and the dispersion's density in g/mL."""

    absorbs: Array
    scatters: Array
    density: float


@dataclass(frozen=True, slots=True)
class Distance:
    """How far a shop's bottles are from what is known of them (standard deviations)."""

    strength: float = float(np.log(2.0))
    hiding: float = 0.12
    edge_nm: float = 4.0
    tilt: float = 0.06
    dirt: float = 0.004


ILLUSTRATIVE = Distance()
CHARACTERISED = Distance(0.03, 0.015, 0.4, 0.01, 0.0002)


@lru_cache
def half_infinite(index: float) -> tuple[Array, Array]:
    """Reflectance for light from straight above (surface included) of a medium that hides, by albedo: two arrays, for interpolation in −ln(1 − albedo)."""
    import iadpython

    steps = np.linspace(0.0, 9.5, 77)
    read = [
        iadpython.Sample(a=float(1.0 - np.exp(-x)), b=1e4, g=0.0, n=index, quad_pts=16).rt()[0] for x in steps
    ]
    return steps, np.array(read, dtype=float)


def reflectance(absorbs: Array, scatters: Array, index: float) -> Array:
    """Of a film that hides, shape of the inputs."""
    steps, read = half_infinite(index)
    albedo = scatters / np.maximum(absorbs + scatters, 1e-12)
    return np.interp(-np.log(np.maximum(1.0 - albedo, 1e-6)), steps, read)


@lru_cache
def book() -> dict[str, Bottle]:
    """What a new shop is told of its pigments: the illustrative set."""
    from hidewright.colour.pigments.generic import generic_set

    return {
        one.pigment.key: Bottle(one.pigment.k / 2.0, one.pigment.s / 0.75, one.pigment.density)
        for one in generic_set()
    }


def bent(bottle: Bottle, far: Distance, rng: np.random.Generator) -> Bottle:
    """A bottle as it really is."""
    strength, colour = rng.normal(0.0, far.strength), rng.normal(0.0, far.hiding)
    moved = WAVELENGTHS + rng.normal(0.0, far.edge_nm)
    tilt = rng.normal(0.0, far.tilt) * (WAVELENGTHS - 550.0) / 150.0
    absorbs = np.interp(moved, WAVELENGTHS, bottle.absorbs) * np.exp(strength + colour)
    dirt = abs(rng.normal(0.0, far.dirt)) * bottle.scatters.mean()
    scatters = np.interp(moved, WAVELENGTHS, bottle.scatters) * np.exp(strength + tilt)
    return Bottle(absorbs + dirt, scatters, bottle.density)


@dataclass(frozen=True, slots=True, eq=False)
class Paint:
    """A mix as it is: μa and μs' (31,) of its pigments in a unit volume of the wet mix, the share of base there, and the milk of that base at 550 nm per µm."""

    absorbs: Array
    scatters: Array
    base: float
    milk: float

    def dry(self) -> Array:
        """Lab (3,) of the dry film, D65 and 10°."""
        return lab(reflectance(self.absorbs, self.scatters, DRY_INDEX))

    def wet(self) -> Array:
        """Lab (3,) while wet: the base's droplets scatter, more at short waves, and the surface is that of water."""
        milk = self.base * self.milk * (0.4 + 0.6 * (550.0 / WAVELENGTHS) ** 3)
        return lab(reflectance(self.absorbs, 0.92 * self.scatters + milk, WET_INDEX))

    def seen(self, *, wet: bool) -> Array:
        """Lab (3,) in the state asked for."""
        return self.wet() if wet else self.dry()


class Shop:
    """One shop: its bottles, its balance, and the paints that are to be matched there. Deterministic for a seed."""

    def __init__(self, seed: int, far: Distance = ILLUSTRATIVE) -> None:
        self.random = np.random.default_rng([13, seed])
        self.bottles = {key: bent(bottle, far, self.random) for key, bottle in book().items()}
        self.milk = float(np.exp(self.random.normal(np.log(0.03), 0.4)))
        self.base_density = 1.03

    def weighed(self, grams: Mapping[str, float]) -> dict[str, float]:
        """Grams that really went in: in whole drops, each pour with its error."""
        return {
            key: max(round(g / DROP_G), 1) * DROP_G * float(np.exp(self.random.normal(0.0, WEIGHING)))
            for key, g in grams.items()
            if g > 0.0
        }

    def paint(self, grams: Mapping[str, float]) -> Paint:
        """The mix of these true grams of bottles and base."""
        volumes = {key: g / self.bottles[key].density for key, g in grams.items() if key != BASE}
        base = grams.get(BASE, 0.0) / self.base_density
        whole = base + sum(volumes.values())
        crowd = 1.0 - CROWDING * volumes.get("PW6", 0.0) / sum(volumes.values())
        absorbs = np.sum([v * self.bottles[key].absorbs for key, v in volumes.items()], axis=0) / whole
        scatters = np.sum(
            [v * self.bottles[key].scatters * (crowd if key == "PW6" else 1.0) for key, v in volumes.items()],
            axis=0,
        )
        return Paint(absorbs, scatters / whole, base / whole, self.milk)

    def unknown(self) -> Paint:
        """A paint that somebody else made, of a colour that leather has: three or four pigments, a spectrum of its own, another load and another base."""
        while True:
            paint = self._mixed_elsewhere()
            here = paint.dry()
            if 18.0 < here[0] < 88.0 and np.hypot(here[1], here[2]) < 55.0:
                return paint

    def _mixed_elsewhere(self) -> Paint:
        quiet = [key for key in self.bottles if key not in STRONG]
        chosen = [str(key) for key in self.random.choice(quiet, 2, replace=False)]
        rest = [key for key in self.bottles if key not in chosen]
        chosen += [str(k) for k in self.random.choice(rest, int(self.random.integers(1, 3)), replace=False)]
        parts = self.random.dirichlet(np.full(len(chosen), 1.2)) + 0.03
        load = float(self.random.uniform(0.13, 0.21))
        grams = {
            key: float(part) * (0.15 if key in STRONG else 1.0) * self.bottles[key].density
            for key, part in zip(chosen, parts, strict=True)
        }
        pure = self.paint(grams)
        wave = self.random.normal(0.0, 0.02) * np.sin(WAVELENGTHS / 40.0 + self.random.uniform(0.0, 6.0))
        milk = self.milk * float(np.exp(self.random.normal(0.0, 0.25)))
        return Paint(load * pure.absorbs * np.exp(wave), load * pure.scatters, (1.0 - load) * 1.0, milk)
