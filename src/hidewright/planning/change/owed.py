"""Work of earlier days that nobody said is done: it is not believed to be over. The hands that it needs, and the places where its pieces lie, are kept from now on until somebody says."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import replace

from ..plan.schedule import Placement, Plan
from ..problem.calendar import Stretch, without
from ..problem.model import GAP, Problem
from .holds import Holds, Lain
from .standing import Standing, touch
from .together import merged


def owed(plan: Plan, done: Collection[str], now: int) -> tuple[Placement, ...]:
    """What a plan has before minute `now` that is not `done`."""
    return tuple(p for p in plan.placements if p.end <= now and p.operation not in done)


def with_owed(holds: Holds, problem: Problem, plan: Plan, done: Collection[str], standing: Standing) -> Holds:
    """What the others hold, and besides the first hands from now on that are free for what they owe, whose pieces lie where they were laid until that is over.

    `standing` is how the job's own work stands: whoever is at it goes on to its end first, and where a piece of it lies none of the others' lies any more, whatever nobody tapped.
    """
    now = standing.now
    late = owed(plan, done, now)
    if not late:
        return holds
    minutes: dict[str, int] = defaultdict(int)
    for p in late:
        minutes[p.person] += p.end - p.start
    since = {p.person: p.end for p in standing.placements if p.operation in standing.at_work}
    taken = _hands(holds, problem, minutes, {person: since.get(person, now) for person in minutes})
    over = max((end for stretches in taken.values() for _, end in stretches), default=now)
    hands = dict(holds.hands)
    for person, stretches in taken.items():
        hands[person] = merged((*hands.get(person, ()), *stretches))
    passes = {(p.piece, p.pass_key) for p in late}
    own = [*standing.lying.values(), *(stay for stay in standing.ended if stay.until > now)]
    tables = {table: list(lains) for table, lains in holds.tables.items()}
    for stay in plan.stays:
        if (stay.piece, stay.pass_key) not in passes or any(touch(stay, mine) for mine in own):
            continue
        if over > stay.until:
            lain = Lain(stay.since, over, stay.at, stay.at + stay.along + GAP)
            tables.setdefault(stay.table, []).append(lain)
    lying = {table: tuple(sorted(lains, key=lambda lain: lain.since)) for table, lains in tables.items()}
    return replace(holds, hands=hands, tables=lying)


def _hands(
    holds: Holds, problem: Problem, minutes: Mapping[str, int], since: Mapping[str, int]
) -> dict[str, tuple[Stretch, ...]]:
    """Person → the first stretches from minute `since` of theirs on, free of what is held, that add up to so many minutes; of somebody who does not work here any more nothing."""
    taken: dict[str, tuple[Stretch, ...]] = {}
    for person in problem.people:
        left, found = minutes.get(person.key, 0), []
        if not left:
            continue
        for start, end in without(problem.calendar.stretches(person), holds.hands.get(person.key, ())):
            begin = max(start, since[person.key])
            if left > 0 and end > begin:
                found.append((begin, min(end, begin + left)))
                left -= end - begin
        if found:
            taken[person.key] = tuple(found)
    return taken
