"""The air at night: on which evenings the fan goes off, and until when what is coated may give off vapour.

The last to leave switches the fan off, and it stays off until somebody comes again: over a week-end, if need be. So what counts of a night is the day on which its evening falls.
"""

from .calendar import DAY, open_hours
from .model import Problem

ALWAYS = 10**9


def air_until(problem: Problem) -> dict[int, int]:
    """Number of each day with work → the minute up to which what is coated on that day may give off vapour.

    That is the closing of the first evening, from that day on, on which the fan goes off; `ALWAYS` where there is none to come.
    """
    closing = {a // DAY: b for a, b in open_hours(problem.calendar, problem.people)}
    found: dict[int, int] = {}
    until = ALWAYS
    for day in sorted(closing, reverse=True):
        if (problem.calendar.start.weekday() + day) % 7 in problem.fan_off:
            until = closing[day]
        found[day] = until
    return found
