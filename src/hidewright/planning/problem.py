"""What must be planned: batches of like pieces going through operations, on tables, by people, with a gun.

Times are whole minutes; lengths in m. A batch is up to four like pieces that go through the work together: that is how a careful person works, and it
keeps the plan small. Within a pass every piece of a batch lies on one unbroken stretch of one table, from the pass's first operation until what it was coated
with has cured.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from hidewright.refusals import Refusal

from .calendar import Calendar, Person


class Kind(StrEnum):
    """What is done to a face."""

    STRIP = "strip"
    CLEAN = "clean"
    REPAIR = "repair"
    MASK = "mask"
    TURN = "turn"
    WIPE_DOWN = "wipe down"
    WIPE_IN = "wipe in colour"
    SPRAY = "spray colour"
    SAND = "sand"
    TACK = "tack"
    SECOND = "spray second coat"
    CLEAR = "spray clear"
    UNMASK = "unmask"
    INSPECT = "inspect"


COATS = frozenset({Kind.WIPE_IN, Kind.SPRAY, Kind.SECOND, Kind.CLEAR})
SPRAYED = frozenset({Kind.SPRAY, Kind.SECOND, Kind.CLEAR})


@dataclass(frozen=True, slots=True)
class Table:
    """A table, bench or rack on which pieces lie in one row."""

    key: str
    name: str
    length: float
    depth: float

    def __post_init__(self) -> None:
        if not 0.2 <= self.length <= 50 or not 0.1 <= self.depth <= 10:
            raise Refusal(
                f"A table of {self.length:g} by {self.depth:g} m cannot be.",
                where=self.name,
                remedy="Check the unit.",
            )


@dataclass(frozen=True, slots=True)
class Operation:
    """One operation on a batch.

    `minutes` of hands (1..480); `dry` min that must pass before the next operation of the batch; `gun` True when a spray gun is held; `window` min within which the
    NEXT operation must start after this one ends (None: any time); `side` front or back; `table` True when it happens on the table of its pass.
    """

    key: str
    kind: Kind
    side: str
    minutes: int
    dry: int = 0
    gun: bool = False
    window: int | None = None
    table: bool = True
    pass_key: str = ""

    def __post_init__(self) -> None:
        if not 1 <= self.minutes <= 480:
            raise Refusal(
                f"{self.minutes} min of {self.kind} do not fit a day.",
                where=self.key,
                remedy="Split the batch or the piece.",
            )
        if self.dry < 0 or (self.window is not None and self.window < 0):
            raise Refusal("Drying and windows are not below nothing.", where=self.key)


@dataclass(frozen=True, slots=True)
class Lying:
    """One piece of a batch as it lies: `length` along the table, `depth` across, m."""

    piece: str
    length: float
    depth: float


@dataclass(frozen=True, slots=True)
class Batch:
    """Like pieces that go through the work together, one operation after the other."""

    key: str
    name: str
    lying: tuple[Lying, ...]
    operations: tuple[Operation, ...]

    def __post_init__(self) -> None:
        if not self.lying or not self.operations:
            raise Refusal("A batch needs pieces and operations.", where=self.key)

    @property
    def pieces(self) -> tuple[str, ...]:
        """The marks of its pieces."""
        return tuple(part.piece for part in self.lying)

    @property
    def length(self) -> float:
        """m of table the batch takes, gaps of 5 cm included."""
        return sum(part.length for part in self.lying) + GAP * len(self.lying)

    @property
    def depth(self) -> float:
        """m of table depth the deepest piece takes."""
        return max(part.depth for part in self.lying)

    @property
    def passes(self) -> tuple[str, ...]:
        """Its passes on a table, in order."""
        return tuple(dict.fromkeys(o.pass_key for o in self.operations if o.table))


GAP = 0.05
"""m kept free beside each piece, so that wet work is not touched."""


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything a plan depends on. `pot_life` min of crosslinked colour (None: no limit); `promised` the day it must leave."""

    batches: tuple[Batch, ...]
    people: tuple[Person, ...]
    tables: tuple[Table, ...]
    calendar: Calendar
    guns: int = 1
    promised: date | None = None
    pot_life: int | None = None

    def __post_init__(self) -> None:
        if not self.batches:
            raise Refusal("There is no piece to plan.", remedy="Enter the pieces first.")
        if not self.people:
            raise Refusal("Nobody is there to do the work.", remedy="Enter at least one person.")
        if not self.tables:
            raise Refusal("There is no table.", remedy="Enter at least one table.")
        if self.guns < 1:
            raise Refusal("There is no spray gun.", where="guns")
        keys = [b.key for b in self.batches]
        if len(set(keys)) != len(keys):
            raise Refusal("Two batches have the same key.", where="batches")

    def operations(self) -> Iterator[tuple[Batch, Operation]]:
        """Every operation with its batch."""
        for batch in self.batches:
            for operation in batch.operations:
                yield batch, operation

    def fitting(self, batch: Batch) -> tuple[Table, ...]:
        """The tables that the batch fits on."""
        return tuple(
            t for t in self.tables if t.length >= batch.length - 1e-9 and t.depth >= batch.depth - 1e-9
        )

    @property
    def by_batch(self) -> Mapping[str, Batch]:
        """Batches by key."""
        return {batch.key: batch for batch in self.batches}
