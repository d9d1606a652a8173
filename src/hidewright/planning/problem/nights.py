"""The air at night: on which evenings the fan goes off, and until when what is coated may give off vapour.

The last to leave switches the fan off, and it stays off until somebody comes again: over a week-end, if need be. So what counts of a night is the day on which its evening falls.
"""

from bisect import bisect_right
from collections.abc import Callable

from .calendar import open_hours, shop_days
from .model import Problem

ALWAYS = 10**9


def air_until(problem: Problem) -> dict[int, int]:
    """Number of each day of work → the minute up to which what is coated on that day may give off vapour.

    That is the closing of the first evening, from that day on, on which the fan goes off; `ALWAYS` where there is none to come. A shift over midnight belongs to the day on which it begins.
    """
    found: dict[int, int] = {}
    until = ALWAYS
    for day in reversed(shop_days(open_hours(problem.calendar, problem.people))):
        if (problem.calendar.start.weekday() + day.number) % 7 in problem.fan_off:
            until = day.closing
        found[day.number] = until
    return found


def air_at(problem: Problem) -> Callable[[int], int]:
    """The same for any minute: until when what is coated at that minute may give off vapour; 0 before the first day."""
    until = air_until(problem)
    days = shop_days(open_hours(problem.calendar, problem.people))
    openings = [day.opening for day in days]

    def at(minute: int) -> int:
        index = bisect_right(openings, minute) - 1
        return until[days[index].number] if index >= 0 else 0

    return at
