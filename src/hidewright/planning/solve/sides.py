"""What a list looks at on a piece: how long each side takes, in which order its sides come, and when it must be begun at the latest."""

from collections.abc import Sequence

from ..problem.calendar import DAY
from .listplan import latest_start
from .steps import Group, Step

LONG = 28 * DAY
"""Before this minute all is to be done, where slack is counted."""


def spans_of(steps: Sequence[Step]) -> list[int]:
    """For each step, minutes from its start to the end of the last work of its pass, if nothing came between."""
    spans: list[int] = []
    span = 0
    for step, after in zip(reversed(steps), [None, *reversed(steps)], strict=False):
        other = after is None or after.pass_key != step.pass_key
        span = step.total if other else step.total + step.dry + span
        spans.append(span)
    return spans[::-1]


def passes_of(steps: Sequence[Step], groups: Sequence[Group]) -> list[int]:
    """For each step: 0 for preparing, 1, 2, … for the sides that are coated, 99 for what follows and for what never lies on a table: no stage waits for it."""
    if not any(step.opens or step.closes for step in steps):
        return [99] * len(steps)
    found: list[int] = []
    sides: list[str] = []
    for step in steps:
        if groups[step.group].end:
            found.append(99)
        elif groups[step.group].level is None:
            found.append(0)
        else:
            if step.pass_key not in sides:
                sides.append(step.pass_key)
            found.append(1 + sides.index(step.pass_key))
    return found


def latest_of(steps: Sequence[Step], open_: Sequence[tuple[int, int]]) -> list[int]:
    """For each step, the latest start from which all can still be done in four weeks."""
    found: list[int] = []
    limit = LONG
    for step in reversed(steps):
        limit = latest_start(open_, limit - step.dry, step.total)
        found.append(limit)
    return found[::-1]
