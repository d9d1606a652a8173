"""How brought lists of tables, hours and people are taken: known ones (by key, else by name) are changed, the others are added."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.db.models import F

from hidewright.lists.draft import Draft
from hidewright.planning.problem.absences import Absence
from hidewright.planning.problem.calendar import over_midnight
from hidewright.planning.problem.lists_in import ABSENCES, HOURS, PEOPLE, TABLES, Hand
from hidewright.planning.problem.model import Table
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.lists.queries import (
    Prospect,
    Taker,
    Way,
    added_and_changed,
    by_shop_key,
    takes,
)
from hidewright.workshop.room.absence_actions import keep_absence, put_back
from hidewright.workshop.room.actions import clock, keep_skills
from hidewright.workshop.room.models import DayOff, Hours, Skills, WorkTable
from hidewright.workshop.shop.models import Act, Job, Person
from hidewright.workshop.shop.undo import record, undoes

_TABLE = ("name", "length", "depth", "not_for", "active")


def _tables(draft: Draft) -> dict[str, Table]:
    return by_shop_key(draft, {row.name.casefold(): row.key for row in WorkTable.objects.filter(active=True)})


def _take_tables(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    tables = _tables(draft)
    with transaction.atomic():
        before = {
            row.key: {field: getattr(row, field) for field in _TABLE}
            for row in WorkTable.objects.filter(key__in=tables)
        }
        for key, table in tables.items():
            facts = {"name": table.name, "length": table.length, "depth": table.depth}
            WorkTable.objects.update_or_create(
                key=key, defaults={**facts, "not_for": sorted(table.not_for), "active": True}
            )
        new = [key for key in tables if key not in before]
        return record(
            None,
            f"Took {counted(len(tables), 'table')} from {name} ({len(new)} new)",
            undo="room.tables_list",
            undo_with={"before": before, "new": new},
        )


@undoes("room.tables_list")
def _tables_back(old: dict[str, Any]) -> None:
    WorkTable.objects.filter(key__in=old["new"]).update(active=False, version=F("version") + 1)
    for key, facts in old["before"].items():
        WorkTable.objects.filter(key=key).update(**facts, version=F("version") + 1)


def _people(draft: Draft) -> dict[str, Hand]:
    return by_shop_key(draft, {row.name.casefold(): row.key for row in Person.objects.filter(active=True)})


def _take_people(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    people = _people(draft)
    with transaction.atomic():
        before = {
            row.key: {
                "name": row.name,
                "active": row.active,
                "skills": Skills.objects.filter(person=row).values_list("kinds", flat=True).first(),
            }
            for row in Person.objects.filter(key__in=people)
        }
        days = []
        for key, hand in people.items():
            row, _ = Person.objects.update_or_create(key=key, defaults={"name": hand.name, "active": True})
            keep_skills(row.pk, None if hand.skills is None else sorted(hand.skills))
            days += _keep_all((row, absence, "") for absence in hand.absences)
        new = [key for key in people if key not in before]
        return record(
            None,
            f"Took {counted(len(people), 'person', 'people')} from {name} ({len(new)} new)",
            undo="room.people_list",
            undo_with={"before": before, "new": new, "absences": days},
        )


@undoes("room.people_list")
def _people_back(old: dict[str, Any]) -> None:
    DayOff.objects.filter(pk__in=old.get("days", ())).delete()
    _absences_back(old)
    for person in Person.objects.filter(key__in=old["new"]):
        keep_skills(person.pk, None)
    Person.objects.filter(key__in=old["new"]).update(active=False)
    for key, facts in old["before"].items():
        Person.objects.filter(key=key).update(name=facts["name"], active=facts["active"])
        keep_skills(Person.objects.get(key=key).pk, facts["skills"])


def _keep_all(absences: Iterable[tuple[Person | None, Absence, str]]) -> list[list[Any]]:
    """Keep absences; what undoes it: the row’s key, and what it said before (none: it is new)."""
    kept = []
    for person, absence, why in absences:
        row, before = keep_absence(person, absence, why or None)
        kept.append([row.pk, before])
    return kept


def _take_absences(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    whose = _whose(draft)
    with transaction.atomic():
        kept = _keep_all(
            (person, leave.absence, leave.why) for person, leaves in whose.items() for leave in leaves
        )
        return record(
            None,
            f"Took {counted(len(kept), 'absence')} from {name}",
            undo="room.absences_list",
            undo_with={"absences": kept},
        )


@undoes("room.absences_list")
def _absences_back(old: dict[str, Any]) -> None:
    for key, before in reversed(old.get("absences", ())):
        put_back(key, before)


def _whose(draft: Draft) -> dict[Person | None, list[Any]]:
    """The shifts or absences of each person; refuses names that the shop does not know."""
    rows = Person.objects.filter(active=True)
    known: dict[str, Person | None] = {"": None}
    known |= {name.casefold(): row for row in rows for name in (row.name, row.key)}
    strange = sorted({s.person for s in draft.values if s.person.casefold() not in known})
    if strange:
        raise Refusal(
            f"Nobody here has the name {', '.join(strange[:8])}.",
            remedy="Bring or add the people first, or write their names as the shop has them.",
        )
    whose: dict[Person | None, list[Any]] = {}
    for shift in draft.values:
        whose.setdefault(known[shift.person.casefold()], []).append(shift)
    return whose


def _take_hours(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    whose = _whose(draft)
    with transaction.atomic():
        before = []
        for person, shifts in whose.items():
            rows = Hours.objects.filter(person=person)
            stretches = [[row.weekday, f"{row.start:%H:%M}", f"{row.end:%H:%M}"] for row in rows]
            before.append([person.pk if person else None, stretches])
            rows.delete()
            Hours.objects.bulk_create(
                Hours(person=person, weekday=day, start=clock(start), end=clock(end))
                for day, stretches in over_midnight({s.weekday: s.stretches for s in shifts}).items()
                for start, end in stretches
            )
        return record(
            None,
            f"Took the hours of {counted(len(whose), 'week')} from {name}",
            undo="room.hours_list",
            undo_with={"before": before},
        )


@undoes("room.hours_list")
def _hours_back(old: dict[str, Any]) -> None:
    for person_id, stretches in old["before"]:
        Hours.objects.filter(person_id=person_id).delete()
        Hours.objects.bulk_create(
            Hours(person_id=person_id, weekday=day, start=start, end=end) for day, start, end in stretches
        )


def _hours_prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    people = {shift.person for shift in draft.values}
    facts = tuple(
        (
            person or "The whole shop",
            counted(
                len({s.weekday for s in draft.values if s.person == person and s.stretches}), "working day"
            ),
        )
        for person in sorted(people)[:12]
    )
    return Prospect(
        (Way("take", f"Take the hours of {counted(len(people), 'week')}"),),
        facts,
        (
            "The hours written here replace the whole week of each that is named; a weekday that is missing is free.",
        ),
    )


def _tables_prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    tables = _tables(draft)
    known = WorkTable.objects.filter(key__in=tables, active=True).count()
    return added_and_changed(len(tables), known, "table")


def _absences_prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    people = sorted({leave.person for leave in draft.values})
    facts = tuple(
        (
            person or "The whole shop",
            "; ".join(leave.absence.words for leave in draft.values if leave.person == person),
        )
        for person in people[:12]
    )
    return Prospect(
        (Way("take", f"Take {counted(len(draft.values), 'absence')}"),),
        facts,
        ("One that begins on the day on which a known one of the same person begins takes its place.",),
    )


def _people_prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    people = _people(draft)
    known = Person.objects.filter(key__in=people, active=True).count()
    return added_and_changed(len(people), known, "person", "people")


takes(Taker(TABLES, of_job=False, to="tables", take=_take_tables, prospect=_tables_prospect))
takes(Taker(HOURS, of_job=False, to="tables", take=_take_hours, prospect=_hours_prospect))
takes(Taker(ABSENCES, of_job=False, to="tables", take=_take_absences, prospect=_absences_prospect))
takes(Taker(PEOPLE, of_job=False, to="tables", take=_take_people, prospect=_people_prospect))
