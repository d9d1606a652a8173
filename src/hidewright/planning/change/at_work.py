"""Who is at what when work is planned again: what was begun goes on to its end, and nobody begins it anew.

Only what the plan has in hand now is believed to have begun, and only where all that came before it was tapped: on that piece, and that day in the same hands. Where taps are missing nobody knows.
"""

from collections.abc import Collection, Iterator, Mapping

from ..plan.schedule import Placement, Plan
from ..problem.calendar import DAY
from ..problem.kinds import SPRAYED
from ..problem.model import Operation, Problem
from ..problem.rules import FREE_ROOM

Took = tuple[int, int]
"""(start, end) minutes, as it really was."""


def at_work(problem: Problem, before: Plan, done: Mapping[str, Took], now: int) -> dict[str, Took]:
    """Operation → (start, end) minutes of what somebody is at at minute `now`: start < now < end. At most one a person, and one a gun; none in a room without rules."""
    if problem.rules == FREE_ROOM:
        return {}
    known = {o.key for _, o in problem.operations()}
    following = _following(problem, done)
    people = {person.key: person for person in problem.people}
    tables = {table.key for table in problem.tables}
    found: dict[str, Took] = {}
    guns: set[int | None] = set()
    for p in _in_hand(before, known, done, now):
        operation = following.get(p.operation)
        person = people.get(p.person)
        stay = before.stay_of(p.piece, p.pass_key)
        if operation is None or person is None or not person.can(p.kind) or p.gun in guns:
            continue
        if operation.minutes != p.end - p.start or operation.release > p.start:
            continue
        if operation.window is not None:
            # What follows within a window is done in one go with it, and begun anew with it.
            continue
        if operation.on_table and (stay is None or stay.table not in tables):
            continue
        start = max(p.start, _free_since(problem, before, done, p))
        took = (start, start + operation.minutes)
        there = any(a <= start and took[1] <= b for a, b in problem.hours_of(person))
        if there and start < now < took[1]:
            found[p.operation] = took
            if p.kind in SPRAYED:
                guns.add(p.gun)
    return found


def _following(problem: Problem, done: Collection[str]) -> dict[str, Operation]:
    """The operation that comes next on each piece, by its key."""
    found: dict[str, Operation] = {}
    for job in problem.jobs:
        count = max((n + 1 for n, o in enumerate(job.operations) if o.key in done), default=0)
        if count < len(job.operations):
            operation = job.operations[count]
            found[operation.key] = operation
    return found


def _in_hand(before: Plan, known: Collection[str], done: Collection[str], now: int) -> Iterator[Placement]:
    """What the plan has each person at now, where all that it had for those hands earlier that day is done."""
    by_person: dict[str, list[Placement]] = {}
    for p in before.placements:
        if p.start < now and p.start > now - DAY and p.operation in known and p.operation not in done:
            by_person.setdefault(p.person, []).append(p)
    for placements in by_person.values():
        if len(placements) == 1 and placements[0].end > now:
            yield placements[0]


def _free_since(problem: Problem, before: Plan, done: Mapping[str, Took], p: Placement) -> int:
    """When the hands and the piece were free for this work, by what was tapped."""
    dry = {o.key: o.dry for job in problem.jobs if job.piece == p.piece for o in job.operations}
    mine = [done[q.operation][1] for q in before.placements if q.person == p.person and q.operation in done]
    return max(
        [
            0,
            *mine,
            *(problem.calendar.dries(done[key][1], minutes) for key, minutes in dry.items() if key in done),
        ]
    )
