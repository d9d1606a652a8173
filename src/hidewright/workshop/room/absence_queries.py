"""When people and the shop are away, as values: for pages, and for the planner."""

from collections import defaultdict
from collections.abc import Iterable
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
    """One absence as a page shows it; `person` is the key (pk) of the one who is away, None for the whole shop."""

    pk: int
    person: int | None
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
    return tuple(_line(row) for row in _rows(person).filter(_not_over()).order_by("day", "pk"))


def past_absences(person: Person | None = None) -> tuple[AbsenceLine, ...]:
    """What is over, the newest first, `PAST` at most."""
    return tuple(_line(row) for row in _rows(person).exclude(_not_over()).order_by("-day", "-pk")[:PAST])


def away_soon(lines: Iterable[AbsenceLine]) -> dict[int, str]:
    """Person key (pk) → their absences among these, in words."""
    found: dict[int, list[str]] = defaultdict(list)
    for line in lines:
        if line.person is not None:
            found[line.person].append(line.words)
    return {person: "; ".join(words) for person, words in found.items()}


def _not_over() -> Q:
    today = timezone.localdate()
    return Q(last__gte=today) | Q(last=None, day__gte=today)


def _rows(person: Person | None) -> QuerySet[DayOff]:
    rows = DayOff.objects.select_related("person")
    return rows.filter(person=person) if person else rows


def _line(row: DayOff) -> AbsenceLine:
    who = row.person.name if row.person else "the whole shop"
    return AbsenceLine(row.pk, row.person_id, who, absence_of(row).words, row.note)
