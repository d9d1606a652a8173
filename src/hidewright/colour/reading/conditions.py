"""Under what a colour was seen, and whether two colours may be compared at all: like with like."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike
from hidewright.refusals import Refusal

Array = NDArray[np.float64]
STATES = ("", "wet", "dry")
MADE = ("", "raw pigment", "mixed with base")


@dataclass(frozen=True, slots=True)
class Conditions:
    """What is known of how a colour was seen; empty where it is not.

    `state` wet or dry; `made` raw pigment or mixed with base; `base_share` of the volume (0..1); `light`; `instrument`; `specular` whether the specular component is in;
    `over` what lies below (a card, the old colour, opaque).
    """

    state: str = ""
    made: str = ""
    base_share: float | None = None
    light: str = ""
    instrument: str = ""
    specular: bool | None = None
    over: str = ""

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise Refusal(
                f"“{self.state}” is neither wet nor dry.", where="state", remedy="Write wet or dry."
            )
        if self.made not in MADE:
            raise Refusal(
                f"“{self.made}” is not known.", where="made", remedy=f"Write {MADE[1]} or {MADE[2]}."
            )
        if self.base_share is not None and not 0.0 <= self.base_share <= 1.0:
            raise Refusal("A share of base lies from 0 to 1.", where="base share")


@dataclass(frozen=True, slots=True, eq=False)
class ColourOnly:
    """A colour without a spectrum: Lab (3,), its covariance (3, 3), and the light and observer it holds for."""

    lab: Array
    covariance: Array
    light: str = "D65"
    observer: str = "10"

    def __post_init__(self) -> None:
        if self.lab.shape != (3,) or self.covariance.shape != (3, 3):
            raise Refusal("A colour has three numbers and a covariance of three by three.", where="Lab")
        fits = np.all(np.isfinite(self.lab)) and np.all(np.isfinite(self.covariance))
        if not fits or np.linalg.eigvalsh(self.covariance).min() <= 0:
            raise Refusal(
                "The colour's numbers or its spread cannot be.", where="Lab", remedy="Give a spread above 0."
            )

    def guessed(self, lights: Iterable[LightLike], observer: str = "10") -> tuple[str, ...]:
        """Those of the lights under which the colour was not seen: there it goes by a stand-in spectrum, and is a guess. `observer` is the one that judges."""
        return never_seen(lights, self.light, self.observer, observer)


def never_seen(lights: Iterable[LightLike], light: str, observer: str, judge: str = "10") -> tuple[str, ...]:
    """The names of those `lights` under which a colour that was seen under `light` by `observer` is a guess, where the observer `judge` judges."""
    return tuple(str(one) for one in lights if one != light or observer != judge)


def unlike(first: Conditions, second: Conditions) -> tuple[str, ...]:
    """Warnings, in words, why two colours should not be compared as they are; empty when nothing speaks against it."""
    found = []
    if first.state and second.state and first.state != second.state:
        found.append("One is wet and one is dry: a mix dries darker. Let both dry, or use the forecast.")
    if first.made and second.made and first.made != second.made:
        found.append("One is raw pigment and one is mixed with base: mix both the same way first.")
    if (
        first.base_share is not None
        and second.base_share is not None
        and abs(first.base_share - second.base_share) > 0.03
    ):
        found.append(
            "They hold different shares of base: wet, the one with more base looks paler and milkier."
        )
    if first.light and second.light and first.light != second.light:
        found.append("They were seen under different lights: look at both under the same one.")
    if first.specular is not None and second.specular is not None and first.specular != second.specular:
        found.append("One reading includes the specular component and one does not: read both the same way.")
    if first.over and second.over and first.over != second.over:
        found.append("They lie over different grounds: a thin film lets the ground through.")
    if first.instrument and second.instrument and first.instrument != second.instrument:
        found.append("They were read with different instruments: expect a difference of their own.")
    return tuple(found)
