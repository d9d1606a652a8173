"""Portions: what one session sprays, its crosslinker, and the clock that the crosslinking starts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from math import ceil

from hidewright.refusals import Refusal

WARN_SHARE = 0.25
WARN_LEAST = timedelta(minutes=10)
"""Warn in the last quarter of the pot life, and at least ten minutes ahead. A convention of this tool; the data sheet gives the pot life."""


class Clock(StrEnum):
    """How the pot life stands."""

    RUNNING = "running"
    ENDING = "ending"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class PotLife:
    """A pot life: `began` when the crosslinker was poured, `minutes` as the user's data sheet gives it."""

    began: datetime
    minutes: float

    def __post_init__(self) -> None:
        if not 1 <= self.minutes <= 60 * 24 * 60:
            raise Refusal(
                f"A pot life of {self.minutes:g} min cannot be right.",
                where="pot life",
                remedy="Write the minutes from the data sheet of the crosslinker.",
            )

    @property
    def ends(self) -> datetime:
        """When it is over."""
        return self.began + timedelta(minutes=self.minutes)

    @property
    def warns(self) -> datetime:
        """When the warning starts."""
        whole = self.ends - self.began
        return self.ends - min(whole, max(WARN_LEAST, whole * WARN_SHARE))

    def left(self, now: datetime) -> timedelta:
        """What is left of it; never below nothing."""
        return max(timedelta(0), self.ends - now)

    def clock(self, now: datetime) -> Clock:
        """Running, ending or over."""
        if now >= self.ends:
            return Clock.OVER
        return Clock.ENDING if now >= self.warns else Clock.RUNNING


def crosslinker_for(colour: int, ratio: float) -> int:
    """µL of crosslinker for `colour` µL, `ratio` parts by volume to one part of colour (0 < ratio ≤ 1), as its data sheet says."""
    if not 0 < ratio <= 1:
        raise Refusal(
            f"A ratio of {ratio:g} cannot be right.",
            where="ratio",
            remedy="Write parts of crosslinker to one part of colour, such as 0.03.",
        )
    return round(colour * ratio)


@dataclass(frozen=True, slots=True)
class Load:
    """One gun load: `colour` mL to draw off and `crosslinker` mL to add; `minutes` it is expected to take."""

    colour: float
    crosslinker: float
    minutes: float


def gun_loads(
    wanted: float, *, gun_cup: float, ml_per_minute: float, ratio: float = 0.0, pot_life: float | None = None
) -> tuple[Load, ...]:
    """Split what one session sprays into equal gun loads that fit the gun's cup and the pot life.

    `wanted` mL of colour, `gun_cup` mL to the line, `ml_per_minute` laid down (with moving and turning, so well below what the gun gives
    out), `pot_life` min (None: no limit). Refuses what no load can meet.
    """
    if wanted <= 0 or gun_cup <= 0 or ml_per_minute <= 0:
        raise Refusal(
            "A session sprays more than nothing.", where="volume", remedy="Write volumes above nothing."
        )
    biggest = gun_cup / (1 + ratio)
    if pot_life is not None:
        biggest = min(biggest, pot_life * (1 - WARN_SHARE) * ml_per_minute)
    if biggest < 1:
        raise Refusal(
            "Not even 1 mL can be sprayed within this pot life.",
            where="pot life",
            remedy="Check the pot life on the data sheet, and the pace.",
        )
    count = ceil(wanted / biggest - 1e-9)
    each = wanted / count
    return tuple(Load(each, each * ratio, each / ml_per_minute) for _ in range(count))


@dataclass(frozen=True, slots=True)
class Session:
    """What one session wants of crosslinked colour, mL."""

    name: str
    colour: float


def crosslink_now(sessions: Sequence[Session], index: int, in_hand: float, keep_back: float = 0.0) -> float:
    """mL to draw off and crosslink for session `index`: only what it sprays, and never what later sessions have nothing left of.

    `keep_back` mL stay uncrosslinked for touch-up. Refuses when the colour in hand does not do for this session.
    """
    want = sessions[index].colour
    short = want + keep_back - in_hand
    if short > 0:
        raise Refusal(
            f"{sessions[index].name} wants {want:.0f} mL; with {keep_back:.0f} mL kept back for touch-up it is {short:.0f} mL short.",
            where="colour",
            remedy="Mix a top-up and box it first, so that the session is sprayed from one colour.",
        )
    return want
