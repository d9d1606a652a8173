"""When people work: weekly hours, holidays and days off, as stretches of minutes since the midnight before the first day."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from hidewright.refusals import Refusal

DAY = 24 * 60
Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Week:
    """Working hours by weekday (0 is Monday): stretches of minutes since midnight, in order, not touching the midnight."""

    hours: Mapping[int, tuple[Stretch, ...]]

    def __post_init__(self) -> None:
        for weekday, stretches in self.hours.items():
            if not 0 <= weekday <= 6:
                raise Refusal(f"{weekday} is no weekday.", where="hours", remedy="Monday is 0, Sunday 6.")
            last = 0
            for start, end in stretches:
                if not last <= start < end <= DAY:
                    raise Refusal("Working hours overlap, or end before they start.", where="hours")
                last = end
        if not any(self.hours.values()):
            raise Refusal(
                "Nobody works on any day of the week.",
                where="hours",
                remedy="Enter hours for at least one weekday.",
            )


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works: `week` hours, `off` days without work."""

    key: str
    name: str
    week: Week
    off: frozenset[date] = frozenset()


@dataclass(frozen=True, slots=True)
class Calendar:
    """The days of a plan: `start` the first day, `holidays` on which nobody works, `days` how far it may reach."""

    start: date
    holidays: frozenset[date] = frozenset()
    days: int = 120
    _cache: dict[str, tuple[Stretch, ...]] = field(default_factory=dict, repr=False, compare=False)

    def minutes(self, moment: datetime) -> int:
        """Whole minutes from the midnight before the first day."""
        return int((moment - datetime.combine(self.start, time(0))).total_seconds() // 60)

    def moment(self, minute: int) -> datetime:
        """The local clock time of a minute."""
        return datetime.combine(self.start, time(0)) + timedelta(minutes=minute)

    def day(self, minute: int) -> date:
        """The day of the minute before this one: work that ends at midnight ends on its day."""
        return self.moment(max(minute - 1, 0)).date()

    def stretches(self, person: Person) -> tuple[Stretch, ...]:
        """All working stretches of a person, in order."""
        if person.key not in self._cache:
            found = []
            for number in range(self.days):
                today = self.start + timedelta(days=number)
                if today not in self.holidays and today not in person.off:
                    found += [
                        (number * DAY + a, number * DAY + b)
                        for a, b in person.week.hours.get(today.weekday(), ())
                    ]
            self._cache[person.key] = tuple(found)
        return self._cache[person.key]

    def working_minutes(self, person: Person, until: int) -> int:
        """Minutes the person works before `until`."""
        return sum(min(b, until) - a for a, b in self.stretches(person) if a < until)


def stretch_at(stretches: Sequence[Stretch], minute: int) -> int:
    """Index of the stretch that holds `minute`, or of the next one."""
    index = bisect_right(stretches, (minute, 10**9)) - 1
    if index >= 0 and stretches[index][1] > minute:
        return index
    return index + 1
