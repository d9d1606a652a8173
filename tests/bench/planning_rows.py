"""What the benchmarks of planning share: a row of the table, and working days between two days."""

from datetime import date
from typing import Any

from hidewright.planning.problem.calendar import open_hours
from hidewright.planning.problem.model import Problem


def row(
    name: str, value: Any, unit: str, goal: str = "", holds: bool | None = None, baseline: str = ""
) -> dict[str, Any]:
    """One row of the table."""
    return {
        "stage": "planning",
        "name": name,
        "value": value,
        "unit": unit,
        "goal": goal,
        "holds": holds,
        "baseline": baseline,
    }


def working_days(problem: Problem, first: date, last: date) -> int:
    """Working days after `first` up to `last`."""
    days = {problem.calendar.day(b) for _, b in open_hours(problem.calendar, problem.people)}
    return sum(1 for day in days if first < day <= last)
