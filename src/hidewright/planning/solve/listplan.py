"""Plans a person could make with a list: always take what has the least slack, or do everything stage by stage.

`careful` is the fallback that is always kept, and the measure that the search has to beat; `stage_by_stage` is how it is often done.
"""

from collections.abc import Sequence

from ..problem.calendar import DAY, Stretch, stretch_at
from ..problem.model import Kind, Problem
from .dispatch import Habits, Room, Run, Urgency
from .lots import LotRules, Stop, lots_of


def latest_start(open_: Sequence[Stretch], end: int, minutes: int) -> int:
    """The latest minute at which `minutes` of unbroken work can start and end by `end`; before all hours it goes on counting straight down."""
    index = min(stretch_at(open_, end), len(open_) - 1)
    while index >= 0:
        a, b = open_[index]
        last = min(b, end) - minutes
        if last >= a:
            return last
        index -= 1
    return min(end, open_[0][0]) - minutes if open_ else end - minutes


def latest_starts(room: Room, deadline: int) -> list[list[int]]:
    """For each lot and stop, the latest start from which all can still be done by `deadline` (and by the lot's own due day) if nothing else is in the way."""
    found = []
    for lot in room.lots:
        end = min(deadline, lot.due) if lot.due is not None else deadline
        starts: list[int] = []
        for stop in reversed(lot.stops):
            start = latest_start(room.open, end - stop.dry if stop is lot.stops[-1] else end, stop.minutes)
            starts.append(start)
            end = start
            if len(starts) < len(lot.stops):
                end = start - lot.stops[len(lot.stops) - 1 - len(starts)].dry
        found.append(starts[::-1])
    return found


def deadline_of(problem: Problem) -> int:
    """The end of the promised day, or of the fourth week when nothing is promised."""
    if problem.promised is not None and problem.promised > problem.calendar.start:
        return problem.calendar.end_of(problem.promised)
    return 28 * DAY


def least_slack(room: Room) -> Urgency:
    """Urgency: the stop with the earliest latest start goes first."""
    return latest_starts(room, deadline_of(room.problem))


def careful(problem: Problem, *, room: Room | None = None) -> tuple[Room, Run]:
    """The careful list plan: piece by piece, whoever is free takes the work with the least slack."""
    room = room or Room(problem, lots_of(problem, LotRules(pieces=1)))
    run = room.run(least_slack(room))
    assert run is not None
    return room, run


_STAGES = {kind: number for number, kind in enumerate(Kind)}


def _stage(stop: Stop) -> int:
    return _STAGES[Kind(stop.kinds[0])]


def stage_by_stage(problem: Problem) -> tuple[Room, Run]:
    """Every piece through each stage before the next begins; within a stage, one step on all that lies on the tables before the next step."""
    room = Room(problem, lots_of(problem))
    urgency = [[float(_stage(stop)) for stop in lot.stops] for lot in room.lots]
    run = room.run(urgency, Habits(barrier=True))
    assert run is not None
    return room, run
