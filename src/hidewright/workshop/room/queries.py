"""The room as values: tables, weekly hours, the empty tables as a picture."""

import calendar
from collections.abc import Collection
from datetime import date, time
from typing import Literal

from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.racks import Rack
from hidewright.charts.tables import TableTop, tables_from_above
from hidewright.planning.problem.calendar import EVERY_NIGHT, Calendar, Week
from hidewright.planning.problem.calendar import Person as PlanPerson
from hidewright.planning.problem.model import Kind, Table
from hidewright.refusals import Refusal
from hidewright.takeoff.products import Role
from hidewright.workshop.room.absence_queries import absence_of, closed_days, early_closings
from hidewright.workshop.room.clock_queries import missing_times
from hidewright.workshop.room.models import GunSetup, Hours, RoomRules, Storage, WorkTable
from hidewright.workshop.shelf.queries import first_of
from hidewright.workshop.shop.models import Person
from hidewright.workshop.shop.page_cache import remembered

FOOT = 0.3048
"""Metres in a foot (exact by definition)."""
REACH = 200
"""Days from its first, or from today where that is past, within which a plan must end."""


def length_text(metres: float, units: str) -> str:
    """A length as the shop writes it: “3.60 m” or “11.8 ft”."""
    return f"{metres / FOOT:.1f} ft" if units == "us" else f"{metres:.2f} m"


def table_tops() -> list[TableTop]:
    """The tables in use, as the pictures take them."""
    return [TableTop(t.name, t.length, t.depth) for t in WorkTable.objects.filter(active=True)]


EMPTY_STRIP = 6.0
"""m of table in one row where nothing lies on it: twice as much as where the marks of pieces must be read."""


def room_picture(units: str) -> SafeString:
    """The empty tables seen from above, to scale; empty text when there is no table."""
    tops = table_tops()
    if not tops:
        return SafeString("")
    unit: Literal["m", "ft"] = "ft" if units == "us" else "m"
    drawn = tables_from_above(tops, [], unit=unit, strip_m=EMPTY_STRIP, key=False)
    return mark_safe(drawn)  # noqa: S308 - our own SVG, text escaped


MIDNIGHT = time(23, 59)
"""How a stretch that ends at midnight is kept: a clock time knows no 24:00."""


def week_of(person: Person | None) -> dict[int, str]:
    """Weekday → “08:00-12:00, 12:30-17:00”; a person without hours of their own has the shop's."""
    rows = list(Hours.objects.filter(person=person))
    if person is not None and not rows:
        return week_of(None)
    week = dict.fromkeys(range(7), "")
    for row in rows:
        text = f"{row.start:%H:%M}-{'24:00' if row.end == MIDNIGHT else f'{row.end:%H:%M}'}"
        week[row.weekday] = f"{week[row.weekday]}, {text}" if week[row.weekday] else text
    return week


@remembered
def table_rows() -> tuple[WorkTable, ...]:
    """The tables in use."""
    return tuple(WorkTable.objects.filter(active=True))


def planning_tables() -> tuple[Table, ...]:
    """The tables in use as the planner takes them; lengths in m."""
    return tuple(Table(t.key, t.name, t.length, t.depth, not_for=frozenset(t.not_for)) for t in table_rows())


def planning_people() -> tuple[PlanPerson, ...]:
    """The people listed, with their hours and absences, as the planner takes them; refuses a shop without hours."""
    shop = Hours.objects.filter(person=None)
    if not shop:
        raise Refusal("The shop has no hours yet.", where="hours", remedy="Set them under Tables and hours.")
    people = []
    early = early_closings()
    listed = Person.objects.filter(active=True).select_related("skills")
    for person in listed.prefetch_related("hours", "days_off"):
        own = list(person.hours.all())
        away = (*early, *(absence_of(row) for row in person.days_off.all()))
        week = _week(own or list(shop))
        people.append(PlanPerson(person.key, person.name, week, skills=skills_of(person), absences=away))
    return tuple(people)


@remembered
def racks() -> tuple[Rack, ...]:
    """The racks listed, with their places; those of the same name count as one."""
    places: dict[str, int] = {}
    for row in Storage.objects.filter(active=True):
        places[row.name] = places.get(row.name, 0) + row.pieces
    return tuple(Rack(name, count) for name, count in places.items())


def rack_holds() -> int | None:
    """How many coated pieces can stand off the tables in all; None where nobody said."""
    return sum(rack.places for rack in racks()) if racks() else None


def skills_of(person: Person) -> frozenset[Kind] | None:
    """The kinds of work a person does; None means every kind."""
    row = getattr(person, "skills", None)
    return frozenset(Kind(kind) for kind in row.kinds if kind in set(Kind)) if row else None


def planning_calendar(start: date) -> Calendar:
    """The calendar from `start` on, with the shop's days without work and the times that its clock leaves out; it reaches `REACH` days beyond today where the start is past."""
    past = max(0, (timezone.localdate() - start).days)
    days = REACH + past
    return Calendar(start, holidays=closed_days(), days=days, missing=missing_times(start, days))


def _week(rows: list[Hours]) -> Week:
    hours: dict[int, tuple[tuple[int, int], ...]] = {}
    for row in sorted(rows, key=lambda r: (r.weekday, r.start)):
        end = 24 * 60 if row.end == MIDNIGHT else 60 * row.end.hour + row.end.minute
        stretch = (60 * row.start.hour + row.start.minute, end)
        hours[row.weekday] = (*hours.get(row.weekday, ()), stretch)
    return Week(hours)


@remembered
def room_rules() -> RoomRules:
    """The rules of the room, made on first use."""
    return RoomRules.objects.get_or_create(pk=1)[0]


def fan_words(nights: Collection[int]) -> str:
    """“the fan runs at night”, “the fan is off at night”, or “the fan is off on the nights of Fri, Sat”."""
    if not nights:
        return "the fan runs at night"
    if set(nights) >= EVERY_NIGHT:
        return "the fan is off at night"
    return f"the fan is off on the night{'' if len(set(nights)) == 1 else 's'} of {', '.join(calendar.day_abbr[day] for day in sorted(set(nights)))}"


def pot_life() -> dict[str, int]:
    """Minutes that crosslinked colour and clear last, from the crosslinker's data sheet; empty when it is not known."""
    linker = first_of(Role.CROSSLINKER)
    return (
        {"colour": int(linker.pot_life), "clear": int(linker.pot_life)} if linker and linker.pot_life else {}
    )


def gun() -> GunSetup:
    """The shop's gun; the starting values until somebody sets them."""
    return GunSetup.objects.filter(pk=1).first() or GunSetup(pk=1)
