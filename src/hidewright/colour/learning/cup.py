"""Cups: what was poured into them and what was seen of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike, lab
from hidewright.colour.light.local import lab_slopes
from hidewright.colour.light.spectra import covariance, numbers, spectrum, spread
from hidewright.refusals import Refusal

Array = NDArray[np.float64]


BASE = "base"
"""The key under which clear base is poured."""


LOT = "#"
"""Stands between a pigment's key and the name of its lot, where lots are named: PW6#B7."""


def kind_of(lot: str) -> str:
    """The pigment of a lot's key."""
    return lot.partition(LOT)[0]


@dataclass(frozen=True, slots=True)
class Pour:
    """Grams of one lot (or of the base, under its key) that went into the cup; `resolution` g is the balance's step or the drop."""

    lot: str
    grams: float
    resolution: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 < self.grams < 1e6:
            raise Refusal(f"A pour of {self.grams} g cannot be.", where=self.lot, remedy="Grams above 0.")
        if not 0.0 <= self.resolution < 1e6:
            raise Refusal(
                f"A step of {self.resolution} g cannot be.", where=self.lot, remedy="Grams, 0 or more."
            )


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """Something seen of the cup after its first `after` pours, dry and hiding: a spectrum, or a colour under a light.

    `values` is a reading (31,) with a spread `sd` (scalar, or (31,)), or Lab (3,) with a covariance `sd` (3, 3). `struck` leaves it out: the
    counter-entry of a reading that turned out wrong.
    """

    after: int
    values: Array
    sd: float | Array = 0.0015
    light: LightLike = "D65"
    observer: str = "10"
    struck: bool = False

    def __post_init__(self) -> None:
        values = np.array(self.values, dtype=float)
        if values.shape == (3,):
            numbers(values, (3,), "a colour")
            covariance(self.sd, 3, "the covariance of a colour")
        else:
            values = spectrum(values, "reading", upper=1.3)
            spread(self.sd, "reading")
        object.__setattr__(self, "values", values)

    @property
    def is_colour(self) -> bool:
        """True for Lab, False for a spectrum."""
        return bool(self.values.shape == (3,))

    @property
    def noise(self) -> Array:
        """Covariance of the reading, (31, 31) or (3, 3)."""
        if self.is_colour:
            return np.array(self.sd, dtype=float)
        return np.diag(np.broadcast_to(np.asarray(self.sd, dtype=float) ** 2, (31,)).copy())

    def of(self, reflectance: Array) -> tuple[Array, Array]:
        """What would be seen of a reflectance (31,), and its slopes by it: (m,) and (m, 31)."""
        if not self.is_colour:
            return reflectance, np.eye(31)
        return lab(reflectance, self.light, self.observer), lab_slopes(reflectance, self.light, self.observer)


@dataclass(frozen=True, slots=True, eq=False)
class Cup:
    """One cup: its pours in order and what was seen of it."""

    name: str
    pours: tuple[Pour, ...]
    sights: tuple[Sight, ...] = field(default_factory=tuple)

    def __post_init__(self) -> None:
        for sight in self.sights:
            if not 1 <= sight.after <= len(self.pours):
                raise Refusal(
                    f"A reading of {self.name} comes after {sight.after} pours; there are {len(self.pours)}.",
                    where=self.name,
                )

    def poured(self, more: Sequence[Pour]) -> "Cup":
        """The cup with more poured in."""
        return Cup(self.name, self.pours + tuple(more), self.sights)

    def seen(self, values: Array, sd: float | Array = 0.0015, light: LightLike = "D65") -> "Cup":
        """The cup with one more reading of what is in it now."""
        return Cup(self.name, self.pours, (*self.sights, Sight(len(self.pours), values, sd, light)))

    def struck(self, number: int) -> "Cup":
        """The cup with one reading struck out (it stays on record)."""
        sights = [
            Sight(s.after, s.values, s.sd, s.light, s.observer, s.struck or i == number)
            for i, s in enumerate(self.sights)
        ]
        return Cup(self.name, self.pours, tuple(sights))

    @property
    def grams(self) -> Mapping[str, float]:
        """Grams of each thing that is in it."""
        total: dict[str, float] = {}
        for pour in self.pours:
            total[pour.lot] = total.get(pour.lot, 0.0) + pour.grams
        return total

    @property
    def mass(self) -> float:
        """Grams in the cup."""
        return sum(pour.grams for pour in self.pours)
