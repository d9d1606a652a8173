"""Tables, hours and people from CSV files. Faults are named by line and column, all of them at once; nothing is half taken."""

from collections.abc import Mapping

from hidewright.refusals import Refusal
from hidewright.sheets import Row, read_each, read_sheet
from hidewright.units import read_length, read_stretches

from .absences import absences_in
from .calendar import EVERY_NIGHT, Person, Stretch, Week, over_midnight
from .model import Kind, Table

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def _rows(text: str, must: tuple[str, ...], may: tuple[str, ...]) -> tuple[Row, ...]:
    sheet = read_sheet(text, columns=", ".join((*must, *may)))
    sheet.expect(must, may)
    return sheet.rows


def _length(row: Row, column: str) -> float:
    try:
        return read_length(row.get(column), "m")
    except Refusal as refusal:
        raise Refusal(refusal.what, where=column, remedy=refusal.remedy) from refusal


def read_tables(text: str) -> tuple[Table, ...]:
    """Tables from a CSV text with key, name, length, depth (bare numbers in m; "24 ft" works too) and not_for (materials, parted by +)."""
    rows = _rows(text, ("key", "name", "length", "depth"), ("not_for",))

    def one(row: Row) -> Table:
        not_for = frozenset(m.strip().lower() for m in row.get("not_for").split("+") if m.strip())
        length, depth = _length(row, "length"), _length(row, "depth")
        try:
            return Table(row.get("key"), row.get("name"), length, depth, not_for)
        except Refusal as refusal:
            raise Refusal(refusal.what, where="length", remedy=refusal.remedy) from refusal

    return tuple(read_each(rows, one, unique="key"))


def weekday_of(text: str) -> int:
    """The weekday (0 is Monday) that a name, or its first two letters or more, tells; refuses what is none."""
    day = text.strip().lower()
    known = [i for i, name in enumerate(WEEKDAYS) if len(day) >= 2 and name.startswith(day)]
    if len(known) != 1:
        raise Refusal(f"“{text}” is no weekday.", where="weekday", remedy="Write Monday … Sunday.")
    return known[0]


def read_nights(text: str) -> frozenset[int]:
    """Weekdays (0 is Monday) out of “fri, sat, sun”; “every” tells all of them, an empty text none."""
    if text.strip().lower() == "every":
        return EVERY_NIGHT
    return frozenset(weekday_of(part) for part in text.split(",") if part.strip())


def read_hours(text: str) -> dict[str, Week]:
    """Weekly hours by person ("" for the shop's) from a CSV text with person, weekday and hours ("08:00-12:00 + 12:30-17:00"; "22:00-06:00" goes on over midnight)."""
    rows = _rows(text, ("weekday", "hours"), ("person",))
    weeks: dict[str, dict[int, tuple[Stretch, ...]]] = {}

    def one(row: Row) -> tuple[str, int, tuple[Stretch, ...]]:
        day = weekday_of(row.get("weekday"))
        try:
            stretches = read_stretches(row.get("hours"), over_midnight=True)
        except Refusal as refusal:
            raise Refusal(refusal.what, where="hours", remedy=refusal.remedy) from refusal
        if day in weeks.get(row.get("person"), {}):
            raise Refusal(
                "This weekday is there twice.", where="weekday", remedy="Write its hours in one row."
            )
        weeks.setdefault(row.get("person"), {})[day] = stretches
        return row.get("person"), day, stretches

    read_each(rows, one)
    return {person: Week(over_midnight(hours)) for person, hours in weeks.items()}


def skills_in(text: str) -> frozenset[str] | None:
    """Kinds of work out of “strip + coat”, parted by +; none for an empty text, which means all. Refuses what is no kind, `where` skills."""
    if not text.strip():
        return None
    skills = frozenset(part.strip().lower() for part in text.split("+") if part.strip())
    strange = skills - {str(kind) for kind in Kind}
    if strange:
        raise Refusal(
            f"“{min(strange)}” is no kind of work.",
            where="skills",
            remedy=f"Known are {', '.join(Kind)}; part them by +.",
        )
    return skills


def read_people(text: str, hours: Mapping[str, Week]) -> tuple[Person, ...]:
    """People from a CSV text with key, name, off (days and stretches of days, see `absences_in`) and skills (kinds of work, parted by +; empty: all); `hours` from `read_hours`."""
    rows = _rows(text, ("key", "name"), ("off", "skills"))

    def one(row: Row) -> Person:
        week = hours.get(row.get("key")) or hours.get("")
        if week is None:
            raise Refusal(
                f"There are no hours for {row.get('name') or row.get('key')}.",
                where="key",
                remedy="Give the shop hours (rows without a person) or give this person some.",
            )
        if not row.get("key") or not row.get("name"):
            raise Refusal("A person needs a key and a name.", where="key" if not row.get("key") else "name")
        return Person(
            row.get("key"),
            row.get("name"),
            week,
            skills=skills_in(row.get("skills")),
            absences=absences_in(row.get("off")),
        )

    return tuple(read_each(rows, one, unique="key"))
