"""The room: tables and hours. Each act can be undone."""

from collections.abc import Collection, Iterable
from datetime import time
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils.text import slugify

from hidewright.planning.problem.calendar import Week
from hidewright.planning.problem.csv_in import read_hours, read_people, read_tables
from hidewright.planning.problem.model import Kind
from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, drying_factor
from hidewright.units import counted
from hidewright.units import read_stretches as read_stretches_of_day
from hidewright.workshop.room.absence_actions import keep_absence
from hidewright.workshop.room.models import GunSetup, Hours, RoomRules, Skills, Storage, WorkTable
from hidewright.workshop.shop.models import Person
from hidewright.workshop.shop.undo import record, undoes
from hidewright.workshop.shop.units import said_volume

LONGEST = 60.0
"""No table is longer than this (m); a larger number is a slip of the unit."""


def _check_table(name: str, length: float, depth: float) -> None:
    if not name.strip():
        raise Refusal("The table needs a name.", where="Name", remedy="Write what is written on it.")
    if not (0.2 <= length <= LONGEST and 0.2 <= depth <= 10):
        raise Refusal(
            "A table is 0.2 to 60 m long and 0.2 to 10 m deep.",
            where=name,
            remedy="Check the numbers and their unit.",
        )


def add_table(
    name: str, length: float, depth: float, key: str = "", not_for: Iterable[str] = ()
) -> WorkTable:
    """Add a table (m) that is not for some materials; refuses a name that is in use."""
    _check_table(name, length, depth)
    key = key or slugify(name)[:40]
    if not key:
        raise Refusal("The name needs letters or figures in it.", where="Name")
    with transaction.atomic():
        known = WorkTable.objects.filter(key=key).first()
        if known is not None and known.active:
            raise Refusal(f"{known.name} is listed already.", where="Name", remedy="Choose another name.")
        table, _ = WorkTable.objects.update_or_create(
            key=key,
            defaults={
                "name": name.strip(),
                "length": length,
                "depth": depth,
                "not_for": sorted(not_for),
                "active": True,
            },
        )
        record(None, f"Added {table.name}", undo="room.table", undo_with={"id": table.pk, "active": False})
        return table


def edit_table(
    table: WorkTable, *, name: str, length: float, depth: float, version: int, not_for: Iterable[str] = ()
) -> None:
    """Change a table; refuses when somebody changed it since it was shown."""
    _check_table(name, length, depth)
    old = {
        "id": table.pk,
        "name": table.name,
        "length": table.length,
        "depth": table.depth,
        "not_for": table.not_for,
    }
    with transaction.atomic():
        changed = WorkTable.objects.filter(pk=table.pk, version=version).update(
            name=name.strip(),
            length=length,
            depth=depth,
            not_for=sorted(not_for),
            version=F("version") + 1,
        )
        if changed != 1:
            raise Refusal("Somebody changed this table meanwhile.", remedy="Reload the page and look again.")
        record(None, f"Changed {name.strip()}", undo="room.table", undo_with=old)


def remove_table(table: WorkTable) -> None:
    """Take a table out of the room; plans made with it stay as they are."""
    with transaction.atomic():
        if WorkTable.objects.filter(pk=table.pk, active=True).update(active=False):
            record(
                None, f"Took {table.name} away", undo="room.table", undo_with={"id": table.pk, "active": True}
            )


@undoes("room.table")
def _restore_table(old: dict[str, Any]) -> None:
    facts = {key: value for key, value in old.items() if key != "id"}
    WorkTable.objects.filter(pk=old["id"]).update(**facts, version=F("version") + 1)


def add_storage(name: str, pieces: int) -> Storage:
    """Add a rack or shelf for coated pieces; refuses an empty name and one that holds nothing."""
    if not name.strip():
        raise Refusal("The rack needs a name.", where="Name", remedy="Write what the shop calls it.")
    if not 1 <= pieces <= 500:
        raise Refusal("A rack holds 1 to 500 pieces.", where=name.strip(), remedy="Count its places.")
    with transaction.atomic():
        row = Storage.objects.create(name=name.strip()[:60], pieces=pieces)
        record(None, f"Added {row.name}", undo="room.storage", undo_with={"id": row.pk, "active": False})
        return row


def remove_storage(row: Storage) -> None:
    """Take a rack out of the room."""
    with transaction.atomic():
        if Storage.objects.filter(pk=row.pk, active=True).update(active=False):
            undo_with = {"id": row.pk, "active": True}
            record(None, f"Took {row.name} away", undo="room.storage", undo_with=undo_with)


@undoes("room.storage")
def _restore_storage(old: dict[str, Any]) -> None:
    Storage.objects.filter(pk=old["id"]).update(active=old["active"])


def read_stretches(text: str, where: str) -> list[tuple[time, time]]:
    """“8-12, 12:30-17:00” as pairs of times in order; an empty text is a day without work."""
    try:
        found = read_stretches_of_day(text)
    except Refusal as refusal:
        raise Refusal(refusal.what, where=where, remedy=refusal.remedy) from refusal
    return [(clock(start), clock(end)) for start, end in found]


def read_shifts(text: str, where: str) -> tuple[list[tuple[time, time]], time | None]:
    """A day's stretches as pairs of times, and until when the last of them goes on after midnight (None: it does not)."""
    try:
        found = read_stretches_of_day(text, over_midnight=True)
    except Refusal as refusal:
        raise Refusal(refusal.what, where=where, remedy=refusal.remedy) from refusal
    over = max((end - 24 * 60 for _, end in found), default=0)
    return [(clock(start), clock(end)) for start, end in found], clock(over) if over > 0 else None


def set_week(person: Person | None, week: dict[int, list[tuple[time, time]]]) -> None:
    """Set the weekly hours of a person, or with None those of the shop; {} gives a person the shop's hours."""
    if person is None and not any(week.values()):
        raise Refusal(
            "The shop would never be open.", where="Hours", remedy="Give at least one day with hours."
        )
    with transaction.atomic():
        old = [
            [row.weekday, row.start.isoformat(), row.end.isoformat()]
            for row in Hours.objects.filter(person=person)
        ]
        Hours.objects.filter(person=person).delete()
        Hours.objects.bulk_create(
            Hours(person=person, weekday=day, start=start, end=end)
            for day, stretches in week.items()
            for start, end in stretches
        )
        whose = f"{person.name}’s hours" if person else "the shop’s hours"
        undo_with = {"person": person.pk if person else None, "rows": old}
        record(None, f"Changed {whose}", undo="room.hours", undo_with=undo_with)


@undoes("room.hours")
def _restore_hours(old: dict[str, Any]) -> None:
    Hours.objects.filter(person_id=old["person"]).delete()
    Hours.objects.bulk_create(
        Hours(
            person_id=old["person"], weekday=day, start=time.fromisoformat(start), end=time.fromisoformat(end)
        )
        for day, start, end in old["rows"]
    )


def set_skills(person: Person, kinds: Iterable[str] | None) -> None:
    """Say what kinds of work a person does; None means every kind. Refuses an empty list."""
    wanted = None if kinds is None else [str(kind) for kind in Kind if str(kind) in set(kinds)]
    if wanted is not None and not wanted:
        raise Refusal(
            f"{person.name} would do nothing.", where="Skills", remedy="Tick at least one, or take them off."
        )
    with transaction.atomic():
        row = Skills.objects.filter(person=person).first()
        keep_skills(person.pk, wanted)
        undo_with = {"person": person.pk, "kinds": row.kinds if row else None}
        record(None, f"Changed what {person.name} does", undo="room.skills", undo_with=undo_with)


@undoes("room.skills")
def _restore_skills(old: dict[str, Any]) -> None:
    keep_skills(old["person"], old["kinds"])


def keep_skills(person_id: int, kinds: list[str] | None) -> None:
    """Keep what kinds of work a person does; None means all of them."""
    if kinds is None:
        Skills.objects.filter(person_id=person_id).delete()
    else:
        Skills.objects.update_or_create(person_id=person_id, defaults={"kinds": kinds})


def set_rules(
    *,
    guns: int,
    fan_off: Collection[int],
    drying: dict[str, float],
    version: int,
    celsius: float = 20.0,
    humidity: float = 0.5,
) -> None:
    """Change the rules of the room; refuses air in which nothing dries, and when somebody changed them since they were shown."""
    drying_factor(Air(celsius, humidity))
    with transaction.atomic():
        rules, _ = RoomRules.objects.get_or_create(pk=1)
        old = {name: getattr(rules, name) for name in ("guns", "fan_off", "drying", "celsius", "humidity")}
        changed = RoomRules.objects.filter(pk=1, version=version).update(
            guns=guns,
            fan_off=sorted(fan_off),
            drying=drying,
            celsius=celsius,
            humidity=humidity,
            version=F("version") + 1,
        )
        if changed != 1:
            raise Refusal("Somebody changed the rules meanwhile.", remedy="Reload the page and look again.")
        record(None, "Changed the rules of the room", undo="room.rules", undo_with=old)


@undoes("room.rules")
def _restore_rules(old: dict[str, Any]) -> None:
    RoomRules.objects.filter(pk=1).update(**old, version=F("version") + 1)


def import_tables(text: str) -> int:
    """Tables from a CSV (see `planning.csv_in.read_tables`); returns how many. All or nothing."""
    tables = read_tables(text)
    with transaction.atomic():
        for table in tables:
            WorkTable.objects.update_or_create(
                key=table.key,
                defaults={
                    "name": table.name,
                    "length": table.length,
                    "depth": table.depth,
                    "not_for": sorted(table.not_for),
                    "active": True,
                },
            )
        record(None, f"Took in {counted(len(tables), 'table')} from a file")
    return len(tables)


def import_hours(hours_text: str, people_text: str = "") -> int:
    """Weekly hours, and people with their days off, from CSV files; returns how many people. All or nothing."""
    weeks = read_hours(hours_text)
    people = read_people(people_text, weeks) if people_text else ()
    with transaction.atomic():
        if "" in weeks:
            _keep_week(None, weeks[""])
        for person in people:
            row, _ = Person.objects.update_or_create(
                key=person.key, defaults={"name": person.name, "active": True}
            )
            if person.key in weeks:
                _keep_week(row, weeks[person.key])
            keep_skills(row.pk, None if person.skills is None else sorted(str(k) for k in person.skills))
            for absence in person.absences:
                keep_absence(row, absence)
        record(None, f"Took in hours and {counted(len(people), 'person', 'people')} from files")
    return len(people)


def _keep_week(person: Person | None, week: Week) -> None:
    Hours.objects.filter(person=person).delete()
    Hours.objects.bulk_create(
        Hours(person=person, weekday=day, start=clock(start), end=clock(end))
        for day, stretches in week.hours.items()
        for start, end in stretches
    )


def clock(minute: int) -> time:
    """Minutes since midnight as a clock time; midnight at the end of the day is a minute before it."""
    minute = min(minute, 24 * 60 - 1)
    return time(minute // 60, minute % 60)


def set_gun(cup: float, per_minute: float | None) -> None:
    """Set what the gun's cup holds (mL) and how fast it lays down (mL/min; None: from the pace)."""
    if not 20 <= cup <= 20_000:
        raise Refusal("A gun’s cup holds from 20 mL to 20 L.", where="cup")
    if per_minute is not None and not 0.5 <= per_minute <= 2_000:
        raise Refusal("A gun lays down from half a mL to 2 L a minute.", where="per minute")
    with transaction.atomic():
        old = GunSetup.objects.filter(pk=1).values("cup", "per_minute").first() or {
            "cup": 600.0,
            "per_minute": None,
        }
        GunSetup.objects.update_or_create(pk=1, defaults={"cup": cup, "per_minute": per_minute})
        record(None, f"The gun’s cup holds {said_volume(cup)}", undo="portions.gun", undo_with=dict(old))


@undoes("portions.gun")
def _gun_back(old: dict[str, Any]) -> None:
    GunSetup.objects.update_or_create(pk=1, defaults=old)
