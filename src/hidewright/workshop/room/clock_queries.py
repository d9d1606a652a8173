"""Nights of a plan on which the clocks change. A plan counts the times of the clock on the wall; those that it leaves out are no time in which anybody works or anything dries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache

from django.utils import timezone

from hidewright.dates import short_day


@dataclass(frozen=True, slots=True)
class ClockChange:
    """The night to `day`, which lasts `hours` more (below 0: fewer) than others."""

    day: date
    hours: float

    @property
    def words(self) -> str:
        """What it means for the plan."""
        night = f"In the night to {short_day(self.day)} the clocks change: it is {abs(self.hours):g} h"
        if self.hours < 0:
            longer = "an hour" if self.hours == -1 else f"{abs(self.hours):g} h"
            return f"{night} shorter. The plan knows: what cures over it is left alone {longer} longer by the clock, and nobody works in the time that is left out."
        return f"{night} longer. What cures over it cures that much longer than the plan says; whoever works through it is there {self.hours:g} h more."


def clock_changes(days: Iterable[date]) -> list[ClockChange]:
    """The changes of the shop's clock from the first to the last of these days."""
    spanned = sorted(days)
    if not spanned:
        return []
    changes = []
    for number in range(1, (spanned[-1] - spanned[0]).days + 1):
        day = spanned[0] + timedelta(days=number)
        before, after = (_noon_offset(each) for each in (day - timedelta(days=1), day))
        if before != after:
            changes.append(ClockChange(day, (before - after).total_seconds() / 3600))
    return changes


STEP = 15
"""Minutes between which a clock is never put forward: every change of the zone tables since 1970 lies on a quarter of an hour."""


def missing_times(first: date, days: int) -> tuple[tuple[datetime, datetime], ...]:
    """(from, until) local times that the shop's clock leaves out from `first` on for so many days, where it is put forward."""
    return _missing(timezone.get_current_timezone_name(), first, days)


@lru_cache(maxsize=64)
def _missing(_zone: str, first: date, days: int) -> tuple[tuple[datetime, datetime], ...]:
    found: list[tuple[datetime, datetime]] = []
    for change in clock_changes(first + timedelta(days=n) for n in (-1, days)):
        if change.hours >= 0:
            continue
        noon = datetime.combine(change.day - timedelta(days=1), time(12))
        steps = (noon + timedelta(minutes=STEP * n) for n in range(24 * 60 // STEP))
        missing = [step for step in steps if not _is_there(step)]
        if missing:
            found.append((missing[0], missing[-1] + timedelta(minutes=STEP)))
    return tuple(found)


def _is_there(local: datetime) -> bool:
    """Whether the clock ever shows this local time."""
    back = timezone.make_aware(local).astimezone(UTC).astimezone(timezone.get_current_timezone())
    return back.replace(tzinfo=None) == local


def _noon_offset(day: date) -> timedelta:
    offset = timezone.make_aware(datetime.combine(day, time(12))).utcoffset()
    assert offset is not None
    return offset
