"""What the benches "by eye" ask of whoever advises, and the one place where the product is put behind it.

An `Advisor` serves one shop and one person for all its jobs. It is told what the shop itself knows: what the bottles are said to hold, how the job starts, what was poured by the
label, and what the eye and the phone said. It never sees the truth.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """How a job starts: what the target's CIELAB (3,) is taken for (D65, 10°), by which `kind` of word ("instrument", "photo", "swatch"), and with which sd a channel."""

    kind: str
    lab: Array
    sd: float


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """One comparison of the present cup with the target, both wet or both dry: the words for the cup, and cup less target off a stick photo (CIELAB (3,)), if one was taken.

    `instrument` is cup less target by a spectrophotometer.
    """

    wet: bool
    words: tuple[tuple[str, str], ...]
    photo: Array | None = None
    instrument: Array | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """What to do next. `act`: "pour" these grams into the cup (or, `fresh`, into a new one), "look" again, look "dry", or "done" / "stop"."""

    act: str
    grams: Mapping[str, float] = field(default_factory=dict)
    fresh: bool = False


class Advisor(Protocol):
    """Who advises; memory from job to job is its own affair."""

    def begin(self, start: Start) -> Mapping[str, float]:
        """A new job: grams of the first cup (150 g, base included)."""
        ...

    def look(self, look: Look) -> None:
        """A comparison of the cup as it now is."""
        ...

    def advice(self) -> Advice:
        """What now."""
        ...

    def poured(self, grams: Mapping[str, float], *, fresh: bool) -> None:
        """These grams went in, by the label."""
        ...

    def target(self) -> tuple[Array, Array]:
        """What the target is now taken for when dry: CIELAB (3,) and its covariance (3, 3)."""
        ...

    def close(self) -> None:
        """The job ends; what it taught is kept."""
        ...


def product() -> object | None:
    """The engine's own advisor as a maker for `eye_jobs` (shop, way) → `Advisor`; None while there is none."""
    return None
