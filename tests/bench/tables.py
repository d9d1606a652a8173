"""The tables of a foreman: which stretches are taken, and where a piece finds one."""

from bisect import insort
from collections.abc import Mapping, Sequence

from .records import GAP

Place = tuple[str, float, float]
"""Table, m from its end, and m along it."""


class Tables:
    """Stretches of tables that are taken, each by a piece's number."""

    def __init__(self, lengths: Mapping[str, float]) -> None:
        self.lengths = lengths
        self.held: dict[str, list[tuple[float, float, int]]] = {key: [] for key in lengths}
        self.hopeless: set[tuple[tuple[str, float], ...]] = set()

    def find(self, ways: Sequence[tuple[str, float]], wished: Place | None = None) -> Place | None:
        """The wished place if it is free, else the tightest free stretch among the ways; None where there is none."""
        if wished is not None and self.free(wished):
            return wished
        if tuple(ways) in self.hopeless:
            return None
        best: tuple[float, Place] | None = None
        for table, along in ways:
            cursor = 0.0
            for a, b, _ in [*self.held[table], (self.lengths[table] + GAP, 0.0, 0)]:
                rest = a - cursor - along - GAP
                if rest >= -1e-9 and (best is None or rest < best[0]):
                    best = (rest, (table, cursor, along))
                cursor = max(cursor, b)
        if best is None:
            self.hopeless.add(tuple(ways))
            return None
        return best[1]

    def free(self, place: Place) -> bool:
        """True when nothing lies there."""
        table, at, along = place
        end = at + along + GAP
        return all(b <= at + 1e-9 or a >= end - 1e-9 for a, b, _ in self.held[table])

    def lay(self, number: int, place: Place) -> None:
        """Take a stretch."""
        table, at, along = place
        insort(self.held[table], (at, at + along + GAP, number))

    def take_up(self, number: int, place: Place) -> None:
        """Free a stretch."""
        table, at, along = place
        self.held[table].remove((at, at + along + GAP, number))
        self.hopeless.clear()
