"""The ledger: an append-only list of entries from which the contents of every vessel follow.

Volumes are whole µL inside, so that nothing is lost to rounding: what leaves one vessel enters another, to the last µL. A mistake is not erased but met by a
counter-entry that does the opposite. Crosslinked colour begins to set: it may be used or discarded but never returns to a jar.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from hidewright.refusals import Refusal

UL = 1000
"""µL in a mL."""


class Act(StrEnum):
    """What an entry tells."""

    POUR = "pour"
    MOVE = "move"
    CROSSLINK = "crosslink"
    USE = "use"
    DISCARD = "discard"
    COUNTER = "counter-entry"


class VesselKind(StrEnum):
    """What a vessel is: a cup to mix in, a portion for the gun, a jar to keep."""

    CUP = "cup"
    PORTION = "portion"
    JAR = "jar"


@dataclass(frozen=True, slots=True)
class Vessel:
    """A vessel: `capacity` in mL."""

    key: str
    name: str
    kind: VesselKind
    capacity: float

    def __post_init__(self) -> None:
        if not 1 <= self.capacity <= 1e6:
            raise Refusal(
                f"A vessel of {self.capacity:g} mL cannot be.",
                where=self.name,
                remedy="It holds 1 mL to 1000 L.",
            )


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry, numbered in order.

    `vessel` the vessel it is about; `part` what was poured (pigment, base or linker key) for a pour or crosslinking; `microlitres` how much; `to` the vessel that a move
    pours into; `counters` the number of the entry that a counter-entry meets; `lot` where it came from; `grams` as weighed, if it was.
    """

    number: int
    act: Act
    vessel: str
    microlitres: int = 0
    part: str = ""
    to: str = ""
    counters: int = 0
    lot: str = ""
    grams: float | None = None

    def __post_init__(self) -> None:
        if self.act is not Act.COUNTER and self.microlitres <= 0:
            raise Refusal("Nothing was poured.", where="amount", remedy="Enter more than nothing.")
        if self.microlitres > 10**9:
            raise Refusal("That is more than a cubic metre.", where="amount", remedy="Check the unit.")


def microlitres(millilitres: float) -> int:
    """Whole µL of an amount in mL."""
    return round(millilitres * UL)


@dataclass(slots=True)
class _State:
    """What is in one vessel: µL by part, and whether it was crosslinked."""

    parts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    linked: bool = False

    @property
    def total(self) -> int:
        return sum(self.parts.values())


@dataclass(frozen=True, slots=True)
class Contents:
    """What is in a vessel: `parts` mL by key, whether it is `linked` (crosslinked)."""

    parts: Mapping[str, float]
    linked: bool

    @property
    def total(self) -> float:
        """mL in all."""
        return sum(self.parts.values())


Moved = dict[str, int]


class Ledger:
    """The entries so far and what follows from them; `append` refuses what cannot have happened."""

    def __init__(self, vessels: Iterable[Vessel], entries: Sequence[Entry] = ()) -> None:
        self.vessels = {v.key: v for v in vessels}
        self.entries: list[Entry] = []
        self._states: dict[str, _State] = {key: _State() for key in self.vessels}
        self._moved: dict[int, Moved] = {}
        self._poured: Moved = defaultdict(int)
        self._gone: Moved = defaultdict(int)
        self._countered: set[int] = set()
        for entry in entries:
            self.append(entry)

    def contents(self, vessel: str) -> Contents:
        """What is in a vessel now."""
        state = self._states[vessel]
        return Contents({k: v / UL for k, v in state.parts.items() if v}, state.linked)

    def balance(self) -> dict[str, tuple[int, int, int]]:
        """By part, in µL: poured in, still in vessels, gone (used or discarded); the first is always the sum of the others."""
        inside: Moved = defaultdict(int)
        for state in self._states.values():
            for key, amount in state.parts.items():
                inside[key] += amount
        keys = {*self._poured, *inside, *self._gone}
        return {key: (self._poured[key], inside[key], self._gone[key]) for key in keys}

    def append(self, entry: Entry) -> None:
        """Add an entry, or refuse it and change nothing."""
        if entry.number != len(self.entries) + 1:
            raise Refusal(
                f"Entry {entry.number} does not follow entry {len(self.entries)}.",
                where="ledger",
                remedy="Somebody else poured meanwhile: load the page again.",
            )
        if entry.vessel not in self.vessels:
            raise Refusal("This vessel is not there.", where="vessel")
        {
            Act.POUR: self._pour, Act.CROSSLINK: self._crosslink, Act.MOVE: self._move, Act.USE: self._leave, Act.DISCARD: self._leave, Act.COUNTER: self._counter,
        }[entry.act](entry)  # fmt: skip
        self.entries.append(entry)

    def _room(self, vessel: str, more: int) -> None:
        inside = self._states[vessel].total
        capacity = microlitres(self.vessels[vessel].capacity)
        if inside + more > capacity:
            over = (inside + more - capacity) / UL
            raise Refusal(
                f"{self.vessels[vessel].name} holds {capacity / UL:g} mL; this would be {over:.1f} mL too much.",
                where="amount",
                remedy="Use a larger vessel, or pour part of it into another one first.",
            )

    def _pour(self, entry: Entry) -> None:
        if not entry.part:
            raise Refusal("It is not said what was poured.", where="part")
        if self._states[entry.vessel].linked:
            raise Refusal(
                "This vessel is crosslinked: it sets, and nothing more is mixed into it.",
                where="vessel",
                remedy="Start another one.",
            )
        self._room(entry.vessel, entry.microlitres)
        self._states[entry.vessel].parts[entry.part] += entry.microlitres
        self._poured[entry.part] += entry.microlitres

    def _crosslink(self, entry: Entry) -> None:
        vessel = self.vessels[entry.vessel]
        if vessel.kind is VesselKind.JAR:
            raise Refusal(
                "A jar is for keeping; crosslinked colour sets in it.",
                where="vessel",
                remedy="Pour what this session sprays into a portion first.",
            )
        if not self._states[entry.vessel].total:
            raise Refusal("There is nothing in it to crosslink.", where="vessel")
        self._room(entry.vessel, entry.microlitres)
        self._states[entry.vessel].parts[entry.part] += entry.microlitres
        self._states[entry.vessel].linked = True
        self._poured[entry.part] += entry.microlitres

    def _move(self, entry: Entry) -> None:
        if entry.to not in self.vessels or entry.to == entry.vessel:
            raise Refusal("It is not said into which other vessel.", where="to")
        source, goal = self._states[entry.vessel], self._states[entry.to]
        if source.linked and self.vessels[entry.to].kind is VesselKind.JAR:
            raise Refusal(
                "Crosslinked colour cannot go back to a jar: it sets there and spoils the rest.",
                where="to",
                remedy="Use it within its pot life, or discard it.",
            )
        if source.linked and goal.total and not goal.linked:
            raise Refusal(
                "Crosslinked colour would start the other vessel setting.",
                where="to",
                remedy="Use an empty portion.",
            )
        self._room(entry.to, entry.microlitres)
        moved = self._draw(entry.vessel, entry.microlitres)
        for key, amount in moved.items():
            goal.parts[key] += amount
        goal.linked = goal.linked or source.linked
        self._moved[entry.number] = moved

    def _leave(self, entry: Entry) -> None:
        moved = self._draw(entry.vessel, entry.microlitres)
        for key, amount in moved.items():
            self._gone[key] += amount
        self._moved[entry.number] = moved

    def _draw(self, vessel: str, amount: int) -> Moved:
        """Take `amount` µL out of a well-stirred vessel: each part in proportion, whole µL, the sum exact."""
        state = self._states[vessel]
        total = state.total
        if amount > total:
            raise Refusal(
                f"There are only {total / UL:.2f} mL in {self.vessels[vessel].name}.",
                where="amount",
                remedy="Enter what was really there.",
            )
        keys = sorted(k for k, v in state.parts.items() if v)
        shares = {key: state.parts[key] * amount // total for key in keys}
        rest = amount - sum(shares.values())
        for key in sorted(keys, key=lambda k: (-(state.parts[k] * amount % total), k))[:rest]:
            shares[key] += 1
        for key, value in shares.items():
            state.parts[key] -= value
        if not state.total:
            state.linked = False
        return {key: value for key, value in shares.items() if value}

    def _counter(self, entry: Entry) -> None:
        if not 1 <= entry.counters <= len(self.entries):
            raise Refusal("There is no such entry to counter.", where="counters")
        if entry.counters in self._countered:
            raise Refusal("That entry was countered already.", where="counters")
        old = self.entries[entry.counters - 1]
        if old.act is Act.COUNTER or old.vessel != entry.vessel:
            raise Refusal(
                "A counter-entry cannot be countered; enter what was poured again.", where="counters"
            )
        if old.act in (Act.POUR, Act.CROSSLINK):
            self._unpour(old)
        else:
            self._unmove(old)
        self._countered.add(entry.counters)

    def _unpour(self, old: Entry) -> None:
        state = self._states[old.vessel]
        if state.parts[old.part] < old.microlitres:
            raise Refusal(
                "Some of it has left the vessel since.",
                where="counters",
                remedy="Counter what came after first, the last one first.",
            )
        if old.act is Act.POUR and state.linked:
            raise Refusal(
                "It was crosslinked since.", where="counters", remedy="Counter the crosslinking first."
            )
        state.parts[old.part] -= old.microlitres
        self._poured[old.part] -= old.microlitres
        if old.act is Act.CROSSLINK:
            state.linked = False

    def _unmove(self, old: Entry) -> None:
        moved = self._moved[old.number]
        goal = self._states[old.to].parts if old.act is Act.MOVE else self._gone
        if any(goal[key] < amount for key, amount in moved.items()):
            raise Refusal(
                "Some of it has gone on since.",
                where="counters",
                remedy="Counter what came after first, the last one first.",
            )
        self._room(old.vessel, sum(moved.values()))
        for key, amount in moved.items():
            goal[key] -= amount
            self._states[old.vessel].parts[key] += amount

    @property
    def countered(self) -> frozenset[int]:
        """Numbers of the entries that counter-entries have met."""
        return frozenset(self._countered)
