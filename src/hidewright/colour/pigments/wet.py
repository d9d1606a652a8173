"""Wet and dry: the same pigments in more volume, in the milk of the base.

A wet mix holds vᵢ volumes of dispersion i and β of base in a unit volume: K = Σ vᵢkᵢ, S = Σ vᵢsᵢ + β·A·(550/λ)^p. The last term is the light scattered by the base's
small droplets; it vanishes as they run together, so that a mix dries darker. A and p are learned from the shop's own pairs of wet and dry readings. The starting values and
the wet surface (index 1.38, between water and binder) are from memory. The form (550/λ)^p is the usual empirical one for small scatterers; p is 4 for
very small ones (Rayleigh) and falls as they grow.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, WAVELENGTHS
from hidewright.colour.light.spectra import numbers
from hidewright.refusals import Refusal

from .contents import Contents
from .film import Surface, below, k_over_s, opaque, seen, surface_of_index
from .pigment import Pigment

Array = NDArray[np.float64]
WET_SURFACE = surface_of_index(1.38)


@dataclass(frozen=True, slots=True)
class Milk:
    """The base's milk: `amplitude` A per µm at 550 nm for base alone, `power` p; sd of ln A and of p; `pairs` it was learned from."""

    amplitude: float = 0.02
    power: float = 2.0
    amplitude_sd: float = 0.8
    power_sd: float = 0.8
    pairs: int = 0

    def __post_init__(self) -> None:
        if not 0.0 < self.amplitude < 10.0 or not 0.0 <= self.power <= 5.0:
            raise Refusal(
                "The milk's scattering cannot be right.",
                where="milk",
                remedy="Reset it to the usual figures.",
            )

    def times(self, ln_factor: float) -> "Milk":
        """Milk whose amplitude is e^`ln_factor` times as large."""
        return replace(self, amplitude=min(self.amplitude * float(np.exp(ln_factor)), 9.9))

    def scattering(self, base_share: float) -> Array:
        """S (31,) per µm that the milk adds at a share of base (0..1)."""
        return base_share * self.amplitude * (550.0 / WAVELENGTHS) ** self.power


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """One cup read wet and, later, dry, both hiding: readings (31,) each."""

    contents: Contents
    wet: Array
    dry: Array


def _per_volume(contents: Contents, pigments: Sequence[Pigment]) -> tuple[Array, Array, float]:
    known = {p.key: p for p in pigments}
    missing = sorted(set(contents.volumes) - set(known))
    if missing:
        raise Refusal(f"{', '.join(missing)} is in the cup but not known.", where="cup")
    k = np.sum([v * known[key].k for key, v in contents.volumes.items()], axis=0) / contents.total
    s = np.sum([v * known[key].s for key, v in contents.volumes.items()], axis=0) / contents.total
    jars = sum(v * (1.0 - known[key].load) for key, v in contents.volumes.items())
    return k, s, (contents.base_ml + jars) / contents.total


def look_dry(contents: Contents, pigments: Sequence[Pigment], surface: Surface | None = None) -> Array:
    """Reading (31,) of the mix when dry and hiding."""
    k, s, _ = _per_volume(contents, pigments)
    return seen(opaque(k, s), surface or Surface())


def look_wet(
    contents: Contents, pigments: Sequence[Pigment], milk: Milk | None = None, surface: Surface = WET_SURFACE
) -> Array:
    """Reading (31,) of the wet mix, thick enough to hide."""
    k, s, base = _per_volume(contents, pigments)
    return seen(opaque(k, s + (milk or Milk()).scattering(base)), surface)


def dry_from_wet(
    wet: Array,
    contents: Contents,
    pigments: Sequence[Pigment],
    milk: Milk | None = None,
    surface: Surface | None = None,
) -> Array:
    """What a wet reading (31,) of a known cup says it will look like when dry, (31,).

    What the wet reading differs from its forecast by is put down to absorption, band by band, and carried over.
    """
    wet = numbers(wet, (BANDS,), "wet reading")
    _, s, base = _per_volume(contents, pigments)
    scatter = s + (milk or Milk()).scattering(base)
    found = k_over_s(np.clip(below(wet, WET_SURFACE), 1e-4, 0.9999)) * scatter
    return seen(opaque(found, s), surface or Surface())


def wet_from_dry(
    dry: Array,
    contents: Contents,
    pigments: Sequence[Pigment],
    milk: Milk | None = None,
    surface: Surface | None = None,
) -> Array:
    """What a dry reading (31,) of a known cup says it looked like when wet, (31,): the way back."""
    dry = numbers(dry, (BANDS,), "dry reading")
    _, s, base = _per_volume(contents, pigments)
    found = k_over_s(np.clip(below(dry, surface or Surface()), 1e-4, 0.9999)) * s
    return seen(opaque(found, s + (milk or Milk()).scattering(base)), WET_SURFACE)


def learn_milk(
    pairs: Sequence[Pair],
    pigments: Sequence[Pigment],
    prior: Milk | None = None,
    surface: Surface | None = None,
    noise: float = 0.003,
) -> Milk:
    """A and p from pairs of wet and dry readings: least squares with the prior's spread (Gauss-Newton in ln A and p).

    The dry reading fixes each cup's absorption, so that errors of the pigments do not spoil the milk; `noise` is the reflectance sd of a wet reading.
    """
    start = prior or Milk()
    if not pairs:
        return start
    centre = np.array([np.log(start.amplitude), start.power])
    sd = np.array([start.amplitude_sd, start.power_sd])
    read = np.concatenate([pair.wet for pair in pairs])

    def told(theta: Array) -> Array:
        milk = replace(start, amplitude=float(np.exp(theta[0])), power=float(theta[1]))
        return np.concatenate(
            [wet_from_dry(pair.dry, pair.contents, pigments, milk, surface) for pair in pairs]
        )

    theta = centre.copy()
    low, high = np.array([np.log(1e-4), 0.0]), np.array([np.log(5.0), 5.0])
    for _ in range(25):
        here = told(theta)
        slopes = np.stack(
            [(told(np.clip(theta + e, low, high)) - here) / 1e-5 for e in 1e-5 * np.eye(2)], axis=-1
        )
        normal = slopes.T @ slopes / noise**2 + np.diag(1 / sd**2)
        step = np.linalg.solve(normal, slopes.T @ (read - here) / noise**2 + (centre - theta) / sd**2)
        theta = np.clip(theta + np.clip(step, -0.5, 0.5), low, high - 2e-5)
        if np.abs(step).max() < 1e-6:
            break
    spread = np.sqrt(np.diag(np.linalg.inv(normal)))
    return Milk(
        float(np.exp(theta[0])), float(theta[1]), float(spread[0]), float(spread[1]), start.pairs + len(pairs)
    )
