"""A day of the plan as lists: lines, sessions, what one person does, and what was left over."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zlib import crc32

from hidewright.charts.plan import ActShown, Unit, like_acts, places_of
from hidewright.charts.sessions import pieces_of, session_name, session_runs, step_words, with_zone, zone_of
from hidewright.planning.problem.rest import once_for
from hidewright.units import counted
from hidewright.workshop.days.progress_queries import Standing


@dataclass(frozen=True, slots=True)
class Line:
    """One line of somebody's list: the act and how it stands; `waits` is what its piece waits for, or empty; `name` of its piece."""

    act: ActShown
    standing: Standing
    waits: str = ""
    name: str = ""

    @property
    def state(self) -> str:
        """“done” or “open”, for the page."""
        return "done" if self.standing.done else "open"


@dataclass(frozen=True, slots=True)
class Group:
    """Acts of one person in one go, of one family of work or alike: shown, and tapped, as one session."""

    lines: tuple[Line, ...]

    @property
    def first(self) -> ActShown:
        """The first act of the group."""
        return self.lines[0].act

    @property
    def end(self) -> datetime:
        """When the last act ends."""
        return max(line.act.end for line in self.lines)

    @property
    def tapped(self) -> tuple[Line, ...]:
        """The lines that one tap is about: those not done, or all of them when all are done."""
        return tuple(line for line in self.lines if not line.standing.done) or self.lines

    @property
    def keys(self) -> list[str]:
        """The keys of the acts that one tap is about."""
        return [line.act.key for line in self.tapped]

    @property
    def form_id(self) -> str:
        """The name of its form on a page, for fields that stand beside it."""
        return f"g{crc32(self.key.encode()):08x}"

    @property
    def key(self) -> str:
        """What tells this group from others on the page."""
        return self.first.key

    @property
    def title(self) -> str:
        """What the session is called; a single kind of work by its own words."""
        if len({line.act.act for line in self.lines}) == 1:
            return self.first.act[:1].upper() + self.first.act[1:]
        return session_name([line.act for line in self.lines])

    @property
    def steps(self) -> str:
        """Its steps in order, each once; empty where the title says it."""
        words = step_words([line.act for line in self.lines])
        return words if "," in words else ""

    @property
    def words(self) -> str:
        """“Spray C1”, or “Colour, 12 pieces”; of what is done once, “Receive and count” or “Match the colour for Trim”."""
        marks = self.pieces
        if self.once is not None:
            return f"{self.title} for {self.once}" if self.once else self.title
        return (
            f"{self.title} {' '.join(filter(None, self.named[0]))}"
            if len(marks) == 1
            else f"{self.title}, {counted(len(marks), 'piece')}"
        )

    @property
    def once(self) -> str | None:
        """Where all of it is done once and on no piece: the names of the colours that it is for, empty for the whole job; None else."""
        once = [once_for(mark) for mark in self.pieces]
        return None if None in once else ", ".join(filter(None, once))

    @property
    def part(self) -> str:
        """The face that is worked on, where it is the same for all."""
        parts = {line.act.part for line in self.lines}
        return parts.pop() if len(parts) == 1 and not zone_of(self.first) else ""

    @property
    def pieces(self) -> list[str]:
        """The marks of the pieces in order, each once."""
        return pieces_of([line.act for line in self.lines])

    @property
    def named(self) -> list[tuple[str, str]]:
        """(mark, name) of the pieces in order, each once."""
        return list(dict.fromkeys((line.act.piece, with_zone(line.name, line.act)) for line in self.lines))

    @property
    def as_data(self) -> list[tuple[str, str, str, str, int, str]]:
        """Its lines for `each.js`, which builds what is tapped one by one: key, mark, name, when it starts, 1 if done, its step where there are several."""
        return [
            (
                line.act.key,
                line.act.piece,
                with_zone(line.name, line.act),
                f"{line.act.start:%H:%M}",
                int(line.standing.done),
                f"{line.act.act} {line.act.part}".strip() if self.steps else "",
            )
            for line in self.lines
        ]

    @property
    def state(self) -> str:
        """“done” when every act is, else “open”."""
        return "done" if all(line.standing.done for line in self.lines) else "open"

    @property
    def minutes(self) -> int:
        """The minutes that the plan gives to what is not done (or to all when all is done)."""
        about = set(self.keys)
        spans = (line.act.end - line.act.start for line in self.lines if line.act.key in about)
        return round(sum(span.total_seconds() for span in spans) / 60)

    def place_in(self, unit: Unit) -> str:
        """Where, each table named once."""
        if self.steps:
            return ", ".join(dict.fromkeys(line.act.table for line in self.lines if line.act.table))
        return places_of((line.act for line in self.lines), unit)

    @property
    def cautions(self) -> list[str]:
        """The cautions of its acts in short, each once; the page says at the top what always holds."""
        told = (line.act.caution.split(";")[0].rstrip(".") for line in self.lines if line.act.caution)
        return list(dict.fromkeys(told))

    @property
    def waits(self) -> list[tuple[str, str]]:
        """(piece, what it waits for) of those that wait."""
        return [(line.act.piece, line.waits) for line in self.lines if line.waits]

    @property
    def snags(self) -> list[tuple[str, str]]:
        """(piece, snag) of those that were reported."""
        return [(line.act.piece, line.standing.snag) for line in self.lines if line.standing.snag]


def grouped(lines: Iterable[Line]) -> tuple[Group, ...]:
    """Lines in order of time as groups of like acts."""
    by_key = {line.act.key: line for line in lines}
    runs = like_acts(line.act for line in by_key.values())
    return tuple(Group(tuple(by_key[act.key] for act in run)) for run in runs)


def in_sessions(lines: Iterable[Line]) -> tuple[Group, ...]:
    """Lines of one person in order of time as sessions."""
    by_key = {line.act.key: line for line in lines}
    runs = session_runs(line.act for line in by_key.values())
    return tuple(Group(tuple(by_key[act.key] for act in run)) for run in runs)


def in_parts(groups: Iterable[Group], most: int) -> list[tuple[Group, ...]]:
    """Sessions in order as parts for a page each, of at most `most` lines, or of one session that alone has more; one empty part without any."""
    parts: list[list[Group]] = [[]]
    for group in groups:
        if parts[-1] and sum(len(one.lines) for one in parts[-1]) + len(group.lines) > most:
            parts.append([])
        parts[-1].append(group)
    return [tuple(part) for part in parts]


@dataclass(frozen=True, slots=True)
class PersonDay:
    """What one person has to do on a day, in order."""

    name: str
    lines: tuple[Line, ...]
    hours: str = ""

    @property
    def open_groups(self) -> tuple[Group, ...]:
        """Those groups of which something is still to be done."""
        return tuple(group for group in self.groups if group.state == "open")

    @property
    def done_groups(self) -> tuple[Group, ...]:
        """Those groups of which all is done."""
        return tuple(group for group in self.groups if group.state == "done")

    @property
    def groups(self) -> tuple[Group, ...]:
        """The lines as sessions."""
        return in_sessions(self.lines)

    @property
    def done(self) -> int:
        """How many sessions are done."""
        return sum(group.state == "done" for group in self.groups)


@dataclass(frozen=True, slots=True)
class DayList:
    """A day of the plan: the lists of the people; `left_over` are acts of earlier days that nobody has tapped."""

    day: date
    people: tuple[PersonDay, ...]
    left_over: tuple[Line, ...]

    @property
    def left_over_groups(self) -> tuple[Group, ...]:
        """What was left over, session by session."""
        return in_sessions(sorted(self.left_over, key=lambda line: (line.act.person, line.act.start)))

    @property
    def total(self) -> int:
        """How many sessions are planned for the day."""
        return sum(len(person.groups) for person in self.people)

    @property
    def done(self) -> int:
        """How many of them are done."""
        return sum(person.done for person in self.people)
