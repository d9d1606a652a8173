"""Nights of a plan on which the clocks change: the plan counts clock times, so such a night is an hour shorter or longer than it says."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from hidewright.dates import short_day


@dataclass(frozen=True, slots=True)
class ClockChange:
    """The night to `day`, which lasts `hours` more (below 0: fewer) than its clock times say."""

    day: date
    hours: float

    @property
    def words(self) -> str:
        """What to do about it."""
        night = f"In the night to {short_day(self.day)} the clocks change: it is {abs(self.hours):g} h"
        if self.hours < 0:
            return f"{night} shorter than the plan counts. Leave what cures over that night alone {abs(self.hours):g} h longer in the morning."
        return (
            f"{night} longer than the plan counts; whoever works through it is there {self.hours:g} h more."
        )


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


def _noon_offset(day: date) -> timedelta:
    offset = timezone.make_aware(datetime.combine(day, time(12))).utcoffset()
    assert offset is not None
    return offset
