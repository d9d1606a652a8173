"""What an eye says of one thing against another, and how much that is worth.

A person compares side by side and says "a touch darker", "clearly redder", "the same". Each word is a measurement of the *difference* along its own direction, in CIEDE2000 units of
the local metric, with a wide spread. "much" and "far off" only say "at least so much". The sizes and spreads are conventions of this tool: they worked in simulated shops
whose eyes follow another model than this one (`docs/science/by-eye.md`); no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

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
UNNAMED = (0.35, 0.35)
"""An axis that was not named is 0 with the larger of this sd and this share of the largest one named: a large difference hides small ones (22 %), and what is seen of a pair scatters about
CIEDE2000 by some 27 % of its size (M. Melgosa, R. Huertas, R. S. Berns, J. Opt. Soc. Am. A 25 (2008) 1828; the number from memory); together 35 %."""
HUES = {"redder": 22.0, "yellower": 95.0, "greener": 161.0, "bluer": 253.0}
"""CIELAB hue angle in degrees of what is seen as pure red, yellow, green and blue: CIECAM02's unique hues (CIE 159:2004) of colours such as leather has, carried over to CIELAB."""
APART = 0.3
"""Sine of the angle below which a second word of hue says the same as the first."""
EVERYWHERE = 0.35
"""ΔE00 sd added to everything an eye says."""
NOTHING = 100.0
"""Least size in ΔE00 of a word that is open downward too, and so says nothing."""
NEAR_GREY = 3.0
"""Chroma at which a colour's own hue is as uncertain as what cleaner and greyer say of it is large."""


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


def axes_at(metric: Array) -> dict[str, Array]:
    """The axes of a device as rows n, (3,), so that n·ΔLab is the difference along L*, a* and b* in ΔE00 units, by the local metric (see `light.local.metric`)."""
    sizes = np.diag(np.linalg.norm(metric, axis=0))
    return dict(zip(("lightness", "red", "yellow"), sizes, strict=True))


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

    A word of hue points to its unique hue (`HUES`), cleaner and greyer along the colour's own. Of two words of hue the stronger is taken first, the other for what that leaves; what neither
    says is 0 within `UNNAMED`. The nearer to grey the colour is believed to be, the less its own hue is known, and the less cleaner and greyer say.
    """
    chroma = float(np.hypot(colour[1], colour[2]))
    rest = SAME_SD if words.same else max(UNNAMED[0], UNNAMED[1] * words.largest)
    unsure = min(1.0, NEAR_GREY / max(chroma, 1e-9)) if any(w.axis == "chroma" for w in words.said) else 0.0
    light = _way("lighter", colour, metric)
    rows: list[_Row] = []
    plane: list[Array] = []
    for word in sorted(words.said, key=lambda word: (-STRENGTHS[word.strength][0], word.axis == "chroma")):
        size, sd = STRENGTHS[word.strength]
        least, least_sd = OPEN.get(word.strength, (np.nan, np.nan))
        way = _way(word.word, colour, metric) * (1.0 if word.word in HUES else word.sign)
        if word.axis == "lightness":
            rows.append(_Row("lightness", way, size, sd, least, least_sd))
        elif len(plane) < 2:
            more = size * unsure if word.axis == "chroma" else 0.0
            if plane:
                across = np.cross(light, plane[0])
                apart = float(way @ across)
                way = across if apart >= 0.0 else -across
                if abs(apart) < APART:
                    # says the same as the first: which side it lies on is not known
                    size, more, least = 0.0, size, np.nan if np.isnan(least) else -NOTHING
            plane.append(way)
            sds = float(np.hypot(sd, more)), float(np.hypot(least_sd, more))
            rows.append(_Row(word.axis, way, size, sds[0], least, sds[1]))
    free = float(np.hypot(rest, unsure * words.largest))
    rows += _complete(rows, plane, light, metric, rest, free)
    return Told(
        np.array([row.way for row in rows]) @ metric,
        np.array([row.size for row in rows]),
        np.hypot(np.array([row.sd for row in rows]), EVERYWHERE),
        tuple(row.axis for row in rows),
        np.array([(row.least, row.least_sd) for row in rows]),
    )


class _Row(NamedTuple):
    """One axis of a look: a direction (3,) in ΔE00 units and what is said along it."""

    axis: str
    way: Array
    size: float
    sd: float
    least: float = np.nan
    least_sd: float = np.nan


def _way(word: str, colour: Array, metric: Array) -> Array:
    """Where a word points at a colour, darker and greyer as lighter and cleaner, as a unit vector (3,) of the space that the local metric makes."""
    if AXES[word][0] == "lightness":
        along = np.array([1.0, 0.0, 0.0])
    elif word in HUES:
        turn = np.radians(HUES[word])
        along = np.array([0.0, np.cos(turn), np.sin(turn)])
    else:
        along = np.array([0.0, colour[1], colour[2]])
        along = along if np.abs(along).max() > 1e-6 else np.array([0.0, 1.0, 0.0])
    way = metric @ along
    return np.asarray(way / np.linalg.norm(way))


def _complete(
    rows: Sequence[_Row], plane: Sequence[Array], light: Array, metric: Array, rest: float, free: float
) -> list[_Row]:
    """What was not named, 0 within its sd: lightness, and the directions of colour that no word took."""
    found = [] if any(row.axis == "lightness" for row in rows) else [_Row("lightness", light, 0.0, rest)]
    if len(plane) == 2:
        return found
    if plane:
        return [*found, _Row("hue", np.cross(light, plane[0]), 0.0, free)]
    red = metric @ np.array([0.0, 1.0, 0.0])
    red -= float(red @ light) * light
    red /= np.linalg.norm(red)
    return [*found, _Row("red", red, 0.0, rest), _Row("yellow", np.cross(light, red), 0.0, rest)]
