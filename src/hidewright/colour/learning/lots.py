"""Lots of pigment and how far each may stray from what its drawdowns said: the prior of everything that is learned.

Each lot's ln k(λ) and ln s(λ) deviate from its pigment's by one strength that both share and by smooth curves of their own: a Gaussian process
of sd `shape` and length `length` nm (squared exponential), kept as its first few eigenvectors (C. E. Rasmussen, C. K. I. Williams, Gaussian Processes
for Machine Learning, 2006, eq. 2.16 and §4.3). Two lots of one pigment are kin: part of what was learned about one holds for the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS
from hidewright.colour.light.spectra import smooth_basis
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.refusals import Refusal

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Prior:
    """How far things may be off before anything was read (standard deviations; all are conventions of this tool that the shop may change).

    `strength` of ln strength by lot; `shape` of ln k and ln s about it, smooth over `length` nm; `surface_k1`, `surface_k2` of the surface constants;
    `kin` correlation between two lots of one pigment; `weighing` relative error of a pour; `floor` reflectance that nothing explains.
    """

    strength: float = 0.10
    shape: float = 0.04
    length: float = 60.0
    surface_k1: float = 0.003
    surface_k2: float = 0.013
    kin: float = 0.7
    weighing: float = 0.005
    floor: float = 0.0004

    def __post_init__(self) -> None:
        for name in ("strength", "shape", "surface_k1", "surface_k2", "weighing", "floor"):
            if not 0.0 < getattr(self, name) < 2.0:
                raise Refusal(
                    f"A spread of {getattr(self, name)} cannot be.",
                    where=name,
                    remedy="Give a share above 0.",
                )
        if not 20.0 <= self.length <= 300.0:
            raise Refusal("The smoothness lies from 20 to 300 nm.", where="length")
        if not 0.0 <= self.kin < 1.0:
            raise Refusal("The kinship of two lots lies from 0 to below 1.", where="kin")

    def strength_at(self, spread: float) -> float:
        """sd of ln strength, before anything was seen, of a lot that may be off `spread` times as far (above 0, up to 20)."""
        return self.strength * spread**STRENGTH_MORE


STRENGTH_MORE = 1.4
"""Strength strays more than the shape of the curves where a pigment is known by another bottle: its sd grows with this power of the spread. At a spread of 4 a bottle may be a factor of 2 off (convention of
this tool, measured in simulated shops: docs/history.md)."""
USUAL = Prior()
"""Bottles that differ as usual."""
ROUGH = Prior(strength=0.20, shape=0.08)
"""Bottles that differ a lot, or drawdowns that were made in haste."""


@dataclass(frozen=True, slots=True, eq=False)
class Lot:
    """One bottle: its own key, and the pigment whose drawdowns it is judged by (`pigment.key` names the kind).

    `spread` is how many times as far as the prior says it may be off: more than 1 for a pigment that nobody drew down here.
    """

    key: str
    pigment: Pigment
    spread: float = 1.0

    def __post_init__(self) -> None:
        if not 0.0 < self.spread <= 20.0:
            raise Refusal(f"A spread of {self.spread} times the usual cannot be.", where=self.key)

    @property
    def kind(self) -> str:
        """The key of its pigment: lots of one kind are kin."""
        return self.pigment.key


@dataclass(frozen=True, slots=True, eq=False)
class Stock:
    """What can be poured: lots, the base, and what is assumed of surface and spreads. Lays out the vector of unknowns.

    The unknowns θ are in units of their prior sd: two for the surface, then for each lot one strength, r for ln k and r for ln s.
    """

    lots: tuple[Lot, ...]
    base: Base
    prior: Prior
    surface: Surface

    def __post_init__(self) -> None:
        keys = [lot.key for lot in self.lots]
        if len(set(keys)) != len(keys):
            raise Refusal("Two lots have the same key.", where="lots")

    @property
    def basis(self) -> Array:
        """The smooth basis, (31, r)."""
        return smooth_basis(self.prior.length)

    @property
    def width(self) -> int:
        """Unknowns of one lot."""
        return 1 + 2 * self.basis.shape[1]

    @property
    def size(self) -> int:
        """All unknowns."""
        return 2 + len(self.lots) * self.width

    def number(self, key: str) -> int:
        """The position of a lot; refuses a lot that is not there."""
        for number, lot in enumerate(self.lots):
            if lot.key == key:
                return number
        raise Refusal(f"The lot {key} is not known.", where="lots", remedy="Add it to the shelf first.")

    def where(self, number: int) -> slice:
        """The place of a lot's unknowns in θ."""
        return slice(2 + number * self.width, 2 + (number + 1) * self.width)

    def surface_at(self, theta: Array) -> Surface:
        """The surface constants at θ, kept inside what can be."""
        k1 = float(np.clip(self.surface.k1 + self.prior.surface_k1 * theta[0], 0.0, 0.2))
        k2 = float(np.clip(self.surface.k2 + self.prior.surface_k2 * theta[1], 0.0, 0.9))
        return Surface(k1, k2, self.surface.specular)

    def curves_at(self, theta: Array, number: int) -> tuple[Array, Array]:
        """k and s of a lot at θ, each (31,)."""
        own = theta[self.where(number)]
        rank = self.basis.shape[1]
        pigment = self.lots[number].pigment
        by_strength, shape = self.spread_of(number)
        strength = by_strength * own[0]
        k = pigment.k * np.exp(strength + shape * (self.basis @ own[1 : 1 + rank]))
        s = pigment.s * np.exp(strength + shape * (self.basis @ own[1 + rank :]))
        return k, s

    def spread_of(self, number: int) -> tuple[float, float]:
        """How far a lot may be off: sd of ln strength and of its smooth curves."""
        lot = self.lots[number]
        return self.prior.strength_at(lot.spread), self.prior.shape * lot.spread

    def slopes(self, number: int, curve: Array, *, scattering: bool) -> Array:
        """Slopes (31, width) of a lot's k or s by its unknowns."""
        rank = self.basis.shape[1]
        by_strength, shape = self.spread_of(number)
        table = np.zeros((BANDS, self.width))
        table[:, 0] = by_strength * curve
        first = 1 + rank if scattering else 1
        table[:, first : first + rank] = shape * self.basis * curve[:, None]
        return table

    def fresh(self) -> tuple[Array, Array]:
        """Mean and covariance of θ before anything was read: zero, one, and kinship between lots of a kind."""
        covariance = np.eye(self.size)
        for i, one in enumerate(self.lots):
            for j, other in enumerate(self.lots):
                if i != j and one.kind == other.kind:
                    covariance[self.where(i), self.where(j)] = self.prior.kin * np.eye(self.width)
        return np.zeros(self.size), covariance


def stock_of(
    pigments: Sequence[Pigment],
    base: Base | None = None,
    prior: Prior = USUAL,
    surface: Surface | None = None,
) -> Stock:
    """A stock with one lot of each pigment, keyed like the pigment."""
    return Stock(tuple(Lot(p.key, p) for p in pigments), base or Base(), prior, surface or Surface())
