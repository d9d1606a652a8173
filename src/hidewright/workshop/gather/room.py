"""The room as values: tables, weekly hours, the empty tables as a picture."""

from dataclasses import dataclass
from typing import Literal

from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.tables import TableTop, tables_from_above

from ..models.days import Hours, WorkTable
from ..models.jobs import Job
from ..models.shop import Person

FOOT = 0.3048
"""Metres in a foot (exact by definition)."""


def length_text(metres: float, units: str) -> str:
    """A length as the shop writes it: “3.60 m” or “11.8 ft”."""
    return f"{metres / FOOT:.1f} ft" if units == "us" else f"{metres:.2f} m"


def table_tops() -> list[TableTop]:
    """The tables in use, as the pictures take them."""
    return [TableTop(t.name, t.length, t.depth) for t in WorkTable.objects.filter(active=True)]


def room_picture(units: str) -> SafeString:
    """The empty tables seen from above, to scale; empty text when there is no table."""
    tops = table_tops()
    if not tops:
        return SafeString("")
    unit: Literal["m", "ft"] = "ft" if units == "us" else "m"
    return mark_safe(tables_from_above(tops, [], unit=unit, key=False))  # noqa: S308 - our own SVG, text escaped


def week_of(person: Person | None) -> dict[int, str]:
    """Weekday → “08:00-12:00, 12:30-17:00”; a person without hours of their own has the shop's."""
    rows = list(Hours.objects.filter(person=person))
    if person is not None and not rows:
        return week_of(None)
    week = dict.fromkeys(range(7), "")
    for row in rows:
        text = f"{row.start:%H:%M}-{row.end:%H:%M}"
        week[row.weekday] = f"{week[row.weekday]}, {text}" if week[row.weekday] else text
    return week


@dataclass(frozen=True, slots=True)
class Check:
    """One thing a plan needs: whether it is there, in words, and the name of the page where it is entered."""

    ok: bool
    words: str
    page: str
    of_job: bool = False


def readiness(job: Job) -> list[Check]:
    """What a plan of `job` needs."""
    tables = WorkTable.objects.filter(active=True).count()
    people = Person.objects.filter(active=True).count()
    hours = Hours.objects.filter(person=None).exists()
    return [
        Check(tables > 0, f"{tables} tables." if tables else "Enter a table first.", "tables"),
        Check(hours, "Hours are set." if hours else "Set the hours of the shop first.", "hours"),
        Check(people > 0, f"{people} people." if people else "Enter who works first.", "people"),
    ]
