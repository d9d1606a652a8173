"""How full the weeks of the shop are across jobs: hours of hands, stretches of table, guns and racks out of the plans, week by week. It knows plans only."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from ..problem.calendar import DAY, Calendar, Person, Stretch
from ..problem.model import GAP, Table
from .clashes import Dated, racked

WEEK = 7


@dataclass(frozen=True, slots=True)
class Load:
    """What one person or table does in a week: `held` by job, of `of` in all (minutes of hands, metre-minutes of table while the shop is open); `days` (weekday, 0 is Monday) → the jobs of that day."""

    name: str
    held: Mapping[str, float]
    of: float
    days: Mapping[int, tuple[str, ...]] = field(default_factory=dict)

    @property
    def share(self) -> float:
        """How full, 0..1; above 1 where two jobs hold the same."""
        return sum(self.held.values()) / self.of if self.of else 0.0


@dataclass(frozen=True, slots=True)
class ShopWeek:
    """One week from its Monday: who and where, minutes of each gun by job, and the most pieces that stand in the racks at once."""

    monday: date
    people: tuple[Load, ...]
    tables: tuple[Load, ...]
    guns: Mapping[str, float]
    racked: int

    @property
    def share(self) -> float:
        """How much of the hours of all people is planned, 0..1."""
        whole = sum(each.of for each in self.people)
        return sum(sum(each.held.values()) for each in self.people) / whole if whole else 0.0


def monday_of(day: date) -> date:
    """The Monday of the week of a day."""
    return day - timedelta(days=day.weekday())


def shop_weeks(
    plans: Mapping[str, Dated],
    people: Sequence[Person],
    tables: Sequence[Table],
    holidays: frozenset[date],
    first: date,
    weeks: int,
) -> tuple[ShopWeek, ...]:
    """`weeks` weeks from that of `first` on."""
    start = monday_of(first)
    calendar = Calendar(start, holidays, days=WEEK * weeks)
    stretches = {person.key: calendar.stretches(person) for person in people}
    hands: dict[tuple[int, str], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    lying: dict[tuple[int, str], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    guns: dict[int, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    days: dict[tuple[int, str], dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
    opened = _opened(stretches.values(), weeks)
    for key, dated in plans.items():
        shift = (dated.first - start).days * DAY
        for p in dated.plan.placements:
            week, at = divmod(p.start + shift, WEEK * DAY)
            if 0 <= week < weeks:
                hands[week, p.person][key] += p.end - p.start
                days[week, p.person][at // DAY].add(key)
                if p.gun is not None:
                    guns[week][key] += p.end - p.start
        for s in dated.plan.stays:
            for day in range(
                max(0, (s.since + shift) // DAY), min(WEEK * weeks, (s.until + shift) // DAY + 1)
            ):
                a, b = opened.get(day, (0, 0))
                minutes = min(b, s.until + shift) - max(a, s.since + shift)
                if minutes > 0:
                    lying[day // WEEK, s.table][key] += minutes * (s.along + GAP)
                    days[day // WEEK, s.table][day % WEEK].add(key)
    most = _most_racked(plans, start, weeks)
    return tuple(
        ShopWeek(
            start + timedelta(days=WEEK * week),
            tuple(
                _load(
                    person.name,
                    hands[week, person.key],
                    _inside(stretches[person.key], week),
                    days[week, person.key],
                )
                for person in people
            ),
            tuple(
                _load(
                    table.name,
                    lying[week, table.key],
                    table.length * sum(b - a for day, (a, b) in opened.items() if day // WEEK == week),
                    days[week, table.key],
                )
                for table in tables
            ),
            dict(guns[week]),
            most[week],
        )
        for week in range(weeks)
    )


def _load(name: str, held: Mapping[str, float], of: float, days: Mapping[int, set[str]]) -> Load:
    return Load(name, dict(held), of, {day: tuple(sorted(keys)) for day, keys in days.items()})


def _opened(each: Iterable[Sequence[Stretch]], weeks: int) -> dict[int, Stretch]:
    """Day number → from when until when anybody is there."""
    found: dict[int, Stretch] = {}
    for stretches in each:
        for a, b in stretches:
            day = a // DAY
            if day < WEEK * weeks:
                known = found.get(day, (a, b))
                found[day] = (min(known[0], a), max(known[1], b))
    return found


def _inside(stretches: Sequence[Stretch], week: int) -> float:
    return sum(b - a for a, b in stretches if a // (WEEK * DAY) == week)


def _most_racked(plans: Mapping[str, Dated], start: date, weeks: int) -> list[int]:
    """The most pieces that stand off the tables at once, week by week."""
    zero = datetime.combine(start, time(0))
    changes: list[tuple[float, int]] = []
    for dated in plans.values():
        midnight = (datetime.combine(dated.first, time(0)) - zero).total_seconds() / 60
        for since, until in racked(dated.plan):
            changes += [(midnight + since, 1), (midnight + until, -1)]
    most = [0] * weeks
    count = 0
    at_week = 0
    for minute, by in sorted(changes):
        week = int(minute // (WEEK * DAY))
        while at_week < min(week, weeks - 1):
            at_week += 1
            most[at_week] = max(most[at_week], count)
        count += by
        if 0 <= week < weeks:
            most[week] = max(most[week], count)
    return most
