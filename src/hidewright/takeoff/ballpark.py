"""A ballpark: hours, money and days with odds, where only counts are known.

What is worked out from typical pieces is a middle; around it lies what a count does not say. The parts are log-normal and multiply, so their sigmas add in quadrature:
the interior's own size (`survey.typical.AREA_SD`), the shop's pace, and what is found once it is there. The starting spreads are common practice, no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot, inf, sqrt

from hidewright.refusals import Refusal
from hidewright.survey.typical import AREA_SD

from .odds import Spread, sigma_of

FOUND_SD = 0.20
"""Relative sd of what is found once the interior is there: repairs, an older coat below the one that was spoken of. Common practice, no source."""
PACE_SD = 0.35
"""Relative sd of a shop's own pace against the starting one, before anything was logged. Common practice, no source."""
LOW, LIKELY, HIGH = 0.1, 0.5, 0.9
"""The odds of the three figures that are said."""
WAITING = 1.5
"""Working days that a job lasts for each day's work of all hands together: drying, turning and tables that are full. Common practice, no source; docs/measured.md says how the planner compares."""


def sigma_of_counts(entries: int) -> float:
    """sd of the logarithm of the hours of a job that is only counted, with so many entries in the shop's log of paces: each narrows the pace, none the rest."""
    pace = PACE_SD / sqrt(1 + max(entries, 0) / 3)
    return hypot(sigma_of(AREA_SD), sigma_of(FOUND_SD), sigma_of(pace))


@dataclass(frozen=True, slots=True)
class Figures:
    """One figure with odds: below `low` one time in ten, below `likely` one in two, below `high` nine in ten."""

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.likely <= self.high:
            raise Refusal("Figures with odds go up.", where="ballpark")


def figures_of(ways: Sequence[Spread]) -> Figures:
    """Three figures over ways between which nothing is decided: the lowest low, the middle of the middles, the highest high. Refuses none."""
    if not ways:
        raise Refusal("There is no way to do it.", where="ballpark")
    middles = sorted(way.at(LIKELY) for way in ways)
    middle = (middles[0] + middles[-1]) / 2
    return Figures(min(way.at(LOW) for way in ways), middle, max(way.at(HIGH) for way in ways))


@dataclass(frozen=True, slots=True)
class Ballpark:
    """What is said on the telephone: hours of hands, money before tax, mL of mixed colour, and working days from the first to the last."""

    pieces: int
    hours: Figures
    money: Figures
    colour: Figures
    days: Figures


def spread_about(middle: float, sigma: float) -> Spread:
    """A figure with its middle and the sd of its logarithm."""
    return Spread(middle, sigma)


def days_for(hours: float, weekly: float, weekdays: int, nights: int) -> int:
    """Whole working days for so many hours of hands of a crew that has `weekly` hours on `weekdays` days: at least the nights that one piece must dry, and one more.

    Refuses a crew without hours.
    """
    if not (0 < weekly < inf and 0 < weekdays <= 7):
        raise Refusal(
            "Nobody has hours yet.", where="hours", remedy="Set the hours of the shop (Tables and hours)."
        )
    return max(nights + 1, ceil(WAITING * hours / (weekly / weekdays) - 1e-9))
