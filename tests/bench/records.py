"""Neutral records by which plans are judged from outside: what must be done, who may do it where, and what was done.

Nothing here knows the planner, its audit or its own executor; `adapter` alone reads the product's types. Minutes are whole and count from the midnight before the first day; lengths are m.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

DAY = 24 * 60
GAP = 0.05
"""m kept free beside each piece on a table."""

Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Op:
    """One operation on one piece.

    `family` of work; `product` what is mixed for it, or loaded in the gun (empty: nothing); `mixed` whether a pot of it must be open; `stay` the pass during which the piece lies on its stretch
    (empty: no table); `minutes` of hands; `dry` before the next; `wet` of these in which dust spoils it; `window` within which the next must start; `gun` is held; `dusty` work raises dust.
    """

    key: str
    piece: str
    kind: str
    family: str
    minutes: int
    product: str = ""
    mixed: bool = False
    stay: str = ""
    dry: int = 0
    wet: int = 0
    window: int | None = None
    release: int = 0
    gun: bool = False
    dusty: bool = False


@dataclass(frozen=True, slots=True)
class Item:
    """A piece with all its operations in order; `ways` how it may lie: (table, m along it)."""

    piece: str
    ops: tuple[Op, ...]
    ways: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Hand:
    """A person: hours as stretches in order, and the kinds of work they do (None: all)."""

    key: str
    hours: tuple[Stretch, ...]
    kinds: frozenset[str] | None = None

    def can(self, kind: str) -> bool:
        """True when this person does that kind of work."""
        return self.kinds is None or kind in self.kinds


@dataclass(frozen=True, slots=True)
class Costs:
    """Minutes of set-up: to mix a pot, flush a gun, change from one family of work to another, and suit up for spraying. Common practice, no source."""

    mix: int = 12
    flush: int = 8
    change: int = 3
    suit: int = 5


@dataclass(frozen=True, slots=True)
class Shop:
    """All that a foreman must know. `tables` length by key; `air` of each table (left out: the one air of the room); `pots` pot life by product; `rack` places (None: enough)."""

    items: tuple[Item, ...]
    hands: tuple[Hand, ...]
    tables: Mapping[str, float]
    guns: int = 1
    pots: Mapping[str, int] = field(default_factory=dict)
    rack: int | None = None
    air: Mapping[str, str] = field(default_factory=dict)

    @property
    def open(self) -> tuple[Stretch, ...]:
        """The stretches in which anybody works."""
        joined: list[Stretch] = []
        for a, b in sorted(s for hand in self.hands for s in hand.hours):
            if joined and a <= joined[-1][1]:
                joined[-1] = (joined[-1][0], max(b, joined[-1][1]))
            else:
                joined.append((a, b))
        return tuple(joined)

    def hours_until(self, minute: int) -> float:
        """Working hours of the shop before a minute."""
        return sum(min(b, minute) - a for a, b in self.open if a < minute) / 60

    def days_until(self, minute: int) -> int:
        """Number of the working day on which a minute falls, from 1."""
        return len({a // DAY for a, _ in self.open if a < minute})


@dataclass(frozen=True, slots=True)
class Work:
    """One operation as planned or done. `at` m from the table's end; `wet_until` dust spoils it; `dry_until` the next may follow; `session` as the plan names it (empty: none)."""

    op: Op
    start: int
    end: int
    person: str
    table: str = ""
    at: float = 0.0
    along: float = 0.0
    gun: int | None = None
    session: str = ""

    @property
    def wet_until(self) -> int:
        """The minute until which dust spoils it."""
        return self.end + self.op.wet

    @property
    def dry_until(self) -> int:
        """The minute from which the piece may be worked on or moved."""
        return self.end + self.op.dry


@dataclass(frozen=True, slots=True)
class Lying:
    """A piece on its stretch of a table during one pass."""

    piece: str
    stay: str
    table: str
    at: float
    along: float
    since: int
    until: int


@dataclass(frozen=True, slots=True)
class SetUp:
    """Minutes that are no work on a piece: mix, flush, change or suit, of one person."""

    person: str
    what: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Record:
    """What was planned or done: all work, where pieces lay, and set-ups."""

    works: tuple[Work, ...]
    lying: tuple[Lying, ...]
    set_ups: tuple[SetUp, ...] = ()

    @property
    def finish(self) -> int:
        """The minute at which all is done and dry."""
        return max(w.dry_until for w in self.works)
