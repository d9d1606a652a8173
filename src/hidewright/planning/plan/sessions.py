"""Sessions: what is planned, printed, done and learned from.

A session is one family of work with one product, by one person, on its pieces, from-to, with the minutes that getting ready takes in it. Sessions are read off a plan: what one person does
one after the other in one family and product on one day of work is one session.
"""

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..problem.calendar import open_hours, shop_days
from ..problem.kinds import product_of
from ..problem.model import Operation, Problem
from .schedule import Placement, Plan


@dataclass(frozen=True, slots=True)
class Session:
    """One session. `family` of work, `product` in the gun or on the cloth (empty: none), `gun` number, `people`, `operations` and `pieces` in order, `tables`, from `start` to `end` minute,
    `setup` min of it that go into changing work, suiting up, mixing and flushing, `hands` min of work on pieces."""

    key: str
    family: str
    product: str
    gun: int | None
    people: tuple[str, ...]
    operations: tuple[str, ...]
    pieces: tuple[str, ...]
    tables: tuple[str, ...]
    start: int
    end: int
    setup: int
    hands: int

    @property
    def minutes(self) -> int:
        """Minutes from getting ready to the last piece."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Setup:
    """What getting ready takes before one operation: `change`, `suit`, `flush` and `load` min, and whether a load is mixed."""

    change: int = 0
    suit: int = 0
    flush: int = 0
    load: int = 0

    @property
    def minutes(self) -> int:
        """All of it."""
        return self.change + self.suit + self.flush + self.load


def setups(problem: Problem, plan: Plan) -> dict[str, Setup]:
    """Operation → what must be got ready before it, in the order in which the plan has the work."""
    rules = problem.rules
    operations = {o.key: (job.colour, o) for job, o in problem.operations()}
    days = [day.opening for day in shop_days(open_hours(problem.calendar, problem.people))]
    family: dict[str, tuple[int, str]] = {}
    suited: dict[str, tuple[int, str]] = {}
    guns: dict[tuple[int, int], str] = {}
    loads: dict[tuple[str, int], int] = {}
    found: dict[str, Setup] = {}
    for p in plan.placements:
        colour, operation = operations[p.operation]
        day = bisect_right(days, p.start)
        product = product_of(p.kind, colour)
        now = (day, rules.family(p.kind))
        before = family.get(p.person)
        change = rules.change if before is not None and before[0] == day and before != now else 0
        family[p.person] = now
        if change and suited.get(p.person) != now:
            suited.pop(p.person, None)
        suit = flush = load = 0
        if operation.gun:
            if suited.get(p.person) != now:
                suit = rules.suit
            suited[p.person] = now
            gun = (p.gun or 0, day)
            if product is not None:
                flush = rules.flush if guns.get(gun, product) != product else 0
                guns[gun] = product
        elif suited.get(p.person, now) != now:
            suited.pop(p.person, None)
        if product is not None and product != "primer":
            life = _life(problem.pot_life, product)
            if loads.get((product, day), -1) < p.end:
                load = rules.load
                loads[(product, day)] = p.start + life
        found[p.operation] = Setup(change, suit, flush, load)
    return found


def _life(lives: Mapping[str, int], product: str) -> int:
    return lives.get(product, lives.get("colour", 10**9) if product.startswith("colour") else 10**9)


def sessions_of(problem: Problem, plan: Plan) -> tuple[Session, ...]:
    """The sessions of a plan in order of time."""
    ready = setups(problem, plan)
    operations = {o.key: (job.colour, o) for job, o in problem.operations()}
    tables = {(s.piece, s.pass_key): s.table for s in plan.stays}
    openings = [day.opening for day in shop_days(open_hours(problem.calendar, problem.people))]
    found: list[Session] = []
    for person in dict.fromkeys(p.person for p in plan.placements):
        mine = [p for p in plan.placements if p.person == person]
        for number, part in enumerate(_parts(problem, mine, operations, openings)):
            setup = sum(ready[p.operation].minutes for p in part)
            products = [product_of(p.kind, operations[p.operation][0]) for p in part]
            found.append(
                Session(
                    key=f"{person}/{number + 1}",
                    family=problem.rules.family(part[0].kind),
                    product=next((each for each in products if each), ""),
                    gun=next((p.gun for p in part if p.gun is not None), None),
                    people=(person,),
                    operations=tuple(p.operation for p in part),
                    pieces=tuple(dict.fromkeys(p.piece for p in part)),
                    tables=tuple(
                        dict.fromkeys(
                            tables[(p.piece, p.pass_key)] for p in part if (p.piece, p.pass_key) in tables
                        )
                    ),
                    start=part[0].start - _lead(part, ready),
                    end=part[-1].end,
                    setup=setup,
                    hands=sum(p.end - p.start for p in part),
                )
            )
    return tuple(sorted(found, key=lambda s: (s.start, s.people)))


def _lead(part: list[Placement], ready: Mapping[str, Setup]) -> int:
    """Minutes before the first operation in which what is needed later is got ready too, as far as no pause between the operations is long enough for it."""
    lead = owed = 0
    last = part[0].start
    for p in part:
        owed += ready[p.operation].minutes - (p.start - last)
        lead, last = max(lead, owed), p.end
    return lead


def _parts(
    problem: Problem,
    placed: list[Placement],
    operations: Mapping[str, tuple[str, Operation]],
    openings: list[int],
) -> Iterator[list[Placement]]:
    """The placements of one person, cut where the family, the product or the day of work changes."""
    part: list[Placement] = []
    mark: tuple[int, str] | None = None
    product = ""
    for p in placed:
        day = bisect_right(openings, p.start)
        now = (day, problem.rules.family(p.kind))
        own = product_of(p.kind, operations[p.operation][0]) or ""
        if part and (now != mark or (own and product and own != product)):
            yield part
            part, product = [], ""
        part.append(p)
        mark, product = now, own or product
    if part:
        yield part
