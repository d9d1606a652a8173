"""What lists of tables, hours and people can hold, in the words that shops write (common practice, no source), and how their rows become values."""

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hidewright.lists.cells import CellRefusal, folded
from hidewright.lists.kinds import ListKind, Meaning, Sort
from hidewright.refusals import Refusal
from hidewright.sheets import Row
from hidewright.units import read_clock, read_length, read_stretches

from .absences import Absence, absences_in, day_in
from .calendar import Person, Stretch, Week, over_midnight
from .csv_in import WEEKDAYS, skills_in
from .model import Table

_DAY_WORDS = (
    ("mo", "mon", "monday", "montag"),
    ("tu", "tue", "tues", "tuesday", "di", "dienstag"),
    ("we", "wed", "weds", "wednesday", "mi", "mittwoch"),
    ("th", "thu", "thur", "thurs", "thursday", "do", "donnerstag"),
    ("fr", "fri", "friday", "freitag"),
    ("sa", "sat", "saturday", "samstag"),
    ("su", "sun", "sunday", "so", "sonntag"),
)
_FREE = ("off", "free", "closed", "-", "–", "frei", "none", "no")


@dataclass(frozen=True, slots=True)
class Shift:
    """The hours of a person (empty: of the whole shop) on one weekday (0 is Monday), as minutes since midnight; the last may end after midnight (above 1440); no stretch is a free day."""

    person: str
    weekday: int
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True)
class Hand:
    """A person of a list: key, name, when they are away, and the kinds of work they do (none: all)."""

    key: str
    name: str
    absences: tuple[Absence, ...] = ()
    skills: frozenset[str] | None = None

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > 80:
            raise Refusal("A person needs a name of up to 80 letters.", where="name")
        if not re.fullmatch(r"[a-z0-9-]{1,40}", self.key):
            raise Refusal(
                "The key has other marks than letters, figures and hyphens.",
                where="key",
                remedy="Leave it out, and it is made from the name.",
            )


@dataclass(frozen=True, slots=True)
class Leave:
    """When a person (empty: the whole shop) is away, and why (80 letters at most)."""

    person: str
    absence: Absence
    why: str = ""


def weekdays_in(text: str) -> tuple[int, ...]:
    """Weekdays (0 is Monday) out of “Mon-Fri”, “Mon, Wed + Sa”, “daily”, “weekdays”; refuses what is none, `where` weekday."""
    plain = folded(text.replace("–", "-"))
    if plain in ("daily", "every day", "all", "taglich"):
        return tuple(range(7))
    if plain in ("weekdays", "workdays", "werktags"):
        return tuple(range(5))
    days: list[int] = []
    for part in filter(None, re.split(r"\s*(?:[,;+&/]|\band\b|\bund\b)\s*", plain)):
        ends = [_weekday(name) for name in re.split(r"\s*(?:-|\bto\b|\bbis\b)\s*", part)]
        if len(ends) > 2 or ends[0] > ends[-1]:
            raise Refusal(
                f"“{part[:30]}” is no stretch of weekdays.", where="weekday", remedy="Write Mon-Fri."
            )
        days += range(ends[0], ends[-1] + 1)
    if not days or len(set(days)) != len(days):
        raise Refusal("A weekday is here twice, or none.", where="weekday", remedy="Write Mon-Fri.")
    return tuple(days)


def _weekday(name: str) -> int:
    for number, words in enumerate(_DAY_WORDS):
        if name.strip(" .") in words:
            return number
    raise Refusal(f"“{name[:20]}” is no weekday.", where="weekday", remedy="Write Mon, Tue … or Mon-Fri.")


def _stretches(text: str, where: str) -> tuple[Stretch, ...]:
    try:
        return () if folded(text) in _FREE else read_stretches(text, over_midnight=True)
    except Refusal as refusal:
        raise Refusal(refusal.what, where=where, remedy=refusal.remedy) from refusal


def _shifts(row: Row) -> tuple[Shift, ...]:
    person = row.get("person")
    shifts = []
    if row.get("weekday"):
        hours = _stretches(row.get("hours"), "hours")
        shifts = [Shift(person, day, hours) for day in weekdays_in(row.get("weekday"))]
    elif row.get("hours"):
        raise Refusal("These hours have no weekday.", where="weekday", remedy="Write Mon-Fri, or the days.")
    for number, day in enumerate(WEEKDAYS):
        if row.get(day):
            shifts.append(Shift(person, number, _stretches(row.get(day), day)))
    if not shifts:
        raise Refusal("This row gives no hours.", where="hours", remedy="Write them like 8-12 12:30-17:00.")
    return tuple(shifts)


def _twice(made: tuple[tuple[int, Shift], ...]) -> tuple[tuple[int, Refusal], ...]:
    first: dict[tuple[str, int], int] = {}
    faults: dict[int, Refusal] = {}
    for line, shift in made:
        earlier = first.setdefault((shift.person.casefold(), shift.weekday), line)
        if earlier != line:
            who, day = shift.person or "the shop", WEEKDAYS[shift.weekday].capitalize()
            faults.setdefault(
                line,
                Refusal(
                    f"{day} of {who} is on line {earlier} too.",
                    where="weekday",
                    remedy="Write a day’s hours in one row, or leave one out.",
                ),
            )
    return (*faults.items(), *_begun_before(made, faults))


def _begun_before(
    made: tuple[tuple[int, Shift], ...], faults: Collection[int]
) -> Iterator[tuple[int, Refusal]]:
    """The rows whose day begins before the shift of the day before has ended."""
    weeks: dict[str, dict[int, tuple[int, tuple[Stretch, ...]]]] = {}
    for line, shift in made:
        weeks.setdefault(shift.person.casefold(), {})[shift.weekday] = (line, shift.stretches)
    for days in weeks.values():
        try:
            over_midnight({day: stretches for day, (_, stretches) in days.items()})
        except Refusal as refusal:
            line = days[int(refusal.where)][0]
            if line not in faults:
                yield line, Refusal(refusal.what, where="hours", remedy=refusal.remedy)


def _table(row: Row) -> tuple[Table, ...]:
    not_for = frozenset(
        part.strip().lower() for part in re.split(r"[+,;/]", row.get("not_for")) if part.strip()
    )
    try:
        table = Table(
            row.get("key"),
            row.get("name"),
            read_length(row.get("length")),
            read_length(row.get("depth")),
            not_for,
        )
    except Refusal as refusal:
        raise Refusal(refusal.what, where="length", remedy=refusal.remedy) from refusal
    return (table,)


def _hand(row: Row) -> tuple[Hand, ...]:
    skills = skills_in(re.sub(r"[,;/]", "+", row.get("skills")))
    return (Hand(row.get("key").lower(), row.get("name"), absences_in(row.get("off")), skills),)


def _leave(row: Row) -> tuple[Leave, ...]:
    first = day_in(row.get("first"), "first")
    last = day_in(row.get("last"), "last") if row.get("last") else first
    try:
        since = read_clock(row.get("hour")) if row.get("hour") else 0
    except Refusal as refusal:
        raise Refusal(refusal.what, where="hour", remedy=refusal.remedy) from refusal
    try:
        return (Leave(row.get("person"), Absence(first, last, since), row.get("why")[:80]),)
    except Refusal as refusal:
        where = "hour" if refusal.where == "hour" else "last"
        raise Refusal(refusal.what, where=where, remedy=refusal.remedy) from refusal


def _keyed(rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """The rows, those without a key given one made from the name."""
    return tuple(
        Row(
            row.line,
            {
                **row.cells,
                "key": row.get("key") or re.sub(r"[^a-z0-9]+", "-", folded(row.get("name"))).strip("-")[:40],
            },
        )
        for row in rows
    )


def same_keys(thing: str) -> Callable[[tuple[tuple[int, Any], ...]], tuple[tuple[int, Refusal], ...]]:
    """Refusals for rows whose key an earlier row has already, each with a key that is free."""

    def twice(made: tuple[tuple[int, Any], ...]) -> tuple[tuple[int, Refusal], ...]:
        first: dict[str, int] = {}
        faults = []
        for line, value in made:
            earlier = first.setdefault(value.key.casefold(), line)
            if earlier != line:
                refusal = CellRefusal(
                    f"The {thing} {value.key} is on line {earlier} too.",
                    where="key",
                    remedy="Give each its own key, or leave one out.",
                    proposal=f"{value.key}-{line}",
                )
                faults.append((line, refusal))
        return tuple(faults)

    return twice


TABLES = ListKind(
    "tables",
    "tables",
    "table",
    (
        Meaning("key", "Key", words=("id", "code", "nr", "no")),
        Meaning("name", "Name", words=("table", "bench", "what", "tisch", "werkbank", "item"), must=True),
        Meaning("size", "Size (length x depth)", Sort.SIZE, ("dimensions", "dims", "measures", "maße", "l x w", "l x d"), into=("length", "depth")),
        Meaning("length", "Length", Sort.LENGTH, ("l", "long", "länge", "laenge"), must=True),
        Meaning("depth", "Depth", Sort.LENGTH, ("d", "deep", "width", "w", "wide", "breite", "tiefe", "b"), must=True),
        Meaning("not_for", "Not for", words=("never", "keep off", "nicht für", "materials not allowed")),
    ),
    one=_table,
    completed=_keyed,
    together=same_keys("table"),
)  # fmt: skip
"""The list of tables."""

HOURS = ListKind(
    "hours",
    "hours",
    "day",
    (
        Meaning("person", "Who (empty: the whole shop)", words=("name", "who", "employee", "worker", "person", "mitarbeiter", "wer")),
        Meaning("weekday", "Weekday", words=("day", "days", "weekdays", "tag", "tage", "wochentag")),
        Meaning("hours", "Hours", words=("time", "times", "from to", "arbeitszeit", "zeiten", "open", "shift")),
        *(Meaning(day, day.capitalize(), words=_DAY_WORDS[number]) for number, day in enumerate(WEEKDAYS)),
    ),
    one=_shifts,
    together=_twice,
)  # fmt: skip
"""The list of weekly hours: a row a day or a stretch of days, or a column a weekday."""

PEOPLE = ListKind(
    "people",
    "people",
    "person",
    (
        Meaning("key", "Key", words=("id", "code", "initials", "kürzel")),
        Meaning("name", "Name", words=("person", "who", "employee", "worker", "mitarbeiter"), must=True),
        Meaning("off", "Days off", words=("holiday", "holidays", "leave", "vacation", "urlaub", "absent", "away")),
        Meaning("skills", "What they do (empty: all)", words=("does", "work", "can", "jobs", "tasks", "kann")),
    ),
    one=_hand,
    completed=_keyed,
    together=same_keys("person"),
)  # fmt: skip
"""The list of people."""

ABSENCES = ListKind(
    "absences",
    "absences",
    "absence",
    (
        Meaning("person", "Who (empty: the whole shop)", words=("name", "who", "employee", "worker", "person", "mitarbeiter", "wer")),
        Meaning("first", "From (first day)", words=("from", "first day", "start", "begin", "day", "date", "von", "ab", "datum"), must=True),
        Meaning("last", "To (last day; empty: one day)", words=("to", "until", "till", "last day", "end", "bis")),
        Meaning("hour", "From what hour of the first day (empty: all day)", words=("hour", "from hour", "time", "from time", "uhrzeit", "ab uhr")),
        Meaning("why", "Why", words=("reason", "note", "what", "grund", "kind")),
    ),
    one=_leave,
)  # fmt: skip
"""The list of absences: a row each, of one day or from a day to a day."""


def weeks_of(shifts: Sequence[Shift]) -> dict[str, Week]:
    """The week of each person by the name that the list gives ("": the whole shop's)."""
    weeks: dict[str, dict[int, tuple[Stretch, ...]]] = {}
    for shift in shifts:
        weeks.setdefault(shift.person, {})[shift.weekday] = shift.stretches
    return {person: Week(over_midnight(hours)) for person, hours in weeks.items()}


def people_of(hands: Sequence[Hand], weeks: Mapping[str, Week]) -> tuple[Person, ...]:
    """The people of a list with their weeks, by key or by name, else the whole shop's; refuses somebody without hours."""
    people = []
    for hand in hands:
        week = weeks.get(hand.key) or weeks.get(hand.name) or weeks.get("")
        if week is None:
            raise Refusal(
                f"There are no hours for {hand.name}.",
                where="hours",
                remedy="Give the shop hours (rows without a person) or give this person some.",
            )
        people.append(Person(hand.key, hand.name, week, skills=hand.skills, absences=hand.absences))
    return tuple(people)
