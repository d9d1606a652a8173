"""The day with its odds: likely, nine times in ten, and the chance of the promised day, from what the planner simulated for the plan in force."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from hidewright.dates import short_day
from hidewright.planning.solve.odds import Odds, times
from hidewright.planning.solve.result import PlanResult
from hidewright.workshop.days.models import Plan

SURE = 0.9
"""The chance with which a day is promised."""


class Outlook(StrEnum):
    """How the promised day stands, as a mark on the page."""

    IN_TIME = "in time"
    TIGHT = "tight"
    LATE = "late"


@dataclass(frozen=True, slots=True)
class Promise:
    """`likely` the first day by which it is done one time in two or more often, `sure` nine times in ten, each with how often by the planner's own odds; `chance` 0..1 of the promised day, None without one."""

    likely: date
    sure: date
    chance: float | None
    likely_times: str = times(0.5)
    sure_times: str = times(0.9)

    @property
    def outlook(self) -> Outlook | None:
        """How the promised day stands; None without one."""
        if self.chance is None:
            return None
        if self.chance >= SURE:
            return Outlook.IN_TIME
        return Outlook.TIGHT if self.chance >= 0.5 else Outlook.LATE

    @property
    def words(self) -> str:
        """“likely done by Wed 16 Dec (three times in four), nine times in ten by Fri 18 Dec; the promised day holds with 97 %”."""
        told = f"likely done by {short_day(self.likely)} ({self.likely_times}), {self.sure_times} by {short_day(self.sure)}"
        return told if self.chance is None else f"{told}; the promised day holds with {self.chance_words}"

    @property
    def chance_words(self) -> str:
        """The chance in round numbers: "97 %"; never 0 or 100, which no simulation can say. Empty without a promised day."""
        if self.chance is None:
            return ""
        return f"{min(99, max(1, round(100 * self.chance)))} %"


def odds_facts(found: PlanResult) -> dict[str, Any]:
    """What is kept of the odds with a plan: the last day of each simulated run."""
    return {"odds": [day.isoformat() for day in found.odds.days] if found.odds else []}


def promise_of(row: Plan | None, promised: date | None) -> Promise | None:
    """The odds of a kept plan against the promised day; None for a plan without them."""
    kept = row.facts.get("odds") if row is not None else None
    if not kept:
        return None
    odds = Odds(tuple(date.fromisoformat(day) for day in kept))
    chance = odds.chance(promised) if promised else None
    return Promise(odds.likely, odds.sure, chance, odds.likely_times, odds.sure_times)
