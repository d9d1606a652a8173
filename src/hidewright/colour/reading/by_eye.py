"""What an eye says: lighter or darker, redder or greener, yellower or bluer, cleaner or greyer, in three strengths, as a reading with a wide spread.

How much "a touch" is, is a convention of this tool (no source): about ΔE00 0.8, then 2 and 4. Each is a Gaussian whose sd is half its size; what is not named is taken
as about the same, with an sd of ΔE00 1.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike, lab
from hidewright.colour.light.local import metric
from hidewright.refusals import Refusal

from .conditions import Conditions
from .readings import Reading, colour_reading

Array = NDArray[np.float64]
AXES = {
    "lighter": (0, 1.0),
    "darker": (0, -1.0),
    "redder": (1, 1.0),
    "greener": (1, -1.0),
    "yellower": (2, 1.0),
    "bluer": (2, -1.0),
    "cleaner": (3, 1.0),
    "greyer": (3, -1.0),
}
STRENGTHS = {"a touch": 0.8, "clearly": 2.0, "much": 4.0}
UNNAMED = 1.0
NEAR_GREY = 3.0


@dataclass(frozen=True, slots=True)
class EyeWord:
    """One thing said of the cup against the target: a word of `AXES`, in a strength of `STRENGTHS`."""

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


def seen_by_eye(
    target: Array, words: Sequence[EyeWord], light: LightLike = "D65", name: str = "By eye"
) -> Reading:
    """The cup's colour as a reading, from what an eye says of it against the target (31,): "the cup is a touch yellower".

    No words mean that it looks the same. Refuses contradictions, and cleaner or greyer of a colour that is nearly grey.
    """
    axes = [AXES[w.word][0] for w in words]
    if len(set(axes)) != len(axes):
        raise Refusal("Two of the words speak of the same thing.", where="by eye", remedy="Keep one of them.")
    middle = lab(target, light)
    chroma = float(np.hypot(middle[1], middle[2]))
    if 3 in axes and chroma < NEAR_GREY:
        raise Refusal(
            "The target is nearly grey: cleaner or greyer says nothing there.",
            where="by eye",
            remedy="Say redder, greener, yellower or bluer.",
        )
    hue = np.array([0.0, middle[1], middle[2]]) / max(chroma, 1e-9)
    directions = [np.eye(3)[0], np.eye(3)[1], np.eye(3)[2], hue]
    m = metric(middle)
    # information: the unnamed background everywhere, then each word sharpens its own direction
    information = m.T @ m / UNNAMED**2
    pull = np.zeros(3)
    for word in words:
        axis, sign = AXES[word.word]
        size = STRENGTHS[word.strength] / float(np.linalg.norm(m @ directions[axis]))
        direction = directions[axis]
        # the named direction forgets the background, then learns the word
        along = information @ direction
        information = information - np.outer(along, along) / float(direction @ along)
        weight = 1.0 / (0.5 * size) ** 2
        information = information + weight * np.outer(direction, direction)
        pull = pull + weight * sign * size * direction
    covariance = np.linalg.inv(information)
    return colour_reading(
        name,
        middle + covariance @ pull,
        0.5 * (covariance + covariance.T),
        str(light),
        conditions=Conditions(light=str(light)),
    )
