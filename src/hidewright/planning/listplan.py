"""The careful list planner: one batch after the other, each at the earliest moment that people, gun and table allow.

A serial schedule generation with gap filling (R. Kolisch, Eur. J. Oper. Res. 90 (1996) 320, for the scheme): the order of the batches is what
can be varied, and `improve` varies it. It gives a full plan in well under a second for some ninety pieces and is always kept as the fallback.
"""

import random
from bisect import bisect_right
from collections.abc import Callable, Sequence

from hidewright.refusals import Refusal

from .problem import Batch, Operation, Problem, Table
from .schedule import Placement, Plan, Stay, ordered

Free = list[tuple[int, int]]
MOST_TRIES = 400


class _Room:
    """What is still free: people's time, guns' time, stretches of table."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.people: dict[str, Free] = {p.key: list(problem.calendar.stretches(p)) for p in problem.people}
        self.guns: list[Free] = [[(0, 10**9)] for _ in range(problem.guns)]
        self.stays: dict[str, list[tuple[int, int, float, float]]] = {t.key: [] for t in problem.tables}

    def copy_time(self) -> tuple[dict[str, Free], list[Free]]:
        return {key: free[:] for key, free in self.people.items()}, [free[:] for free in self.guns]

    def put_back(self, saved: tuple[dict[str, Free], list[Free]]) -> None:
        self.people, self.guns = saved

    def earliest(self, operation: Operation, after: int) -> tuple[int, str, int | None]:
        """The earliest start at or after `after`, by whom, with which gun."""
        while True:
            start, person = min(
                (_fit(free, after, operation.minutes), key) for key, free in self.people.items()
            )
            if start >= 10**9:
                raise Refusal(
                    f"Nobody has {operation.minutes} minutes on end for “{operation.kind}”.",
                    where=operation.key,
                    remedy="Lengthen somebody's working stretch, or take fewer pieces at a time.",
                )
            if not operation.gun:
                return start, person, None
            held, gun = min(
                (_fit(free, start, operation.minutes), number) for number, free in enumerate(self.guns)
            )
            if held == start:
                return start, person, gun
            after = held

    def take(self, operation: Operation, start: int, person: str, gun: int | None) -> None:
        _cut(self.people[person], start, start + operation.minutes)
        if gun is not None:
            _cut(self.guns[gun], start, start + operation.minutes)

    def place(self, batch: Batch, start: int, end: int, fitting: Sequence[Table]) -> tuple[str, float] | None:
        """The first free stretch for the batch from `start` to `end`; the tightest table first."""
        for table in fitting:
            taken = sorted((a, b) for s, e, a, b in self.stays[table.key] if s < end and start < e)
            at = 0.0
            for a, b in taken:
                if a - at >= batch.length - 1e-9:
                    break
                at = max(at, b)
            if table.length - at >= batch.length - 1e-9:
                return table.key, at
        return None

    def next_release(self, after: int, fitting: Sequence[Table]) -> int:
        """The next moment after `after` at which something leaves one of these tables."""
        return min((e for t in fitting for _, e, _, _ in self.stays[t.key] if e > after), default=after + 60)


def _fit(free: Free, after: int, minutes: int) -> int:
    index = max(0, bisect_right(free, (after, 10**9)) - 1)
    for start, end in free[index:]:
        begin = max(start, after)
        if end - begin >= minutes:
            return begin
    return 10**9


def _cut(free: Free, start: int, end: int) -> None:
    index = bisect_right(free, (start, 10**9)) - 1
    a, b = free.pop(index)
    pieces = [(x, y) for x, y in ((a, start), (end, b)) if y > x]
    free[index:index] = pieces


Order = Sequence[Batch]


def by_slack(problem: Problem) -> list[Batch]:
    """The order of a careful person: what needs the longest (both sides, nights) first, then the bulkiest."""

    def longest(batch: Batch) -> tuple[int, int, float]:
        chain = sum(o.minutes + o.dry for o in batch.operations)
        return (-len(batch.passes), -chain, -batch.length)

    return sorted(problem.batches, key=longest)


def list_plan(problem: Problem, order: Order | None = None) -> Plan:
    """A full plan: batches in `order` (default: the careful person's), each as early as it goes. Refuses what cannot be planned."""
    room = _Room(problem)
    placements: list[Placement] = []
    stays: list[Stay] = []
    for batch in order if order is not None else by_slack(problem):
        after = 0
        for pass_key, operations in _passes(batch):
            done, stay, after = _place_pass(room, batch, pass_key, operations, after)
            placements += done
            stays += [stay] if stay else []
    return ordered(placements, stays)


def _passes(batch: Batch) -> list[tuple[str, list[Operation]]]:
    groups: list[tuple[str, list[Operation]]] = []
    for operation in batch.operations:
        key = operation.pass_key if operation.table else ""
        if groups and groups[-1][0] == key:
            groups[-1][1].append(operation)
        else:
            groups.append((key, [operation]))
    return groups


Done = tuple[list[Placement], Stay | None, int]


def _place_pass(room: _Room, batch: Batch, pass_key: str, operations: list[Operation], after: int) -> Done:
    fitting = sorted(room.problem.fitting(batch), key=lambda t: t.length)
    if pass_key and not fitting:
        raise Refusal(
            f"{batch.key} fits no table.",
            where=batch.key,
            remedy=f"Add a table of at least {batch.length:.2f} by {batch.depth:.2f} m.",
        )
    for _ in range(MOST_TRIES):
        saved = room.copy_time()
        placements = _place_operations(room, batch, operations, after)
        start, free_at = placements[0].start, placements[-1].end + operations[-1].dry
        if not pass_key:
            return placements, None, free_at
        spot = room.place(batch, start, free_at, fitting)
        if spot:
            table, at = spot
            room.stays[table].append((start, free_at, at, at + batch.length))
            return placements, Stay(batch.key, pass_key, table, at, start, free_at), free_at
        room.put_back(saved)
        after = max(room.next_release(start, fitting), start + 1)
    raise Refusal(
        f"No stretch of table was found for {batch.key}.",
        where=batch.key,
        remedy="Add a table, or plan over more days.",
    )


def _place_operations(room: _Room, batch: Batch, operations: list[Operation], after: int) -> list[Placement]:
    placements: list[Placement] = []
    index = 0
    moved = 0
    while index < len(operations):
        operation = operations[index]
        start, person, gun = room.earliest(operation, after)
        before = operations[index - 1] if index else None
        if (
            before
            and before.window is not None
            and placements
            and start - placements[-1].end > before.window
            and moved < 50
        ):
            moved += 1
            late = placements.pop()
            _give(room, late)
            after = max(late.start + 1, start - before.window - before.minutes)
            index -= 1
            continue
        room.take(operation, start, person, gun)
        placements.append(
            Placement(operation.key, batch.key, operation.kind, person, start, start + operation.minutes, gun)
        )
        after = start + operation.minutes + operation.dry
        index += 1
    return placements


def _give(room: _Room, placement: Placement) -> None:
    """Give a person's (and gun's) time back, joining what touches within one working stretch."""
    frees = [(room.people[placement.person], room.problem)]
    person = next(p for p in room.problem.people if p.key == placement.person)
    limits = {a for a, _ in room.problem.calendar.stretches(person)}
    for free, _ in frees:
        _join(free, placement.start, placement.end, limits)
    if placement.gun is not None:
        _join(room.guns[placement.gun], placement.start, placement.end, set())


def _join(free: Free, start: int, end: int, limits: set[int]) -> None:
    index = bisect_right(free, (start, 10**9))
    if index < len(free) and free[index][0] == end and end not in limits:
        end = free.pop(index)[1]
    if index and free[index - 1][1] == start and start not in limits:
        start = free.pop(index - 1)[0]
        index -= 1
    free.insert(index, (start, end))


def worth(plan: Plan) -> tuple[int, int]:
    """What is better, smaller first: the finish, then everything early."""
    ends: dict[str, int] = {}
    for placement in plan.placements:
        ends[placement.batch] = max(ends.get(placement.batch, 0), placement.end)
    return plan.finish, sum(ends.values())


def improve(
    problem: Problem,
    plan: Plan,
    *,
    rounds: int,
    seed: int = 0,
    should_stop: Callable[[], bool] | None = None,
    on_better: Callable[[Plan, int], None] | None = None,
) -> Plan:
    """Try other orders: move the batches that end last forward, or swap two; keep what is better."""
    rng = random.Random(seed)
    stop = should_stop or (lambda: False)
    first = {p.batch: p.start for p in reversed(plan.placements)}
    order = sorted(problem.batches, key=lambda b: first[b.key])
    best_order = by_slack(problem)
    best = plan
    for number in range(rounds):
        if stop():
            break
        trial = order[:] if number == 0 else best_order[:]
        if number:
            _vary(trial, best, rng)
        found = list_plan(problem, trial)
        if worth(found) < worth(best):
            best, best_order = found, trial
            if on_better:
                on_better(best, number)
    return best


def _vary(order: list[Batch], plan: Plan, rng: random.Random) -> None:
    ends = {p.batch: p.end for p in plan.placements}
    late = sorted(order, key=lambda b: -ends.get(b.key, 0))[: max(2, len(order) // 4)]
    batch = rng.choice(late if rng.random() < 0.6 else order)
    order.remove(batch)
    order.insert(rng.randrange(len(order) + 1), batch)
    if rng.random() < 0.4 and len(order) > 1:
        i, j = rng.sample(range(len(order)), 2)
        order[i], order[j] = order[j], order[i]
