"""Pigments and the clear base, and what a mix of them absorbs and scatters.

A mix is volumes of pigment dispersions and of clear base. When it has dried, a unit volume of film holds cᵢ volumes of dispersion i,
and K = Σ cᵢkᵢ, S = Σ cᵢsᵢ (Duncan 1940). kᵢ and sᵢ are per µm of film at cᵢ = 1. The clear base adds nothing once dry.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS
from hidewright.colour.light.spectra import amounts, numbers, spectrum, within
from hidewright.refusals import Refusal

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Pigment:
    """One pigment dispersion.

    `k`, `s`: shape (31,), per µm of dry film at unit volume of dispersion. `density` g/mL of the dispersion; `solids` the share of its
    volume that stays when dry (0..1); `price` money per mL; `index` its Colour Index generic name; `tint` a hex for the screen.
    """

    key: str
    name: str
    index: str
    k: Array
    s: Array
    density: float = 1.2
    solids: float = 0.4
    price: Decimal = Decimal("0")
    illustrative: bool = False
    covariance: Array | None = field(default=None, repr=False)
    """Optional (2, 31): relative standard deviations of k and s."""
    load: float = 1.0
    """The share of its volume that counts as pigment dispersion: 1 for a dispersion, less for a leftover jar of mixed colour."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "k", spectrum(self.k, f"{self.key} k"))
        object.__setattr__(self, "s", spectrum(self.s, f"{self.key} s"))
        if not 0.5 <= self.density <= 6.0:
            raise Refusal(
                f"A density of {self.density} g/mL is not that of a dispersion.",
                where=self.key,
                remedy="It lies from 0.5 to 6.",
            )
        if not 0.01 <= self.solids <= 1.0:
            raise Refusal(
                f"Volume solids of {self.solids} cannot be.",
                where=self.key,
                remedy="Write it as a share from 0.01 to 1.",
            )
        if self.covariance is not None:
            spread = numbers(self.covariance, (2, BANDS), f"{self.key}: spread of k and s")
            if spread.min() < 0.0:
                raise Refusal("A spread lies from 0 up.", where=self.key)
        if not 0.0 < self.load <= 1.0:
            raise Refusal(f"A pigment share of {self.load} cannot be.", where=self.key)


@dataclass(frozen=True, slots=True)
class Base:
    """The clear base: `density` g/mL, `solids` the share of its volume that stays, `price` money per mL."""

    key: str = "base"
    name: str = "Clear base"
    density: float = 1.03
    solids: float = 0.25
    price: Decimal = Decimal("0")

    def __post_init__(self) -> None:
        if not 0.5 <= self.density <= 2.0:
            raise Refusal(f"A density of {self.density} g/mL is not that of a base.", where=self.key)
        if not 0.05 <= self.solids <= 1.0:
            raise Refusal(f"Volume solids of {self.solids} cannot be.", where=self.key)


def dry_shares(
    volumes: Mapping[str, float], pigments: Mapping[str, Pigment], base: Base, base_volume: float
) -> dict[str, float]:
    """cᵢ: volume of each dispersion per unit volume of dry film, from volumes (any one unit) in the mix."""
    if volumes:
        amounts(volumes, "mix")
    within(base_volume, 0.0, 1e9, "An amount of base", "mix")
    dry = base_volume * base.solids + sum(v * pigments[k].solids for k, v in volumes.items())
    if dry <= 0:
        raise Refusal("The mix has nothing that stays when it dries.", where="mix")
    return {key: volume / dry for key, volume in volumes.items()}


def mixed(shares: Mapping[str, float], pigments: Mapping[str, Pigment]) -> tuple[Array, Array]:
    """K and S of a dry film, each (31,), per µm."""
    if shares:
        amounts(shares, "film")
    k = sum((c * pigments[key].k for key, c in shares.items()), np.zeros(BANDS))
    s = sum((c * pigments[key].s for key, c in shares.items()), np.zeros(BANDS))
    return np.asarray(k), np.asarray(s)
