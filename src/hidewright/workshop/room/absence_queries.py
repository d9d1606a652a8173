"""When people and the shop are away, as values: for pages, and for the planner."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet
from django.utils import timezone

from hidewright.planning.problem.absences import Absence
from hidewright.workshop.room.models import DayOff
from hidewright.workshop.shop.models import Person
from hidewright.workshop.shop.page_cache import remembered

PAST = 30
"""Absences that are over and still shown, the newest first."""


@dataclass(frozen=True, slots=True)
class AbsenceLine:
    """One absence as a page shows it."""

    pk: int
    who: str
    words: str
    why: str


def absence_of(row: DayOff) -> Absence:
    """A row as a value."""
    since = 60 * row.hour.hour + row.hour.minute if row.hour else 0
    return Absence(row.day, row.last or row.day, since)


@remembered
def closures() -> tuple[Absence, ...]:
    """When the whole shop is closed."""
    return tuple(absence_of(row) for row in DayOff.objects.filter(person=None))


def closed_days() -> frozenset[date]:
    """The days on which nobody works at all; a day on which the shop closes early is none of them."""
    return frozenset(day for absence in closures() for day, since in absence.days if not since)


def early_closings() -> tuple[Absence, ...]:
    """The days on which the shop closes early, each by itself."""
    return tuple(Absence(a.first, a.first, a.since) for a in closures() if a.since)


def absence_lines(person: Person | None = None) -> tuple[AbsenceLine, ...]:
    """What is not over yet, of one person or of all and the shop, the first first."""
    today = timezone.localdate()
    rows = _rows(person).filter(Q(last__gte=today) | Q(last=None, day__gte=today))
    return tuple(_line(row) for row in rows.order_by("day", "pk"))


def past_absences(person: Person | None = None) -> tuple[AbsenceLine, ...]:
    """What is over, the newest first, `PAST` at most."""
    today = timezone.localdate()
    rows = _rows(person).filter(Q(last__lt=today) | Q(last=None, day__lt=today))
    return tuple(_line(row) for row in rows.order_by("-day", "-pk")[:PAST])


def away_soon() -> dict[int, str]:
    """Person key (pk) → the absences that are not over, in words."""
    today = timezone.localdate()
    rows = DayOff.objects.exclude(person=None).filter(Q(last__gte=today) | Q(last=None, day__gte=today))
    found: dict[int, str] = {}
    for row in rows.order_by("day", "pk"):
        assert row.person_id is not None
        known = found.get(row.person_id, "")
        found[row.person_id] = f"{known}; {absence_of(row).words}" if known else absence_of(row).words
    return found


def _rows(person: Person | None) -> QuerySet[DayOff]:
    rows = DayOff.objects.select_related("person")
    return rows.filter(person=person) if person else rows


def _line(row: DayOff) -> AbsenceLine:
    return AbsenceLine(
        row.pk, row.person.name if row.person else "the whole shop", absence_of(row).words, row.note
    )
