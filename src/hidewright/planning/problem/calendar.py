"""When people work: weekly hours, holidays and days off, as stretches of minutes since the midnight before the first day."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import islice

from hidewright.refusals import Refusal

from .absences import DAY as DAY
from .absences import Absence

EVERY_NIGHT = frozenset(range(7))
"""The weekdays (0 is Monday) on whose evenings the fan goes off: all."""
NO_NIGHT: frozenset[int] = frozenset()
Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Week:
    """Working hours by weekday (0 is Monday): stretches of minutes since midnight, in order, none across midnight.

    Give `hours` as {weekday: ((start, end), …)}; days left out are free.
    """

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

    @property
    def longest(self) -> int:
        """Minutes of the longest stretch without a break."""
        return max(end - start for stretches in self.hours.values() for start, end in stretches)


def over_midnight(hours: Mapping[int, Sequence[Stretch]]) -> dict[int, tuple[Stretch, ...]]:
    """Hours by weekday in which the last stretch of a day may end after midnight (above 1440), as those of each day: the rest stands at the beginning of the next. Refuses a next day that begins before that rest ends, `where` its number."""
    found = {day: [(a, min(b, DAY)) for a, b in stretches] for day, stretches in hours.items()}
    for day, stretches in hours.items():
        rest = max((b - DAY for _, b in stretches), default=0)
        if rest <= 0:
            continue
        following = (day + 1) % 7
        if any(a < rest for a, _ in hours.get(following, ())):
            raise Refusal(
                f"The shift of the day before goes on until {rest // 60:02}:{rest % 60:02}, and this begins before that.",
                where=str(following),
                remedy="Begin later, or end that shift at 24:00.",
            )
        found.setdefault(following, []).insert(0, (0, rest))
    return {day: tuple(stretches) for day, stretches in found.items()}


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works: `week` hours, `absences` the days without work, `skills` the kinds of work they do (None: all of them)."""

    key: str
    name: str
    week: Week
    skills: frozenset[str] | None = None
    absences: tuple[Absence, ...] = ()

    def __post_init__(self) -> None:
        if not self.key.strip() or not self.name.strip():
            raise Refusal("A person needs a key and a name.", where="people")

    def works_until(self, day: date) -> int:
        """The minute of that day until which this person may work: 0 on a day off, 1440 on a day like any other."""
        return min((absence.works_until(day) for absence in self.absences), default=DAY)

    def can(self, kind: str) -> bool:
        """True when this person does that kind of work."""
        return self.skills is None or kind in self.skills


@dataclass(frozen=True, slots=True)
class Calendar:
    """The days of a plan: `start` the first day, `holidays` on which nobody works, `days` how far it may reach; `held` person key → stretches that other jobs hold of their hours; `missing` (from, until) local times that the
    clock leaves out where it is put forward: nobody works then, and nothing dries.

    Minutes are those of the clock on the wall. An hour that the clock goes through twice is counted once: what dries then dries longer than it must.
    """

    start: date
    holidays: frozenset[date] = frozenset()
    days: int = 200
    held: Mapping[str, tuple[Stretch, ...]] = field(default_factory=dict, hash=False)
    missing: tuple[tuple[datetime, datetime], ...] = ()
    gaps: tuple[Stretch, ...] = field(default=(), init=False, repr=False, compare=False)
    _cache: dict[int, tuple[Person, tuple[Stretch, ...]]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        gaps = tuple(sorted((self.minutes(a), self.minutes(b)) for a, b in self.missing))
        if any(end <= start for start, end in gaps):
            raise Refusal("A clock that is put forward leaves some time out.", where="missing")
        object.__setattr__(self, "gaps", gaps)

    def dries(self, end: int, minutes: int) -> int:
        """The minute at which what was done at `end` has dried for so many minutes: those that the clock leaves out are none."""
        until = end + minutes
        for start, stop in self.gaps:
            if end < stop and until > start:
                until += stop - max(start, end)
        return until

    def minutes(self, moment: datetime) -> int:
        """Whole minutes from the midnight before the first day."""
        return int((moment - datetime.combine(self.start, time(0))).total_seconds() // 60)

    def moment(self, minute: int) -> datetime:
        """The local clock time of a minute."""
        return datetime.combine(self.start, time(0)) + timedelta(minutes=minute)

    def day(self, minute: int) -> date:
        """The day of work that ends at `minute`: what ends at midnight ends on the day before."""
        return self.moment(max(minute - 1, 0)).date()

    def minutes_of(self, day: date) -> int:
        """The minute at which `day` begins; 0 for days before the first."""
        return max(0, (day - self.start).days * DAY)

    def end_of(self, day: date) -> int:
        """The minute at which `day` ends."""
        return ((day - self.start).days + 1) * DAY

    def stretches(self, person: Person) -> tuple[Stretch, ...]:
        """All working stretches of a person, in order; two that touch are one."""
        known = self._cache.get(id(person))
        if known is None or known[0] is not person:
            known = (person, self._stretches(person))
            self._cache[id(person)] = known
        return known[1]

    def _stretches(self, person: Person) -> tuple[Stretch, ...]:
        found: list[Stretch] = []
        for number in range(self.days):
            today = self.start + timedelta(days=number)
            until = 0 if today in self.holidays else person.works_until(today)
            for a, b in person.week.hours.get(today.weekday(), ()):
                if a >= until:
                    break
                begin, end = number * DAY + a, number * DAY + min(b, until)
                if found and found[-1][1] == begin:
                    found[-1] = (found[-1][0], end)
                else:
                    found.append((begin, end))
        cut = (*self.held.get(person.key, ()), *self.gaps)
        return without(found, cut) if cut else tuple(found)

    def working_minutes(self, person: Person, until: int, since: int = 0) -> int:
        """Minutes the person works between `since` and `until`."""
        return sum(
            max(0, min(b, until) - max(a, since))
            for a, b in self.stretches(person)
            if a < until and b > since
        )


def stretch_at(stretches: Sequence[Stretch], minute: int) -> int:
    """Index of the stretch that holds `minute`, or of the next one (the number of stretches when there is none)."""
    index = bisect_right(stretches, (minute, 10**9)) - 1
    if index >= 0 and stretches[index][1] > minute:
        return index
    return index + 1


def open_hours(calendar: Calendar, people: Sequence[Person]) -> tuple[Stretch, ...]:
    """The stretches in which at least one of these people works, joined where they touch or overlap."""
    found: list[Stretch] = []
    for start, end in sorted(s for person in people for s in calendar.stretches(person)):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return tuple(found)


def without(stretches: Sequence[Stretch], held: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """The stretches, in order, with what is `held` cut out of them."""
    cuts = sorted(held)
    found: list[Stretch] = []
    first = 0
    for start, end in stretches:
        at = start
        while first < len(cuts) and cuts[first][1] <= start:
            first += 1
        for a, b in islice(cuts, first, None):
            if a >= end:
                break
            if a > at:
                found.append((at, a))
            at = max(at, b)
        if at < end:
            found.append((at, end))
    return tuple(found)


NIGHT = 4 * 60
"""Minutes without anybody in the shop after which a new day of work begins."""


@dataclass(frozen=True, slots=True)
class ShopDay:
    """One day of work of the shop, also where it goes over midnight: `opening` and `closing` minute, and the `stretches` in which somebody works."""

    number: int
    opening: int
    closing: int
    stretches: tuple[Stretch, ...]

    @property
    def minutes(self) -> int:
        """Open minutes."""
        return sum(b - a for a, b in self.stretches)

    def left(self, minute: int) -> int:
        """Open minutes from `minute` on."""
        return sum(b - max(a, minute) for a, b in self.stretches if b > minute)


def shop_days(open_: Sequence[Stretch]) -> tuple[ShopDay, ...]:
    """The days of work: open stretches with less than `NIGHT` between them belong to one day, of 24 hours at most; its number is that of the calendar day on which it opens."""
    days: list[list[Stretch]] = []
    for start, end in open_:
        while start < end:
            new = not days or start - days[-1][-1][1] >= NIGHT or start >= days[-1][0][0] + DAY
            if new:
                days.append([])
            opening = start if new else days[-1][0][0]
            until = min(end, opening + DAY)
            days[-1].append((start, until))
            start = until
    return tuple(ShopDay(day[0][0] // DAY, day[0][0], day[-1][1], tuple(day)) for day in days)
