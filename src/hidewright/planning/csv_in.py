"""Tables, hours and people from CSV files. Faults are named by line and column, all of them at once; nothing is half taken."""

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from hidewright.refusals import Refusal, Refusals
from hidewright.units import read_length

from .calendar import Person, Stretch, Week
from .problem import Kind, Table

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_STRETCH = re.compile(r"^\s*(\d{1,2})[:.](\d{2})\s*[-–]\s*(\d{1,2})[:.](\d{2})\s*$")
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    cells: Mapping[str, str]

    def get(self, column: str) -> str:
        return self.cells.get(column, "")


def _rows(text: str, must: Sequence[str], may: Sequence[str]) -> list[_Row]:
    cleaned = text.removeprefix("\ufeff")
    mark = max(",;\t", key=cleaned.split("\n", 1)[0].count)
    try:
        table = list(csv.reader(io.StringIO(cleaned), delimiter=mark, strict=True))
    except csv.Error as error:
        raise Refusal(f"The file is torn: {error}.", remedy="Save it as CSV again.") from error
    filled = [(n, row) for n, row in enumerate(table, start=1) if any(cell.strip() for cell in row)]
    columns = [cell.strip().lower() for cell in filled[0][1]] if filled else []
    missing = [c for c in must if c not in columns]
    strange = [c for c in columns if c and c not in (*must, *may)]
    if missing or strange:
        what = (
            f"The column {missing[0]} cannot be found."
            if missing
            else f"The column {strange[0]} is not known here."
        )
        raise Refusal(
            what, where="line 1", remedy=f"The first line names {', '.join(must)}; also {', '.join(may)}."
        )
    if len(filled) < 2:
        raise Refusal("The file names its columns but holds no row.", where="line 2", remedy="Add a row.")
    return [_Row(n, dict(zip(columns, (c.strip() for c in row), strict=False))) for n, row in filled[1:]]


def _read(rows: Sequence[_Row], one: Callable[[_Row], _T]) -> list[_T]:
    faults: list[Refusal] = []
    found: list[_T] = []
    for row in rows:
        try:
            found.append(one(row))
        except Refusal as refusal:
            column = f", column {refusal.where}" if refusal.where else ""
            faults.append(Refusal(refusal.what, where=f"line {row.line}{column}", remedy=refusal.remedy))
    if faults:
        raise Refusals(faults)
    return found


def _unique(rows: Sequence[_Row], column: str) -> None:
    seen: dict[str, int] = {}
    faults = []
    for row in rows:
        key = row.get(column)
        if key in seen:
            faults.append(
                Refusal(
                    f"{key} stands on line {seen[key]} too.",
                    where=f"line {row.line}, column {column}",
                    remedy="Give each its own.",
                )
            )
        seen.setdefault(key, row.line)
    if faults:
        raise Refusals(faults)


def _length(row: _Row, column: str) -> float:
    try:
        return read_length(row.get(column), "m")
    except Refusal as refusal:
        raise Refusal(refusal.what, where=column, remedy=refusal.remedy) from refusal


def read_tables(text: str) -> tuple[Table, ...]:
    """Tables from a CSV text with key, name, length, depth (bare numbers in m; "24 ft" works too) and not_for (materials, parted by +)."""
    rows = _rows(text, ("key", "name", "length", "depth"), ("not_for",))

    def one(row: _Row) -> Table:
        not_for = frozenset(m.strip().lower() for m in row.get("not_for").split("+") if m.strip())
        length, depth = _length(row, "length"), _length(row, "depth")
        try:
            return Table(row.get("key"), row.get("name"), length, depth, not_for)
        except Refusal as refusal:
            raise Refusal(refusal.what, where="length", remedy=refusal.remedy) from refusal

    tables = _read(rows, one)
    _unique(rows, "key")
    return tuple(tables)


def read_stretches(text: str) -> tuple[Stretch, ...]:
    """“08:00-12:00 12:30-17:00” as minutes since midnight; stretches are parted by blanks, commas or +; empty text is a free day."""
    found: list[Stretch] = []
    for part in filter(None, re.split(r"[,+]|(?<=\d)\s+(?=\d)", text)):
        match = _STRETCH.match(part)
        if not match:
            raise Refusal(
                f"“{part.strip()[:30]}” is no stretch of time.", remedy="Write it like 08:00-12:00."
            )
        h1, m1, h2, m2 = (int(g) for g in match.groups())
        start, end = 60 * h1 + m1, 60 * h2 + m2
        if m1 > 59 or m2 > 59 or not start < end <= 24 * 60:
            raise Refusal(
                f"“{part.strip()}” does not end after it starts on the same day.",
                remedy="Write it like 08:00-12:00.",
            )
        if found and start < found[-1][1]:
            raise Refusal("The stretches overlap or stand out of order.", remedy="Put the earlier one first.")
        found.append((start, end))
    return tuple(found)


def read_hours(text: str) -> dict[str, Week]:
    """Weekly hours by person ("" for the shop's) from a CSV text with person, weekday and hours ("08:00-12:00 + 12:30-17:00")."""
    rows = _rows(text, ("weekday", "hours"), ("person",))
    weeks: dict[str, dict[int, tuple[Stretch, ...]]] = {}

    def one(row: _Row) -> tuple[str, int, tuple[Stretch, ...]]:
        day = row.get("weekday").lower()
        known = [i for i, name in enumerate(WEEKDAYS) if len(day) >= 2 and name.startswith(day)]
        if len(known) != 1:
            raise Refusal(
                f"“{row.get('weekday')}” is no weekday.", where="weekday", remedy="Write Monday … Sunday."
            )
        try:
            stretches = read_stretches(row.get("hours"))
        except Refusal as refusal:
            raise Refusal(refusal.what, where="hours", remedy=refusal.remedy) from refusal
        if known[0] in weeks.get(row.get("person"), {}):
            raise Refusal(
                "This weekday stands there twice.", where="weekday", remedy="Write its hours in one row."
            )
        weeks.setdefault(row.get("person"), {})[known[0]] = stretches
        return row.get("person"), known[0], stretches

    _read(rows, one)
    return {person: Week(hours) for person, hours in weeks.items()}


def _dates(text: str) -> frozenset[date]:
    found = set()
    for part in filter(None, re.split(r"[\s+,]+", text)):
        try:
            found.add(date.fromisoformat(part))
        except ValueError as error:
            raise Refusal(
                f"“{part[:20]}” is no day.", where="off", remedy="Write it like 2026-03-02."
            ) from error
    return frozenset(found)


def _skills(text: str) -> frozenset[str] | None:
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
    """People from a CSV text with key, name, off (days, parted by +) and skills (kinds of work, parted by +; empty: all); `hours` from `read_hours`."""
    rows = _rows(text, ("key", "name"), ("off", "skills"))

    def one(row: _Row) -> Person:
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
            row.get("key"), row.get("name"), week, _dates(row.get("off")), _skills(row.get("skills"))
        )

    people = _read(rows, one)
    _unique(rows, "key")
    return tuple(people)
