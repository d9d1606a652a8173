"""What an eye says of one thing against another, and how much that is worth.

A person compares side by side and says "a touch darker", "clearly redder", "the same". Each word is a measurement of the *difference* along one axis, in CIEDE2000 units of
the local metric, with a wide spread. "much" and "far off" only say "at least so much". The sizes and spreads are conventions of this tool: they worked in simulated shops
whose eyes follow another model than this one (`docs/science/by-eye.md`); no source.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal

Array = NDArray[np.float64]
AXES: dict[str, tuple[str, float]] = {
    "lighter": ("lightness", 1.0),
    "darker": ("lightness", -1.0),
    "redder": ("red", 1.0),
    "greener": ("red", -1.0),
    "yellower": ("yellow", 1.0),
    "bluer": ("yellow", -1.0),
    "cleaner": ("chroma", 1.0),
    "greyer": ("chroma", -1.0),
}
"""Each word's axis, and its sign there."""
STRENGTHS: dict[str, tuple[float, float]] = {
    "a touch": (0.85, 0.35),
    "clearly": (1.9, 0.75),
    "much": (3.7, 1.3),
    "far off": (6.5, 2.3),
}
"""Size in ΔE00 and its sd."""
OPEN: dict[str, tuple[float, float]] = {"much": (2.8, 0.7), "far off": (5.0, 1.25)}
"""Strengths that are open upward: the least that they stand for, and the sd of that."""
SAME_SD = 0.4
"""ΔE00 sd along an axis that was looked at and called the same."""
UNNAMED = (0.35, 0.22)
"""An axis that was not named is 0 with the larger of this sd and this share of the largest one named: a large difference hides small ones."""
EVERYWHERE = 0.35
"""ΔE00 sd added to everything an eye says."""
NOTHING = 100.0
"""ΔE00 sd of a word that says nothing."""
NEAR_GREY = 3.0
"""Chroma below which cleaner and greyer say nothing."""


@dataclass(frozen=True, slots=True)
class Word:
    """One thing said of A against B: a word of `AXES`, in a strength of `STRENGTHS`."""

    word: str
    strength: str = "a touch"

    def __post_init__(self) -> None:
        if self.word not in AXES:
            raise Refusal(
                f"“{self.word}” is not known.", where="by eye", remedy=f"Use one of {', '.join(AXES)}."
            )
        if self.strength not in STRENGTHS:
            raise Refusal(
                f"“{self.strength}” is no strength.", where="by eye", remedy=f"Use {', '.join(STRENGTHS)}."
            )

    @property
    def axis(self) -> str:
        """lightness, red, yellow or chroma."""
        return AXES[self.word][0]

    @property
    def sign(self) -> float:
        """1 or -1 along the axis."""
        return AXES[self.word][1]


@dataclass(frozen=True, slots=True)
class Words:
    """All that was said in one look; none means "the same"."""

    said: tuple[Word, ...] = ()

    def __post_init__(self) -> None:
        axes = [word.axis for word in self.said]
        if len(set(axes)) != len(axes):
            raise Refusal(
                "Two of the words speak of the same thing.", where="by eye", remedy="Keep one of them."
            )
        if len(axes) > 3:
            raise Refusal(
                "A difference of colour has three axes at most.", where="by eye", remedy="Keep three."
            )

    @property
    def same(self) -> bool:
        """Nothing was named: they look the same."""
        return not self.said

    @property
    def largest(self) -> float:
        """The nominal size in ΔE00 of the largest thing said; 0 for "the same"."""
        return max((STRENGTHS[word.strength][0] for word in self.said), default=0.0)

    @property
    def vague(self) -> bool:
        """True when one of the words is open upward, so that only the direction is known well."""
        return any(word.strength in OPEN for word in self.said)


def axes_at(colour: Array, metric: Array) -> dict[str, Array]:
    """The eye's axes at a Lab colour (3,) as rows n, (3,), so that n·ΔLab is the difference in ΔE00 units along each: see `light.local.metric`.

    "hue" is what is left beside lightness and chroma.
    """
    chroma = float(np.hypot(colour[1], colour[2]))
    turn = np.array([colour[1], colour[2]]) / chroma if chroma > 1e-6 else np.array([1.0, 0.0])
    directions = {
        "lightness": np.array([1.0, 0.0, 0.0]),
        "red": np.array([0.0, 1.0, 0.0]),
        "yellow": np.array([0.0, 0.0, 1.0]),
        "chroma": np.array([0.0, *turn]),
        "hue": np.array([0.0, -turn[1], turn[0]]),
    }
    return {name: float(np.linalg.norm(metric @ one)) * one for name, one in directions.items()}


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What a look says as numbers: `rows` (m, 3) on ΔLab, `values` (m,) in ΔE00, `sd` (m,), and the name of each row's axis.

    `least` (m, 2) is, where a word is open upward, the least size that it stands for with its sd; elsewhere NaN.
    """

    rows: Array
    values: Array
    sd: Array
    axes: tuple[str, ...]
    least: Array


def told_by(words: Words, colour: Array, metric: Array) -> Told:
    """Words as measurements of ΔLab = Lab(A) − Lab(B), seen at a colour (3,) with its local metric.

    Where the colour, as it is believed at this moment, is nearly grey, cleaner and greyer say nothing; what the look says of lightness still counts.
    """
    axes = axes_at(colour, metric)
    named = {word.axis: word for word in words.said}
    unnamed = _unnamed(named)
    rest = SAME_SD if words.same else max(UNNAMED[0], UNNAMED[1] * words.largest)
    values = [word.sign * STRENGTHS[word.strength][0] for word in named.values()] + [0.0] * len(unnamed)
    sd = [STRENGTHS[word.strength][1] for word in named.values()] + [rest] * len(unnamed)
    least = [OPEN.get(word.strength, (np.nan, np.nan)) for word in named.values()]
    every = (*named, *unnamed)
    if "chroma" in named and float(np.hypot(colour[1], colour[2])) < NEAR_GREY:
        # the rows stay, since the target moves while a job is estimated, but they say nothing
        sd = [NOTHING if axis in ("chroma", "hue") else each for axis, each in zip(every, sd, strict=True)]
        least = [
            (-NOTHING, 1.0) if word.axis == "chroma" and word.strength in OPEN else each
            for word, each in zip(named.values(), least, strict=True)
        ]
    return Told(
        np.array([axes[axis] for axis in every]),
        np.array(values),
        np.hypot(np.array(sd), EVERYWHERE),
        every,
        np.array(least + [(np.nan, np.nan)] * len(unnamed)),
    )


def _unnamed(named: Collection[str]) -> list[str]:
    """The axes that complete those named to three."""
    free = ["lightness"] if "lightness" not in named else []
    if "chroma" in named:
        return free + (["hue"] if not {"red", "yellow"} & set(named) else [])
    return free + [axis for axis in ("red", "yellow") if axis not in named]
