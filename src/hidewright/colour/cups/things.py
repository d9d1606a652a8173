"""What is compared with what: the difference is the measurement.

A comparison holds both sides and what was seen of them, never an absolute colour. A side is a cup as it was after so many pours, or a swatch: the piece itself, a stick, a
sample, a jar of unknown content. Both sides are wet, or both dry.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cup import Cup
from hidewright.colour.light.local import metric
from hidewright.colour.light.spectra import numbers
from hidewright.refusals import Refusal

from .words import Words

Array = NDArray[np.float64]
PIECE = "piece"
"""The swatch that the job aims at, unless another is named."""
SPREADS = {"instrument": 1.0, "photo": 5.0, "swatch": 6.0, "guess": 15.0}
"""Root mean square distance in ΔE00 of a target from the truth, by where it comes from: never 0, since a piece differs from place to place (conventions of this tool)."""


@dataclass(frozen=True, slots=True, eq=False)
class Swatch:
    """A colour that is known only so far: Lab (3,) under D65 (10°) with a covariance (3, 3); `source` says where it comes from."""

    lab: Array
    covariance: Array
    source: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "lab", numbers(self.lab, (3,), "Lab"))
        object.__setattr__(self, "covariance", numbers(self.covariance, (3, 3), "spread of Lab"))
        if not 0.0 < self.lab[0] < 100.0:
            raise Refusal("L* lies above 0 and below 100.", where="Lab", remedy="Check the three numbers.")
        if np.abs(self.lab[1:]).max() > 150.0:
            raise Refusal("a* and b* lie from -150 to 150.", where="Lab", remedy="Check the three numbers.")
        if np.linalg.eigvalsh(0.5 * (self.covariance + self.covariance.T)).min() <= 0.0:
            raise Refusal("A colour needs a spread above 0.", where="spread of Lab")

    @classmethod
    def of(cls, lab: object, source: str, spread: float | None = None) -> "Swatch":
        """A swatch whose distance from the truth is `spread` ΔE00 (root mean square), by default that of its source in `SPREADS`."""
        colour = numbers(lab, (3,), "Lab")
        if spread is None and source not in SPREADS:
            raise Refusal(f"“{source}” is no source.", where="source", remedy=f"Use {', '.join(SPREADS)}.")
        size = SPREADS[source] if spread is None else spread
        if not 0.05 <= size <= 60.0:
            raise Refusal(f"A spread of {size} ΔE00 cannot be.", where="spread", remedy="Give 0.05 to 60.")
        m = metric(colour)
        return cls(colour, np.asarray(np.linalg.inv(m.T @ m) * size**2 / 3.0, dtype=float), source)


@dataclass(frozen=True, slots=True)
class CupAt:
    """A cup as it was after its first `after` pours."""

    cup: str
    after: int

    def __post_init__(self) -> None:
        if self.after < 1:
            raise Refusal("A cup is compared after at least one pour.", where=self.cup)


@dataclass(frozen=True, slots=True)
class SwatchAt:
    """A swatch by its name: the piece, a stick, a sample."""

    name: str = PIECE


Side = CupAt | SwatchAt


@dataclass(frozen=True, slots=True, eq=False)
class Difference:
    """A difference ΔLab (3,) = A − B that a device saw: `how` photo or instrument, its own noise as a covariance (3, 3) of ΔLab."""

    delta: Array
    covariance: Array
    how: str = "photo"

    def __post_init__(self) -> None:
        object.__setattr__(self, "delta", numbers(self.delta, (3,), "difference"))
        object.__setattr__(self, "covariance", numbers(self.covariance, (3, 3), "spread of the difference"))
        if np.linalg.eigvalsh(0.5 * (self.covariance + self.covariance.T)).min() <= 0.0:
            raise Refusal("A difference needs a spread above 0.", where="spread of the difference")
        if self.how not in ("photo", "instrument"):
            raise Refusal(
                f"“{self.how}” sees no difference.", where="comparison", remedy="Use photo or instrument."
            )


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """A against B, both wet or both dry: what an eye said, or what a device saw. `struck` leaves it out (it stays on record)."""

    a: Side
    b: Side
    seen: Words | Difference
    wet: bool = False
    struck: bool = False

    def __post_init__(self) -> None:
        if self.a == self.b:
            raise Refusal("A thing was compared with itself.", where="comparison", remedy="Name two things.")


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """All that was poured and seen for one colour: cups (with readings of their own, if any), swatches, and comparisons in the order they were made.

    `target` names the swatch that is aimed at.
    """

    swatches: Mapping[str, Swatch]
    cups: tuple[Cup, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    target: str = PIECE
    poured: Mapping[str, int] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "poured", {cup.name: len(cup.pours) for cup in self.cups})
        if len(self.poured) != len(self.cups):
            raise Refusal("Two cups have the same name.", where="cups")
        if self.target not in self.swatches:
            raise Refusal(
                f"The target “{self.target}” is not among the swatches.",
                where="target",
                remedy="Say roughly what colour it is: a family is enough.",
            )
        for comparison in self.comparisons:
            for side in (comparison.a, comparison.b):
                self._check(side)

    def _check(self, side: Side) -> None:
        if isinstance(side, SwatchAt):
            if side.name not in self.swatches:
                raise Refusal(f"The swatch “{side.name}” is not known.", where="comparison")
        elif not 1 <= side.after <= self.poured.get(side.cup, 0):
            raise Refusal(f"The cup “{side.cup}” was never as it is compared.", where="comparison")

    def cup(self, name: str) -> Cup:
        """A cup by its name."""
        for cup in self.cups:
            if cup.name == name:
                return cup
        raise Refusal(f"The cup “{name}” is not known.", where="cups")

    def with_cup(self, cup: Cup) -> "Job":
        """The job with a cup added, or put in the place of the one of its name."""
        if cup.name in self.poured:
            cups = tuple(cup if one.name == cup.name else one for one in self.cups)
        else:
            cups = (*self.cups, cup)
        return Job(self.swatches, cups, self.comparisons, self.target)

    def seen(self, comparison: Comparison) -> "Job":
        """The job with one more comparison."""
        return Job(self.swatches, self.cups, (*self.comparisons, comparison), self.target)
