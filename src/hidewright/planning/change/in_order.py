"""The odds of a plan that is carried out in its own order: what takes longer pushes what comes after it in the same hands, on the same piece, table, gun and air; nothing is dealt out anew.

Much cheaper than running the shop (`solve.odds`): the order is worked out once, and each run goes once through the operations. Nothing begins before the day on which it was planned. Not in it:
windows that are missed, places in the racks, and the fan at night.
"""

import random
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

from ..plan.schedule import Placement, Plan, Stay
from ..plan.sessions import setups
from ..problem.calendar import DAY, Stretch
from ..problem.kinds import COATS
from ..problem.model import GAP, Operation, Problem
from ..solve.odds import Odds, Spreads, chances
from ..solve.runs import Chances
from ..solve.steps import Shop
from .holds import Holds

RUNS = 40
"""How often the days are gone through."""
BEYOND = 45 * DAY
"""min after the end of the plan within which a run must end."""
NEAR = 6
"""How many of the last pieces that lay on a stretch, or coats and dust in an air, are waited for: the earlier ones are over before them."""


@dataclass(slots=True)
class _Node:
    """One operation: whose it is, what must be over before it (`ends`: the work; `dries`: the work and its drying; `wets`: until it gives off no vapour), what getting ready takes, and what others hold."""

    operation: Operation
    piece: int
    person: int
    ready: int
    least: int
    ends: list[int] = field(default_factory=list)
    dries: list[int] = field(default_factory=list)
    wets: list[int] = field(default_factory=list)
    held: tuple[Stretch, ...] = ()
    lies: int = 0


def odds_in_order(
    problem: Problem,
    plan: Plan,
    shop: Shop,
    holds: Holds,
    *,
    now: int = 0,
    done: Collection[str] = (),
    spreads: Spreads | None = None,
    runs: int = RUNS,
    seed: int = 0,
) -> Odds | None:
    """The odds of the last day of `plan`, which does `problem` from minute `now` on beside what the others hold; `done` operations are over. None where more than half of the runs do not end within the hours."""
    nodes, floor = _nodes(problem, plan, shop, holds, now, frozenset(done))
    until = plan.finish + BEYOND
    days = []
    for number in range(runs):
        rng = random.Random(f"{seed} in order {number}")
        finish = _pushed(nodes, shop, chances(shop, spreads or Spreads(), rng, until))
        if finish is not None:
            days.append(problem.calendar.day(max(finish, floor)))
    return Odds(tuple(sorted(days))) if 2 * len(days) > runs else None


def _pushed(nodes: Sequence[_Node], shop: Shop, happens: Chances) -> int | None:
    """The minute at which all is over and dry in one run; None when the hours end before."""
    count, calendar = len(nodes), shop.problem.calendar
    ends, dries, wets = [0] * count, [0] * count, [0] * count
    last: dict[int, int] = {}
    hours = happens.hours
    stops = [[b for _, b in each] for each in hours]
    for number, node in enumerate(nodes):
        at = node.least
        for other in node.ends:
            at = max(at, ends[other] + node.ready)
        for other in node.dries:
            at = max(at, dries[other])
        for other in node.wets:
            at = max(at, wets[other])
        begin = _free(node, at, hours[node.person], stops[node.person])
        if begin is None:
            return None
        operation = node.operation
        end = begin + happens.took(operation, node.person, begin)
        ends[number], wets[number] = end, calendar.dries(end, operation.wet)
        dries[number] = calendar.dries(end, happens.dries(operation.dry, end)) if operation.dry else end
        last[node.piece] = number
    over = max(dries, default=0)
    for piece, number in last.items():
        if happens.fails(piece):
            again = _again(nodes[number], dries[number], shop, hours, stops)
            if again is None:
                return None
            over = max(over, again)
    return over


def _free(node: _Node, at: int, hours: Sequence[Stretch], stops: Sequence[int]) -> int | None:
    """The first minute from `at` on at which the hands are there for all of it, and no other job holds its gun or its place; None when there is none."""
    place = bisect_right(stops, at)
    while place < len(hours):
        start, stop = hours[place]
        begin = max(at, start + node.ready if at <= start else at)
        free = _past(node, begin)
        if free > begin:
            at = free
            place = bisect_right(stops, at)
            continue
        if begin + node.operation.minutes <= stop:
            return begin
        place += 1
    return None


def _past(node: _Node, begin: int) -> int:
    until = begin + max(node.lies, node.operation.minutes)
    for since, end in node.held:
        if since < until and begin < end:
            begin, until = end, end + until - begin
    return begin


def _again(
    node: _Node,
    ready: int,
    shop: Shop,
    hours: Sequence[Sequence[Stretch]],
    stops: Sequence[Sequence[int]],
) -> int | None:
    """When a piece that failed its inspection is over, in the hands that had it last."""
    for step in shop.again(node.piece):
        for operation in step.operations:
            bare = _Node(operation, node.piece, node.person, 0, 0)
            begin = _free(bare, ready, hours[node.person], stops[node.person])
            if begin is None:
                return None
            ready = shop.problem.calendar.dries(begin + operation.minutes, operation.dry)
    return ready


def _nodes(
    problem: Problem, plan: Plan, shop: Shop, holds: Holds, now: int, done: frozenset[str]
) -> tuple[list[_Node], int]:
    """The operations to come in the order of the plan, each with what it waits for, and the minute at which what is done has dried."""
    people = {person.key: number for number, person in enumerate(problem.people)}
    pieces = {job.piece: number for number, job in enumerate(problem.jobs)}
    operations = {o.key: o for _, o in problem.operations()}
    ready = setups(problem, plan)
    placed = sorted(plan.placements, key=lambda p: (p.start, p.end))
    stays = {(s.piece, s.pass_key): s for s in plan.stays}
    waits = _Waits(problem, holds, {p.operation: p for p in placed if p.operation in done})
    nodes: list[_Node] = []
    for p in placed:
        if p.operation in done:
            continue
        day = bisect_right(shop.openings, p.start) - 1
        least = max(now, shop.openings[day] if day >= 0 else 0, operations[p.operation].release)
        node = _Node(
            operations[p.operation], pieces[p.piece], people[p.person], ready[p.operation].minutes, least
        )
        waits.tie(node, p, stays.get((p.piece, p.pass_key)), len(nodes))
        nodes.append(node)
    floor = max((p.dry_until for p in placed if p.operation in done), default=0)
    return nodes, max(floor, now)


class _Waits:
    """What has been met so far in the order of the plan: who waits for what."""

    def __init__(self, problem: Problem, holds: Holds, done: dict[str, Placement]) -> None:
        self.problem, self.holds, self.done = problem, holds, done
        self.hands: dict[str, int] = {}
        self.guns: dict[int, int] = {}
        self.piece: dict[str, int] = {}
        self.over: dict[str, int] = {}
        self.tables: dict[str, list[tuple[Stay, list[int]]]] = defaultdict(list)
        self.lying: dict[tuple[str, str], list[int]] = {}
        self.coats: dict[str, list[int]] = defaultdict(list)
        self.dust: dict[str, list[int]] = defaultdict(list)
        for p in done.values():
            for name in (p.operation, p.piece):
                self.over[name] = max(self.over.get(name, 0), p.dry_until)

    def tie(self, node: _Node, p: Placement, stay: Stay | None, number: int) -> None:
        """Tie one operation to what comes before it, and note it for those after."""
        if p.person in self.hands:
            node.ends.append(self.hands[p.person])
        if p.gun is not None:
            if p.gun in self.guns:
                node.ends.append(self.guns[p.gun])
            uses = self.holds.guns.get(p.gun, ())
            node.held = tuple((s.start, s.end) for s in uses if s.end > node.least)
            self.guns[p.gun] = number
        if p.piece in self.piece:
            node.dries.append(self.piece[p.piece])
        node.least = max(node.least, self.over.get(p.piece, 0))
        for name in node.operation.after:
            node.least = max(node.least, self.over.get(name, 0))
            if name in self.piece:
                node.dries.append(self.piece[name])
        if stay is not None:
            self._lies(node, p, stay, number)
            self._air(node, p, self.problem.rules.air_of(stay.table), number)
        self.hands[p.person] = self.piece[p.piece] = self.piece[p.operation] = number

    def _lies(self, node: _Node, p: Placement, stay: Stay, number: int) -> None:
        key = (p.piece, p.pass_key)
        if key in self.lying:
            self.lying[key].append(number)
            return
        mine = self.lying[key] = [number]
        before = [nodes for other, nodes in self.tables[stay.table] if _same_place(other, stay)]
        node.dries += [nodes[-1] for nodes in before[-NEAR:]]
        theirs = (each for each in self._held_by_others(stay) if each[1] > node.least)
        node.held = (*node.held, *theirs)
        node.lies = stay.until - stay.since
        self.tables[stay.table].append((stay, mine))

    def _held_by_others(self, stay: Stay) -> Iterator[Stretch]:
        for lain in self.holds.tables.get(stay.table, ()):
            if lain.end > stay.at + 1e-9 and stay.at + stay.along + GAP > lain.at + 1e-9:
                yield lain.since, lain.until

    def _air(self, node: _Node, p: Placement, air: str, number: int) -> None:
        if p.kind in self.problem.rules.dusty:
            node.wets += self.coats[air][-NEAR:]
            self.dust[air].append(number)
        if p.kind in COATS:
            node.ends += self.dust[air][-NEAR:]
            self.coats[air].append(number)


def _same_place(one: Stay, other: Stay) -> bool:
    return one.at + one.along + GAP > other.at + 1e-9 and other.at + other.along + GAP > one.at + 1e-9
