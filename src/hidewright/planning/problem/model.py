"""What must be planned: pieces going through operations, on tables, by people, with guns.

Times are whole minutes since the midnight before the calendar's first day; lengths in m. A pass is what happens to one side of a piece on a table: from the first
operation of the pass until its last coat has cured, the piece lies on one unbroken stretch of one table. Between passes, and until it is unmasked and
inspected, it stands in the rack.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from hidewright.refusals import Refusal
from hidewright.survey.zones import Zone, zone_keys

from .calendar import EVERY_NIGHT, NO_NIGHT, Calendar, Person, Stretch, without
from .kinds import BREAKABLE as BREAKABLE
from .kinds import COATS as COATS
from .kinds import MIXED as MIXED
from .kinds import OWN as OWN
from .kinds import SPRAYED as SPRAYED
from .kinds import Kind as Kind
from .rules import FREE_ROOM, RoomRules

GAP = 0.05
"""m kept free beside each piece, so that wet work is not touched."""


NAMED = " · "
"""Between the name of a step of the shop's own and its kind, in an operation's key."""
OFF_TABLE = ("start", "end")
"""How the passes begin that need no table: what is done before a piece first lies on one, and after it last did."""


def piece_of(key: str) -> str:
    """The piece of an operation's key (piece/pass/kind); a piece's mark may hold a slash itself."""
    return key.rsplit("/", 2)[0]


@dataclass(frozen=True, slots=True)
class Table:
    """A table, bench or rack on which pieces lie in one row; `not_for` names the materials that must not lie on its top."""

    key: str
    name: str
    length: float
    depth: float
    not_for: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not self.key.strip() or not self.name.strip():
            raise Refusal("A table needs a key and a name.", where="tables")
        if not 0.2 <= self.length <= 60 or not 0.1 <= self.depth <= 10:
            raise Refusal(
                f"A table of {self.length:g} by {self.depth:g} m cannot be.",
                where=self.name,
                remedy="Check the unit: 0.2 to 60 m long, 0.1 to 10 m deep.",
            )


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation on one piece.

    `minutes` of hands (1 or more); `dry` min that must pass after it before the next operation of the piece, and before the piece may leave its stretch; `wet` min during
    which it gives off vapour (0 ≤ wet ≤ dry); `window` min within which the next operation must start after this one ends (None: any time);
    `release` the minute before which it cannot start; `pass_key` prep, front, back, zone1, zone2 …, redo1, redo2 …, or start, end, end1 … for what needs no table;
    `name` what the shop calls a step of its own (empty: its kind says it); `after` what must be over and dry first on other pieces: operations by their keys, or whole pieces by their marks.
    """

    key: str
    kind: Kind
    side: str
    pass_key: str
    minutes: int
    dry: int = 0
    wet: int = 0
    window: int | None = None
    release: int = 0
    name: str = ""
    after: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.minutes < 1:
            raise Refusal(
                f"{self.minutes} min is no work.", where=self.key, remedy="Give it a minute or more."
            )
        if not 0 <= self.wet <= self.dry:
            raise Refusal("What is wet is drying: 0 ≤ wet ≤ dry.", where=self.key)
        if self.window is not None and self.window < self.dry:
            raise Refusal(
                f"The next step must start within {self.window} min, yet it dries {self.dry} min.",
                where=self.key,
                remedy=f"Allow {self.dry} min or more between the two.",
            )

    @property
    def on_table(self) -> bool:
        """True when it happens on the table of its pass."""
        return not self.pass_key.startswith(OFF_TABLE)

    @property
    def work(self) -> str:
        """What it is called in the log: its own name, or its kind."""
        return self.name or str(self.kind)

    @property
    def gun(self) -> bool:
        """True when a spray gun is held."""
        return self.kind in SPRAYED


@dataclass(frozen=True, slots=True)
class Job:
    """A piece with everything that must be done to it, in order. `length` and `depth` m as it lies; `due` the day by which it must be done.

    `colour` the name of its colour, each of which has a mix of its own (empty: the one colour of the job); `rank` how its job counts among several that share the room: lower goes first;
    `zones` those in which it is coated, each in a pass of its own: zone1, zone2 …
    """

    piece: str
    name: str
    material: str
    length: float
    depth: float
    operations: tuple[Operation, ...]
    due: date | None = None
    colour: str = ""
    rank: int = 0
    zones: tuple[Zone, ...] = ()

    def __post_init__(self) -> None:
        if not self.operations:
            raise Refusal("Nothing is to be done to it.", where=self.piece, remedy="Take it off the list.")
        if len(self.passes) != len({o.pass_key for o in self.operations}):
            raise Refusal("The steps of a side must follow each other.", where=self.piece)

    @property
    def passes(self) -> tuple[str, ...]:
        """Its pass keys in order."""
        keys = [o.pass_key for o in self.operations]
        return tuple(k for i, k in enumerate(keys) if i == 0 or keys[i - 1] != k)

    def zone(self, pass_key: str) -> Zone | None:
        """The zone that is coated in a pass; None where that is no zone."""
        return dict(zip(zone_keys(self.zones), self.zones, strict=True)).get(pass_key)

    @property
    def stays(self) -> frozenset[str]:
        """The passes for which it stays on the spot of the table on which it was coated in the pass before."""
        keys = zip(zone_keys(self.zones), self.zones, strict=True)
        return frozenset(key for number, (key, zone) in enumerate(keys) if number and not zone.moved)

    def on(self, table: Table) -> tuple[float, float] | None:
        """(along, across) m as it lies on `table`: crosswise where that is shorter and the table deep enough; None where it may not or cannot lie."""
        if self.material in table.not_for:
            return None
        for along, across in sorted(((self.length, self.depth), (self.depth, self.length))):
            if across <= table.depth + 1e-9 and along + GAP <= table.length + 1e-9:
                return along, across
        return None

    @property
    def minutes(self) -> int:
        """Minutes of hands in all."""
        return sum(o.minutes for o in self.operations)


class Held(StrEnum):
    """What something else can hold."""

    PERSON = "person"
    TABLE = "table"
    GUN = "gun"
    RACK = "rack"


@dataclass(frozen=True, slots=True)
class Taken:
    """What another job holds from minute `since` to `until`: a `person` or `table` by its `key`, a gun by its number, or `places` in the racks.

    On a table it takes `along` m from `at`.
    """

    what: Held
    key: str
    since: int
    until: int
    at: float = 0.0
    along: float = 0.0
    places: int = 1

    def __post_init__(self) -> None:
        if self.until <= self.since:
            raise Refusal("What is held is held for a minute or more.", where=self.key)
        if self.at < 0 or self.along < 0 or self.places < 0:
            raise Refusal("What is held cannot be less than nothing.", where=self.key)


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything a plan depends on.

    `pot_life` min by what is crosslinked (colour, clear); `most_mixes` how many times a day one of them may be mixed; `fan_off` the weekdays (0 is Monday) on
    whose evenings the fan goes off: nothing may give off vapour then, after the last person has left; `promised` the day it must leave; `rack` how many pieces can stand off the tables between their
    passes (None: nobody counted them, so as many as there are).
    """

    jobs: tuple[Job, ...]
    people: tuple[Person, ...]
    tables: tuple[Table, ...]
    calendar: Calendar
    guns: int = 1
    promised: date | None = None
    pot_life: Mapping[str, int] = field(default_factory=dict)
    most_mixes: int = 3
    fan_off: frozenset[int] = NO_NIGHT
    rack: int | None = None
    rules: RoomRules = FREE_ROOM
    taken: tuple[Taken, ...] = ()

    def __post_init__(self) -> None:
        if not self.jobs:
            raise Refusal("There is no piece to plan.", remedy="Enter the pieces first.")
        if not self.people:
            raise Refusal("Nobody is there to do the work.", remedy="Enter at least one person.")
        if not self.tables:
            raise Refusal("There is no table.", remedy="Enter at least one table.")
        if not 1 <= self.guns <= 20:
            raise Refusal(f"{self.guns} spray guns cannot be.", where="guns", remedy="Enter 1 or more.")
        if self.rack is not None and not 0 <= self.rack <= 10_000:
            raise Refusal(
                f"{self.rack} places in the racks cannot be.", where="racks", remedy="Enter 0 or more."
            )
        if not self.fan_off <= EVERY_NIGHT:
            raise Refusal(
                "A night is named by its weekday, 0 to 6.", where="fan off at night", remedy="0 is Monday."
            )
        if self.most_mixes < 1 or any(life < 1 for life in self.pot_life.values()):
            raise Refusal(
                "A pot life is a minute or more, and colour is mixed once a day or more.", where="pot life"
            )
        for what, keys in (
            ("pieces", [j.piece for j in self.jobs]),
            ("people", [p.key for p in self.people]),
            ("tables", [t.key for t in self.tables]),
            ("operations", [o.key for j in self.jobs for o in j.operations]),
        ):
            if len(set(keys)) != len(keys):
                double = next(k for k in keys if keys.count(k) > 1)
                raise Refusal(f"{double} is there twice.", where=what, remedy="Give each its own key.")

    @property
    def in_sessions(self) -> bool:
        """Whether its days are planned in sessions: where the room has rules, or a piece is coated in zones; else as bare operations."""
        return self.rules != FREE_ROOM or any(job.zones for job in self.jobs)

    def operations(self) -> Iterator[tuple[Job, Operation]]:
        """Every operation with its job."""
        for job in self.jobs:
            for operation in job.operations:
                yield job, operation

    @property
    def minutes(self) -> int:
        """Minutes of hands in all."""
        return sum(job.minutes for job in self.jobs)

    def hours_of(self, person: Person) -> tuple[Stretch, ...]:
        """The stretches in which a person is free for this work: the hours, without what other jobs hold."""
        held = [(t.since, t.until) for t in self.taken if t.what is Held.PERSON and t.key == person.key]
        hours = self.calendar.stretches(person)
        return without(hours, held) if held else hours

    def job(self, piece: str) -> Job:
        """The job of a piece; KeyError when there is none."""
        for job in self.jobs:
            if job.piece == piece:
                return job
        raise KeyError(piece)

    def table(self, key: str) -> Table:
        """The table with that key; KeyError when there is none."""
        for table in self.tables:
            if table.key == key:
                return table
        raise KeyError(key)
