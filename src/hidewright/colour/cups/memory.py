"""What stays from job to job: the bottles, the base's milk, and this person's eye. Targets and offsets of a job are summed out."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.learn import Knowledge
from hidewright.refusals import Refusal

Array = NDArray[np.float64]
EYE_SPREAD = 0.25
"""sd of the ln of how many times as large a difference looks to one person as to another (a convention of this tool)."""
AXIS_SPREAD = 0.15
"""sd of the ln of how much larger or smaller one person sees lightness, red or yellow than the others (a convention of this tool)."""
MILK_SPREAD = 0.5
"""sd of the ln of how much milkier or clearer the shop's base is while wet than the starting value (a convention of this tool)."""
EYE = 5
"""Unknowns of an eye and its base: the ln gain, what lightness, red and yellow add to it, and last the ln of the base's milk."""


@dataclass(frozen=True, slots=True, eq=False)
class Eye:
    """One person's eye apart from all else: `mean` (4,) and `covariance` (4, 4) of its unknowns, in units of their prior sd."""

    mean: Array
    covariance: Array

    @property
    def times(self) -> float:
        """How many times as large a difference looks to this person as usual."""
        return float(np.exp(EYE_SPREAD * self.mean[0]))

    @property
    def sd(self) -> float:
        """The relative sd of that."""
        return EYE_SPREAD * float(np.sqrt(self.covariance[0, 0]))


@dataclass(frozen=True, slots=True, eq=False)
class Memory:
    """`mean` and `covariance` of the stock's unknowns and, last, of the eye's and the milk's (see `EYE`), all in units of their prior sd; `looks` that told it."""

    knowledge: Knowledge
    mean: Array
    covariance: Array
    looks: int = 0

    def __post_init__(self) -> None:
        size = self.knowledge.stock.size + EYE
        if self.mean.shape != (size,) or self.covariance.shape != (size, size):
            raise Refusal(
                "The memory does not fit the bottles.",
                where="memory",
                remedy="Work it out again from the jobs.",
            )

    @classmethod
    def of(cls, knowledge: Knowledge) -> "Memory":
        """The bottles as known, and an eye that nobody has tried yet."""
        size = knowledge.stock.size
        covariance = np.eye(size + EYE)
        covariance[:size, :size] = knowledge.covariance
        return cls(knowledge, np.append(knowledge.mean, np.zeros(EYE)), covariance)

    @property
    def eye(self) -> tuple[float, float]:
        """How many times as large a difference looks to this person as usual, and the relative sd of that."""
        return self.own_eye.times, self.own_eye.sd

    @property
    def own_eye(self) -> Eye:
        """The eye that is in it."""
        at = self._eye
        return Eye(self.mean[at].copy(), self.covariance[at, at].copy())

    @property
    def _eye(self) -> slice:
        at = self.knowledge.stock.size
        return slice(at, at + EYE - 1)

    def with_eye(self, eye: Eye | None) -> "Memory":
        """The same bottles and milk seen by another person; None is a person that nobody has tried yet."""
        own, at = eye or Eye(np.zeros(EYE - 1), np.eye(EYE - 1)), self._eye
        if np.array_equal(own.mean, self.mean[at]):
            return self
        mean, covariance = self.mean.copy(), self.covariance.copy()
        mean[at] = own.mean
        covariance[at, :] = 0.0
        covariance[:, at] = 0.0
        covariance[at, at] = own.covariance
        return Memory(self.knowledge, mean, covariance, self.looks)

    def after(self, mean: Array, covariance: Array, looks: int) -> "Memory":
        """The memory once a job's `mean` and `covariance` of the same unknowns are taken over."""
        size = self.knowledge.stock.size
        known = replace(
            self.knowledge,
            mean=mean[:size],
            covariance=covariance[:size, :size],
            readings=self.knowledge.readings + looks,
        )
        return Memory(known, mean.copy(), covariance.copy(), self.looks + looks)
