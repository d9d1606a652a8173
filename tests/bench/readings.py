"""How a foreman reads a plan: each morning he deals out anew, in the plan's order, what is left of it.

A plan can be read strictly or freely. `best_reading` executes it in every way of `READINGS` and keeps the one that ends first, so that no plan is made worse than a sensible foreman would leave it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .foreman import FOREVER, Foreman, Minutes, StuckError
from .records import DAY, Costs, Record, Shop
from .shop_floor import Person


@dataclass(frozen=True, slots=True)
class Reading:
    """A way of reading. `early` min before its planned minute a work may begin (None: whenever its turn comes); `wait` min for which somebody waits for what comes first in the plan, rather than take what
    comes later; `own` whether today's work stays with the person that the plan names until it is overdue; `calm` whether of today's work the same kind goes on first."""

    name: str
    early: int | None = 0
    wait: int = 0
    own: bool = True
    calm: bool = False


READINGS = (
    Reading("as written"),
    Reading("as written, waits", wait=20),
    Reading("an hour early", early=60, wait=20),
    Reading("in order", early=None, own=False),
    Reading("in order, waits", early=None, wait=45, own=False),
)
REGROUPED = (
    Reading("in order, regrouped", early=None, own=False, calm=True),
    Reading("as written, regrouped", early=30, calm=True),
)
"""A foreman who does not follow the plan's order within a day, but takes together what is alike: a rival of the planner, no way of reading a plan."""
OVERDUE = 15
"""min after its planned start from which anybody may take a work."""


class PlanReader:
    """The rule that follows a plan."""

    def __init__(self, shop: Shop, plan: Record, reading: Reading) -> None:
        self.reading = reading
        self.names = [hand.key for hand in shop.hands]
        works = sorted(plan.works, key=lambda w: (w.start, w.end, w.person))
        self.rank = {w.op.key: n for n, w in enumerate(works)}
        self.start = {w.op.key: w.start for w in works}
        self.person = {w.op.key: w.person for w in works}
        self.places = {(x.piece, x.stay): (x.table, x.at, x.along) for x in plan.lying}

    def morning(self, foreman: Foreman, now: int) -> None:
        """What was planned for earlier days is anybody's; what is planned for today stays with whom the plan names."""
        today = now // DAY
        for piece in foreman.pieces:
            for op in piece.item.ops[piece.next :]:
                if self.start[op.key] // DAY < today:
                    self.person[op.key] = ""

    def order(self, foreman: Foreman, person: Person, now: int) -> Iterable[int]:
        """Pieces in the order of their next work in the plan."""
        name, reading = self.names[person.number], self.reading
        ranked = sorted(foreman.ready, key=lambda n: self.rank[foreman.pieces[n].op.key])
        limit = self._waits_for(foreman, name, now) if reading.wait else FOREVER
        found = (n for n in ranked if self._may(foreman, n, person, name, now, limit))
        if reading.calm and person.kind:
            today = (now // DAY + 1) * DAY
            return sorted(found, key=lambda n: not self._goes_on(foreman, n, person, today))
        return found

    def _goes_on(self, foreman: Foreman, number: int, person: Person, until: int) -> bool:
        op = foreman.pieces[number].op
        return op.kind == person.kind and self.start[op.key] < until

    def _may(self, foreman: Foreman, number: int, person: Person, name: str, now: int, limit: int) -> bool:
        op = foreman.pieces[number].op
        if number in person.owes:
            return True
        if self.rank[op.key] > limit:
            return False
        start = self.start[op.key]
        if self.reading.early is not None and start - self.reading.early > now:
            lead = self._lead(foreman, person, number, now)
            if start - self.reading.early > now + lead:
                foreman.wake(start - self.reading.early - lead)
                return False
        return not self.reading.own or self.person[op.key] in ("", name) or now >= start + OVERDUE

    def _lead(self, foreman: Foreman, person: Person, number: int, now: int) -> int:
        op = foreman.pieces[number].op
        return sum(minutes for _, minutes in foreman.set_ups_for(person, op, 0 if op.gun else None, now))

    def _waits_for(self, foreman: Foreman, name: str, now: int) -> int:
        """The rank beyond which this person takes nothing now, since what comes first will be ready soon."""
        first, ready = FOREVER, FOREVER
        for piece in foreman.pieces:
            if not piece.done and (not self.reading.own or self.person[piece.op.key] in ("", name)):
                rank = self.rank[piece.op.key]
                if rank < first:
                    first, ready = rank, piece.ready
        return first if now < ready <= now + self.reading.wait else FOREVER

    def place(self, foreman: Foreman, piece: int) -> tuple[str, float, float] | None:
        """Where the plan has it."""
        each = foreman.pieces[piece]
        return self.places.get((each.item.piece, each.op.stay))


@dataclass(frozen=True, slots=True)
class Executed:
    """A plan as it was carried out: in which `reading`, what came of it, and when it ended in working `hours` of the shop and on which working `day`."""

    reading: Reading
    record: Record
    hours: float
    day: int


def read(
    shop: Shop, plan: Record, reading: Reading, costs: Costs | None = None, minutes: Minutes | None = None
) -> Executed:
    """Execute a plan in one reading."""
    record = Foreman(shop, PlanReader(shop, plan, reading), costs, minutes).run()
    return Executed(reading, record, shop.hours_until(record.finish), shop.days_until(record.finish))


def best_reading(
    shop: Shop, plan: Record, costs: Costs | None = None, readings: Sequence[Reading] = READINGS
) -> Executed:
    """Execute a plan in every reading; the one that ends first."""
    found = []
    for reading in readings:
        try:
            found.append(read(shop, plan, reading, costs))
        except StuckError:
            continue
    if not found:
        raise StuckError("the plan leads nowhere in any reading")
    return min(found, key=lambda each: each.record.finish)
