"""The ledger of the bench: every pour, split, boxing, crosslinking, use and discard, only ever added to.

Double entry: an entry is a list of moves, each taking whole µL of one component (of one lot) from one place to another. The places are the
vessels and three outer ones: stock, sprayed and waste. So nothing can be lost or invented: what left one place stands in another. What is in
a vessel is only ever worked out from the moves. A mistake is put right by a counter-entry that moves the same amounts back.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from itertools import pairwise

from hidewright.refusals import Refusal

STOCK = "stock"
SPRAYED = "sprayed"
WASTE = "waste"
OUTER = frozenset({STOCK, SPRAYED, WASTE})

Content = tuple[str, str]
"""A component's key and its lot (empty: lot not noted)."""


class VesselKind(StrEnum):
    """What a vessel is for."""

    CUP = "cup"
    PORTION = "portion"
    JAR = "jar"


class Act(StrEnum):
    """What an entry tells."""

    POUR = "pour"
    SPLIT = "split"
    BOX = "box"
    CROSSLINK = "crosslink"
    USE = "use"
    DISCARD = "discard"
    TO_JAR = "to jar"
    COUNTER = "counter"


@dataclass(frozen=True, slots=True)
class Vessel:
    """A cup, a gun load or a jar: `capacity` in µL, `tare` (empty mass) in g."""

    key: str
    name: str
    kind: VesselKind
    capacity: int
    tare: float = 0.0

    def __post_init__(self) -> None:
        if not self.key or self.key in OUTER:
            raise Refusal(f"“{self.key}” cannot name a vessel.", where="vessel")
        if not 0 < self.capacity <= 10**9:
            raise Refusal(
                "A vessel holds more than nothing and at most 1000 L.",
                where=self.name or self.key,
                remedy="Write the volume up to the brim line.",
            )
        if not 0 <= self.tare < 1e6:
            raise Refusal("The empty vessel's mass is not below nothing.", where=self.name or self.key)


@dataclass(frozen=True, slots=True)
class Move:
    """`amount` µL of one component's lot from `source` to `target`."""

    source: str
    target: str
    component: str
    amount: int
    lot: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.amount, int) or self.amount <= 0:
            raise Refusal(
                "Nothing would be moved.", where=self.component, remedy="Write a volume above nothing."
            )
        if self.source == self.target:
            raise Refusal("A thing cannot be poured from a vessel into itself.", where=self.source)
        if not self.component:
            raise Refusal("The pour does not say of what.", where="component")

    def reversed(self) -> "Move":
        """The same amount back."""
        return replace(self, source=self.target, target=self.source)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the ledger; `counters` is the number of the entry that a counter-entry takes back."""

    number: int
    act: Act
    moves: tuple[Move, ...]
    counters: int | None = None
    at: datetime | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.number < 1:
            raise Refusal("Entries are numbered from 1.", where="number")
        if not self.moves:
            raise Refusal("Nothing would be moved.", where=self.act.value)
        if (self.act is Act.COUNTER) != (self.counters is not None):
            raise Refusal("A correction names the entry that it takes back.", where="counters")

    def vessels(self) -> frozenset[str]:
        """The vessels that it touches."""
        return frozenset(p for m in self.moves for p in (m.source, m.target)) - OUTER


@dataclass(frozen=True, slots=True)
class _Levels:
    """What follows from the entries so far: µL by place and content, and the crosslinking that started each vessel's pot life."""

    held: Mapping[str, Mapping[Content, int]]
    began: Mapping[str, Entry]

    def after(self, entry: Entry, crosslinkers: frozenset[str]) -> "_Levels":
        """The levels after one more entry that stands."""
        held = dict(self.held)
        for place in {p for m in entry.moves for p in (m.source, m.target)}:
            held[place] = _moved(held.get(place, {}), entry.moves, place)
        began = _spread(entry, crosslinkers, self.began)
        for place in entry.vessels():
            if not held[place]:
                began.pop(place, None)
        return _Levels(held, began)


def _moved(held: Mapping[Content, int], moves: Iterable[Move], place: str) -> dict[Content, int]:
    found = dict(held)
    for move in moves:
        key = (move.component, move.lot)
        if move.target == place:
            found[key] = found.get(key, 0) + move.amount
        if move.source == place:
            found[key] = found.get(key, 0) - move.amount
    return {key: amount for key, amount in found.items() if amount}


def _spread(entry: Entry, crosslinkers: frozenset[str], before: Mapping[str, Entry]) -> dict[str, Entry]:
    """Where the entry carries crosslinked colour to; of two crosslinkings that meet, the older counts."""
    began = dict(before)
    for move in entry.moves:
        start = before.get(move.source) or (entry if move.component in crosslinkers else None)
        if start is None or move.target in OUTER:
            continue
        held = began.get(move.target)
        if held is None or start.number < held.number:
            began[move.target] = start
    return began


@dataclass(frozen=True, slots=True)
class Ledger:
    """Vessels and entries in order; `crosslinkers` are the keys of components that start a pot life.

    A ledger may be a part of the shop's (all entries that touch the vessels named): contents depend on nothing else. `levels` follows
    from the entries; it is carried along so that a long day does not slow down, and is never given by hand.
    """

    vessels: Mapping[str, Vessel]
    entries: tuple[Entry, ...] = ()
    crosslinkers: frozenset[str] = frozenset()
    levels: _Levels = field(default=None, repr=False, compare=False)  # type: ignore[assignment]

    def __post_init__(self) -> None:
        if self.levels is None:
            numbers = [entry.number for entry in self.entries]
            if any(later <= earlier for earlier, later in pairwise(numbers)):
                raise Refusal("The entries of a log are in the order of their numbers.", where="ledger")
            object.__setattr__(self, "levels", self._replayed())

    def _replayed(self) -> _Levels:
        """The levels from the entries that stand: what was taken back, and what took it back, never happened; the volumes come to the same."""
        levels = _Levels({}, {})
        for entry in self.standing():
            levels = levels.after(entry, self.crosslinkers)
        return levels

    @property
    def next_number(self) -> int:
        """The number of the next entry."""
        return self.entries[-1].number + 1 if self.entries else 1

    def vessel(self, key: str) -> Vessel:
        """The vessel of that key; refuses an unknown one."""
        if key not in self.vessels:
            raise Refusal(f"There is no vessel “{key}” here.", where="vessel", remedy="Reload the page.")
        return self.vessels[key]

    def entry(self, number: int) -> Entry:
        """The entry of that number; refuses an unknown one."""
        for entry in reversed(self.entries):
            if entry.number == number:
                return entry
        raise Refusal(f"There is no entry {number} here.", where="entry", remedy="Reload the page.")

    def added(self, entry: Entry) -> "Ledger":
        """The ledger with `entry` at its end. The functions of `acts` make entries that keep the bench's rules."""
        if self.entries and entry.number <= self.entries[-1].number:
            raise Refusal("The entries of a log are in the order of their numbers.", where="ledger")
        entries = (*self.entries, entry)
        if entry.act is Act.COUNTER:
            return Ledger(self.vessels, entries, self.crosslinkers)
        return replace(self, entries=entries, levels=self.levels.after(entry, self.crosslinkers))

    def countered(self) -> frozenset[int]:
        """Numbers of the entries that were taken back."""
        return frozenset(e.counters for e in self.entries if e.counters is not None)

    def standing(self) -> tuple[Entry, ...]:
        """The entries that hold: neither taken back nor counter-entries."""
        gone = self.countered()
        return tuple(e for e in self.entries if e.number not in gone and e.act is not Act.COUNTER)


def contents(ledger: Ledger, place: str) -> dict[Content, int]:
    """What is in a vessel (or went out to an outer place), in µL by component and lot, in the order first poured.

    Only amounts other than nothing are listed; at `STOCK` amounts are what came back less what was taken, so below nothing.
    """
    return dict(ledger.levels.held.get(place, {}))


def by_component(ledger: Ledger, place: str) -> dict[str, int]:
    """What is in a vessel, in µL by component, its lots together."""
    found: dict[str, int] = {}
    for (component, _), amount in contents(ledger, place).items():
        found[component] = found.get(component, 0) + amount
    return found


def volume(ledger: Ledger, place: str) -> int:
    """How much is in a vessel, µL."""
    return sum(ledger.levels.held.get(place, {}).values())


def crosslinked_since(ledger: Ledger, vessel: str) -> Entry | None:
    """The crosslinking that started the pot life of what is in the vessel now; None if it was not crosslinked.

    Followed through the moves, not through the amounts: a drop out of a crosslinked cup is crosslinked even when it is too small to hold
    a whole µL of crosslinker. Emptying a vessel ends it. Of two crosslinked lots poured together, the older one counts.
    """
    return ledger.levels.began.get(vessel)
