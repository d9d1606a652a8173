"""The floor while the bench runs: what lies where on the tables, and what stands in the racks between two passes.

A piece comes off its table when its coat has cured, if the rack has a place for it; if not, it stays where it lies until there is a place, or until it goes on in its next pass on the
same stretch. So a small rack costs table length, and never stops the work.
"""

from bisect import insort
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from ..problem.model import GAP

Lies = tuple[int, float, float, float]
"""(table index, at, along, across)."""

Places = Mapping[tuple[int, str], tuple[Lies, ...]]
"""(lot, pass) → where its pieces would rather lie."""

Ways = Sequence[tuple[int, float, float]]
"""(table index, along, across): the ways in which a piece may lie."""

Stayed = tuple[tuple[Lies, ...], int, int]
"""(where, since, until)."""

OPEN = 10**9
"""The end of a stay that goes on."""


@dataclass(frozen=True, slots=True)
class Begun:
    """A lot that is under way when planning starts: where its pieces lie now (empty: not on a table) and since when; `ready` the minute it may go on.

    `cured` (pass, minute) when its pass is over and it only lies there until that minute, or until the rack has a place; `in_rack` True when it stands in the rack.
    """

    ready: int = 0
    lies: tuple[Lies, ...] = ()
    since: int = 0
    cured: tuple[str, int] | None = None
    in_rack: bool = False


@dataclass(frozen=True, slots=True)
class Curing:
    """What lies on a table when planning starts and only needs to cure: `at`, `along` m of the table with that index, until a minute."""

    table: int
    at: float
    along: float
    until: int


class Floor:
    """Tables of these `lengths` (m) with the `ways` in which each piece of each lot may lie, and `rack` places (None: without limit).

    `places` are where lots would rather lie; `best_fit` lays in the tightest free stretch, not the first; `wake` is told every minute at which something changes by itself.
    """

    def __init__(
        self,
        lengths: Sequence[float],
        ways: Sequence[Sequence[Ways]],
        rack: int | None,
        places: Places,
        best_fit: bool,
        wake: Callable[[int], None],
    ) -> None:
        self.lengths, self.ways, self.rack = lengths, ways, rack
        self.places, self.best_fit, self.wake = places, best_fit, wake
        self.tables: list[list[tuple[float, float, int]]] = [[] for _ in lengths]
        self.on_table: list[tuple[tuple[Lies, ...], int] | None] = [None] * len(ways)
        self.stayed: dict[tuple[int, str], Stayed] = {}
        self.freeing: list[int] = []
        self.freed = 0
        self.no_place: dict[int, int] = {}
        self.in_rack: set[int] = set()
        self.standing = 0
        self.curing: list[tuple[int, int, str]] = []
        self.held: dict[int, str] = {}
        self.ending: list[tuple[int, int]] = []

    def begin(self, begun: Mapping[int, Begun], curing: Sequence[Curing]) -> None:
        """How the floor stands when planning starts."""
        for part in curing:
            insort(self.tables[part.table], (part.at, part.at + part.along + GAP, part.until))
            self._frees(part.until)
        for lot, state in begun.items():
            if state.lies:
                self._put(lot, state.lies, state.since)
                if state.cured is not None:
                    pass_key, minute = state.cured
                    heappush(self.curing, (minute, lot, pass_key))
                    self.wake(minute)
            elif state.in_rack and self.rack is not None:
                self._into_the_rack(lot)

    def settle(self, now: int) -> None:
        """What happens by itself at `now`: what is done leaves, what has cured goes to the rack while there is room, those that waited longest first."""
        while self.freeing and self.freeing[0] <= now:
            heappop(self.freeing)
            self.freed += 1
            self.tables = [[h for h in held if h[2] > now] for held in self.tables]
        if self.rack is None:
            return
        while self.ending and self.ending[0][0] <= now:
            self._leave(heappop(self.ending)[1], now)
        while self.curing and self.curing[0][0] <= now:
            _, lot, pass_key = heappop(self.curing)
            self.held[lot] = pass_key
        for lot in tuple(self.held):
            if self.standing + len(self.ways[lot]) <= self.rack:
                self._off_the_table(lot, now)
                self._into_the_rack(lot)

    def hopeless(self, lot: int) -> bool:
        """True when there was no place for the lot, and nothing has become free since."""
        return self.no_place.get(lot) == self.freed

    def lay(self, lot: int, pass_key: str, now: int, only: frozenset[int] | None = None) -> bool:
        """Lay a lot down for a pass at `now`, up to which all is settled, `only` on some tables where that is said; False when there is no place for all its pieces."""
        if only is not None and lot in self.held:
            state = self.on_table[lot]
            if state is not None and any(lies[0] not in only for lies in state[0]):
                return False
        if lot in self.held:
            lies = self._take_up(lot, now)
            self.on_table[lot] = (lies, now)
            return True
        laid = (only is None and self._lay_as_before(lot, pass_key, now)) or self._lay_anew(lot, now, only)
        if laid and lot in self.in_rack:
            self._out_of_the_rack(lot)
            self.settle(now)
        return laid

    def close(self, lot: int, pass_key: str, until: int, *, last: bool) -> None:
        """A pass is over: it lies until it has cured at `until`, and longer where the rack is full and it is not the `last` that is done to it."""
        if self.on_table[lot] is None:
            raise AssertionError("a side ended that never began")
        if self.rack is not None and not last:
            heappush(self.curing, (until, lot, pass_key))
            self.wake(until)
            return
        for table, at, along, _ in self._end_stay(lot, pass_key, until):
            self.tables[table].remove((at, at + along + GAP, OPEN))
            insort(self.tables[table], (at, at + along + GAP, until))
        self._frees(until)

    def go_on(self, lot: int, pass_key: str, until: int) -> None:
        """A pass is over at `until`, and the next begins where the lot lies."""
        state = self.on_table[lot]
        if state is None:
            raise AssertionError("a side ended that never began")
        lies, since = state
        self.stayed[(lot, pass_key)] = (lies, since, until)
        self.on_table[lot] = (lies, until)

    def end(self, lot: int, minute: int) -> None:
        """All is done to a lot at `minute`: its place is free from then on."""
        if self.rack is not None and (lot in self.in_rack or lot in self.held):
            heappush(self.ending, (minute, lot))
            self.wake(minute)

    def clear(self) -> None:
        """The work is over: what still stands or lies there leaves when it is done."""
        while self.ending:
            self.settle(self.ending[0][0])

    def _frees(self, minute: int) -> None:
        heappush(self.freeing, minute)
        self.wake(minute)

    def _put(self, lot: int, lies: tuple[Lies, ...], since: int) -> None:
        self.on_table[lot] = (lies, since)
        for table, at, along, _ in lies:
            insort(self.tables[table], (at, at + along + GAP, OPEN))

    def _end_stay(self, lot: int, pass_key: str, until: int) -> tuple[Lies, ...]:
        state = self.on_table[lot]
        assert state is not None
        lies, since = state
        self.stayed[(lot, pass_key)] = (lies, since, until)
        self.on_table[lot] = None
        return lies

    def _take_up(self, lot: int, now: int) -> tuple[Lies, ...]:
        return self._end_stay(lot, self.held.pop(lot), now)

    def _off_the_table(self, lot: int, now: int) -> None:
        for table, at, along, _ in self._take_up(lot, now):
            self.tables[table].remove((at, at + along + GAP, OPEN))
        self.freed += 1

    def _leave(self, lot: int, now: int) -> None:
        if lot in self.in_rack:
            self._out_of_the_rack(lot)
        else:
            self._off_the_table(lot, now)

    def _into_the_rack(self, lot: int) -> None:
        self.in_rack.add(lot)
        self.standing += len(self.ways[lot])

    def _out_of_the_rack(self, lot: int) -> None:
        self.in_rack.remove(lot)
        self.standing -= len(self.ways[lot])

    def _lay_as_before(self, lot: int, pass_key: str, now: int) -> bool:
        wished = self.places.get((lot, pass_key))
        if wished is None or not all(self._is_free(*lies) for lies in wished):
            return False
        self._put(lot, wished, now)
        return True

    def _is_free(self, table: int, at: float, along: float, _across: float) -> bool:
        end = at + along + GAP
        return all(b <= at + 1e-9 or a >= end - 1e-9 for a, b, _ in self.tables[table])

    def _lay_anew(self, lot: int, now: int, only: frozenset[int] | None = None) -> bool:
        placed: list[Lies] = []
        for ways in self.ways[lot]:
            found = self._place(ways if only is None else [way for way in ways if way[0] in only])
            if found is None:
                for table, at, along, _ in placed:
                    self.tables[table].remove((at, at + along + GAP, OPEN))
                if only is None:
                    self.no_place[lot] = self.freed
                return False
            placed.append(found)
            insort(self.tables[found[0]], (found[1], found[1] + found[2] + GAP, OPEN))
        self.on_table[lot] = (tuple(placed), now)
        return True

    def _place(self, ways: Ways) -> Lies | None:
        best: Lies | None = None
        least = 1e9
        for table, along, across in ways:
            cursor = 0.0
            needed = along + GAP - 1e-9
            for a, b, _ in [*self.tables[table], (self.lengths[table], 0.0, 0)]:
                rest = a - cursor - needed
                if 0 <= rest < least:
                    if not self.best_fit:
                        return table, cursor, along, across
                    best, least = (table, cursor, along, across), rest
                cursor = max(cursor, b)
        return best
