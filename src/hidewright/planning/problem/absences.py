"""Days without work: single days and stretches of days, how they are written in lists, and how they are said."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from hidewright.dates import show_day
from hidewright.refusals import Refusal
from hidewright.units import read_clock

DAY = 24 * 60
LONGEST = 731
"""Days that one absence lasts at most: two years."""
_DATE = r"\d{4}-\d{2}-\d{2}|\d{1,2}\.\d{1,2}\.\d{4}|\d{1,2}\s+[A-Za-z]{3,9}\.?\s+\d{4}"
_ONE = re.compile(
    rf"(?P<first>{_DATE})(?:[T ]\s*(?:from\s+)?(?P<clock>\d{{1,2}}:\d{{2}}))?"
    rf"(?:\s*(?:\bto\b|\buntil\b|\btill\b|\bbis\b|-|–|—|\.\.|/)\s*(?P<last>{_DATE}))?"
)
_BETWEEN = re.compile(r"(?:[\s+,;]|\band\b|\bund\b)*")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@dataclass(frozen=True, slots=True)
class Absence:
    """Away from `first` to `last`, both days included (731 days at most); on the first day from minute `since` on (0..1439, 0: the whole day)."""

    first: date
    last: date
    since: int = 0

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise Refusal(
                f"The last day, {show_day(self.last)}, is before the first, {show_day(self.first)}.",
                where="to",
                remedy="Write the first day, then the last.",
            )
        if (self.last - self.first).days >= LONGEST:
            raise Refusal(
                f"From {show_day(self.first)} to {show_day(self.last)} is more than two years.",
                where="to",
                remedy="Check the year; take somebody who is gone for longer off the list of people.",
            )
        if not 0 <= self.since < DAY:
            raise Refusal("The hour is no time of a day.", where="hour", remedy="Write it like 13:00.")

    def works_until(self, day: date) -> int:
        """The minute of that day until which there is work: 0 when away all day, 1440 when not away."""
        if not self.first <= day <= self.last:
            return DAY
        return self.since if day == self.first else 0

    @property
    def days(self) -> Iterator[tuple[date, int]]:
        """Each day of it, with the minute from which there is no work."""
        for number in range((self.last - self.first).days + 1):
            yield self.first + timedelta(days=number), 0 if number else self.since

    @property
    def clock(self) -> str:
        """ " from 13:00", with the space before it; empty where the first day is a whole one."""
        return f" from {self.since // 60:02d}:{self.since % 60:02d}" if self.since else ""

    @property
    def words(self) -> str:
        """ "Mon 2 Mar 2026", "Mon 2 Mar 2026 from 13:00", "Mon 2 Mar to Fri 13 Mar 2026"."""
        if self.first == self.last:
            return f"{self.first:%a} {show_day(self.first)}{self.clock}"
        year = "" if self.first.year == self.last.year else f" {self.first.year}"
        begin = f"{self.first:%a} {self.first.day} {self.first:%b}{year}{self.clock}"
        return f"{begin} to {self.last:%a} {show_day(self.last)}"


def absences_of(days: Iterable[tuple[date, int]]) -> tuple[Absence, ...]:
    """Days with the minute from which there is no work, as stretches of days that follow each other; the earlier minute of a day given twice counts."""
    least: dict[date, int] = {}
    for day, since in days:
        least[day] = min(since, least.get(day, since))
    found: list[Absence] = []
    for day, since in sorted(least.items()):
        long = found and (day - found[-1].first).days >= LONGEST
        if found and not since and not long and day - found[-1].last == timedelta(days=1):
            found[-1] = Absence(found[-1].first, day, found[-1].since)
        else:
            found.append(Absence(day, day, since))
    return tuple(found)


def days_of(absences: Iterable[Absence]) -> dict[date, int]:
    """Each day without work of these, with the minute from which there is none."""
    least: dict[date, int] = {}
    for absence in absences:
        for day, since in absence.days:
            least[day] = min(since, least.get(day, since))
    return least


def day_in(text: str, where: str) -> date:
    """A day out of 2026-03-02, 2.3.2026 (day first) or 2 Mar 2026; refuses what is none, and 3/2/2026, which is read in two ways."""
    cleaned = text.strip()
    parts = re.fullmatch(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", cleaned)
    words = re.fullmatch(r"(\d{1,2})\s+([A-Za-z]{3,9})\.?\s+(\d{4})", cleaned)
    try:
        if parts:
            return date(int(parts[3]), int(parts[2]), int(parts[1]))
        if words:
            return date(int(words[3]), _MONTHS.index(words[2][:3].lower()) + 1, int(words[1]))
        return date.fromisoformat(cleaned)
    except ValueError as error:
        raise Refusal(
            f"“{cleaned[:20]}” is no day.", where=where, remedy="Write it like 2026-03-02."
        ) from error


def absences_in(text: str) -> tuple[Absence, ...]:
    """Absences out of “2026-03-02, 2026-03-09 to 2026-03-20, 2026-04-01 13:00”; refuses what is none, `where` off."""
    cleaned, place, found = text.strip(), 0, []
    while place < len(cleaned):
        one = _ONE.match(cleaned, place)
        if one is None:
            raise Refusal(
                f"“{cleaned[place : place + 20]}” is no day.",
                where="off",
                remedy="Write it like 2026-03-02, or 2026-03-02 to 2026-03-13.",
            )
        first = day_in(one["first"], "off")
        last = day_in(one["last"], "off") if one["last"] else first
        found.append(_absence(first, last, one["clock"]))
        between = _BETWEEN.match(cleaned, one.end())
        place = between.end() if between else one.end()
    return tuple(found)


def _absence(first: date, last: date, clock: str | None) -> Absence:
    try:
        return Absence(first, last, read_clock(clock) if clock else 0)
    except Refusal as refusal:
        raise Refusal(refusal.what, where="off", remedy=refusal.remedy) from refusal
