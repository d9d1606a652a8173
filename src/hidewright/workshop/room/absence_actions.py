"""When people and the shop are away: one row an absence, however long it is. Each act can be undone."""

from datetime import date, time
from typing import Any

from django.db import transaction

from hidewright.planning.problem.absences import Absence
from hidewright.workshop.room.absence_queries import absence_of
from hidewright.workshop.room.models import DayOff
from hidewright.workshop.shop.models import Person
from hidewright.workshop.shop.undo import record, undoes


def add_absence(
    person: Person | None, first: date, last: date | None = None, hour: time | None = None, why: str = ""
) -> DayOff:
    """Note that somebody (None: everybody) is away from `first` to `last`, on the first day from `hour` on.

    One that begins on a day on which another of the same person begins takes its place. Refuses a last day before the first and more than two years.
    """
    absence = Absence(first, last or first, 60 * hour.hour + hour.minute if hour else 0)
    with transaction.atomic():
        row, before = keep_absence(person, absence, why)
        who = person.name if person else "The shop"
        undo_with = {"id": row.pk, **(before or {"note": None})}
        record(None, f"{who} does not work: {absence.words}", undo="room.day_off", undo_with=undo_with)
        return row


def keep_absence(
    person: Person | None, absence: Absence, why: str | None = ""
) -> tuple[DayOff, dict[str, Any] | None]:
    """Keep an absence, in place of one that begins on the same day (with its note where `why` is None); the row, and what it said before for `put_back` (None: it is new)."""
    old = DayOff.objects.select_for_update().filter(person=person, day=absence.first).first()
    before = _facts_of(old) if old else None
    if why is None:
        why = old.note if old else ""
    last = absence.last if absence.last > absence.first else None
    hour = time(absence.since // 60, absence.since % 60) if absence.since else None
    facts = {"last": last, "hour": hour, "note": why.strip()[:80]}
    return DayOff.objects.update_or_create(person=person, day=absence.first, defaults=facts)[0], before


def put_back(key: int, before: dict[str, Any] | None) -> None:
    """Let an absence say again what it said; None takes it away."""
    row = DayOff.objects.filter(pk=key)
    if before is None:
        row.delete()
    else:
        row.update(**_said_again(before))


def _facts_of(row: DayOff) -> dict[str, Any]:
    """What an absence says, as plain data, to put it back."""
    return {
        "note": row.note,
        "last": row.last.isoformat() if row.last else None,
        "hour": row.hour.isoformat("minutes") if row.hour else None,
    }


def _said_again(facts: dict[str, Any]) -> dict[str, Any]:
    """Plain data from `_facts_of`, also what was kept before absences had a last day, as fields of a row."""
    last, hour = facts.get("last"), facts.get("hour")
    return {
        "note": facts["note"],
        "last": date.fromisoformat(last) if last else None,
        "hour": time.fromisoformat(hour) if hour else None,
    }


@undoes("room.day_off")
def _forget_absence(old: dict[str, Any]) -> None:
    put_back(old["id"], None if old.get("note") is None else old)


def remove_absence(row: DayOff) -> None:
    """Take back an absence."""
    with transaction.atomic():
        old = {"person": row.person_id, "day": row.day.isoformat(), **_facts_of(row)}
        words = absence_of(row).words
        if DayOff.objects.filter(pk=row.pk).delete()[0]:
            record(None, f"There is work again: {words}", undo="room.give_day_off", undo_with=old)


@undoes("room.give_day_off")
def _give_absence(old: dict[str, Any]) -> None:
    DayOff.objects.get_or_create(
        person_id=old["person"], day=date.fromisoformat(old["day"]), defaults=_said_again(old)
    )
