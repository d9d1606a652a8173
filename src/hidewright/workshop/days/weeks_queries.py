"""The shop's weeks across jobs: who and where, how full, the open jobs in their order, and the last answer about room for another."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from hidewright.planning.plan.clashes import Dated
from hidewright.planning.plan.weeks import WEEK, Load, ShopWeek, monday_of, shop_weeks
from hidewright.planning.problem.absences import Absence, absences_of, days_of
from hidewright.planning.problem.calendar import Person
from hidewright.planning.problem.rest import Rest, shortened_all
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.promise_queries import Promise, promise_of
from hidewright.workshop.days.rest_queries import rest_items
from hidewright.workshop.days.sharing_queries import in_order, schedules_of, shared
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.room.absence_queries import closed_days
from hidewright.workshop.room.queries import planning_people, planning_tables, rack_holds
from hidewright.workshop.shop.models import Job, Run

SHOWN = 6
"""Weeks on one page."""
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class Line:
    """One row of a week: who or where, how full in percent, the parts by job in words, and the jobs of each day."""

    name: str
    percent: int
    words: str
    days: tuple[tuple[str, str], ...]
    away: str = ""

    @property
    def over(self) -> bool:
        """More than there is: two jobs hold the same."""
        return self.percent > 100


@dataclass(frozen=True, slots=True)
class Week:
    """A week as the page shows it."""

    monday: date
    percent: int
    people: tuple[Line, ...]
    tables: tuple[Line, ...]
    spraying: str
    racked: int
    racks: int | None

    @property
    def sunday(self) -> date:
        """Its last day."""
        return self.monday + timedelta(days=WEEK - 1)


@dataclass(frozen=True, slots=True)
class JobLine:
    """An open job in its order: its plan, and its day with odds."""

    job: Job
    row: Plan | None
    odds: Promise | None

    @property
    def late(self) -> bool:
        """Whether its plan ends after the promised day."""
        return bool(self.row and self.job.promised and self.row.finish > self.job.promised)


def job_lines() -> tuple[JobLine, ...]:
    """All open jobs, the one that goes first first."""
    rows = {one.job.pk: one.row for one in shared()}
    return tuple(
        JobLine(job, rows.get(job.pk), promise_of(rows.get(job.pk), job.promised))
        for job in in_order(Job.objects.filter(put_away=None))
    )


def weeks(page: int = 1, today: date | None = None) -> tuple[tuple[Week, ...], int]:
    """The weeks of a page (from 1; the first begins with this week, on a Saturday or Sunday with the next), and how many pages there are; refuses a shop without hours."""
    day = today or timezone.localdate()
    first = monday_of(day + timedelta(days=2))  # at the end of a week the next one is what counts
    listed = [one for one in shared() if one.row.finish >= first]
    last = max((one.row.finish for one in listed), default=first)
    count = (monday_of(last) - first).days // WEEK + 1
    pages = max(1, -(-count // SHOWN))
    begin = first + timedelta(weeks=SHOWN * (min(max(page, 1), pages) - 1))
    schedules = schedules_of(listed)
    plans = {one.label: Dated(schedules[one.row.pk], one.first) for one in listed}
    inside = min(SHOWN, max(1, count - (begin - first).days // WEEK))
    people = shortened_all(planning_people(), Rest(rest_items()))
    loads = shop_weeks(plans, people, planning_tables(), closed_days(), begin, inside)
    holds = rack_holds()
    return tuple(_week(week, holds, people) for week in loads), pages


def _week(week: ShopWeek, racks: int | None, people: Sequence[Person]) -> Week:
    away = [away_words(person, week.monday) for person in people]
    return Week(
        week.monday,
        round(100 * week.share),
        tuple(_line(each, "h", words) for each, words in zip(week.people, away, strict=True)),
        tuple(_line(each, "") for each in week.tables),
        _parts(week.guns, "h"),
        week.racked,
        racks,
    )


def away_words(person: Person, monday: date) -> str:
    """When somebody is away in a week: “Mon to Fri”, “Tue; Thu from 13:00”; empty when they are not."""
    inside = {
        day: since
        for day, since in days_of(person.absences).items()
        if monday <= day < monday + timedelta(days=WEEK)
    }
    return "; ".join(_days_words(absence) for absence in absences_of(inside.items()))


def _days_words(absence: Absence) -> str:
    first, last = DAYS[absence.first.weekday()], DAYS[absence.last.weekday()]
    return f"{first}{absence.clock}" + (f" to {last}" if absence.last > absence.first else "")


def _line(load: Load, unit: str, away: str = "") -> Line:
    words = _parts(load.held, unit) if unit else ", ".join(sorted(load.held))
    if unit:
        words = f"{sum(load.held.values()) / 60:.0f} of {load.of / 60:.0f} h" + (
            f": {words}" if words else ""
        )
    return Line(
        load.name,
        round(100 * load.share),
        words,
        tuple((DAYS[day], ", ".join(load.days[day])) for day in sorted(load.days)),
        away,
    )


def _parts(held: Mapping[str, float], unit: str) -> str:
    """“Car Larkspur 12 h, Boat 3 h”, the most first."""
    listed = sorted(held.items(), key=lambda each: (-each[1], each[0]))
    return ", ".join(f"{name} {max(0.1, minutes / 60):.1f} {unit}" for name, minutes in listed if minutes)


@dataclass(frozen=True, slots=True)
class Answer:
    """From when another interior could be taken, and what day could be promised; `stale` when plans have changed since."""

    name: str
    pieces: int
    hours: float
    begin: date
    finish: date
    likely: date | None
    sure: date | None
    bound: date
    others: tuple[str, ...]
    stale: bool
    times: tuple[str, ...] = ()
    """How often it is done by the likely and by the sure day."""


def answer_of(run: Run | None) -> Answer | None:
    """The answer that a run about room gave; None without one."""
    if run is None or not run.result:
        return None
    result: dict[str, Any] = run.result
    now = sorted(one.row.pk for one in shared() if one.row.finish >= timezone.localdate())
    return Answer(
        result["name"],
        result["pieces"],
        result["hours"],
        date.fromisoformat(result["begin"]),
        date.fromisoformat(result["finish"]),
        date.fromisoformat(result["likely"]) if result["likely"] else None,
        date.fromisoformat(result["sure"]) if result["sure"] else None,
        date.fromisoformat(result["bound"]),
        tuple(result["others"]),
        now != result["plans"],
        tuple(result.get("times", ())),
    )


LISTED = 30


def jobs_to_copy() -> list[tuple[int, str]]:
    """The jobs with pieces, open or put away, the newest first."""
    jobs = Job.objects.filter(pk__in=Piece.objects.filter(removed=None, by_us=True).values("job"))
    return [(job.pk, job.name) for job in jobs.order_by("-made")[:LISTED]]
