"""The planner against a careful list plan, against stage by stage, and against its own bound, on seeded interiors. Every plan is audited."""

import resource
import sys
from datetime import date
from pathlib import Path
from statistics import mean
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.interiors import interior
from hidewright.planning.plan.audit import audit
from hidewright.planning.problem.calendar import open_hours
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.listplan import careful, stage_by_stage
from hidewright.planning.solve.planner import PlanResult, plan

CASES = [(count, seed, people) for count in (30, 84, 180) for seed in (0, 1, 2) for people in (1, 2, 3)]
SECONDS = {30: 8.0, 84: 15.0, 180: 20.0, 400: 30.0}
STAGE = "planning"


def hours(problem: Problem, minute: int) -> float:
    """Working hours of the shop before a minute."""
    return sum(min(b, minute) - a for a, b in open_hours(problem.calendar, problem.people) if a < minute) / 60


def working_days(problem: Problem, first: date, last: date) -> int:
    """Working days after `first` up to `last`."""
    days = {problem.calendar.day(b) for _, b in open_hours(problem.calendar, problem.people)}
    return sum(1 for day in days if first < day <= last)


def row(
    name: str, value: Any, unit: str, goal: str = "", holds: bool | None = None, baseline: str = ""
) -> dict[str, Any]:
    """One row of the table."""
    return {
        "stage": STAGE,
        "name": name,
        "value": value,
        "unit": unit,
        "goal": goal,
        "holds": holds,
        "baseline": baseline,
    }


def checked(problem: Problem, result: PlanResult) -> PlanResult:
    """The result, its plan audited once more here."""
    assert result.plan is not None
    assert audit(problem, result.plan) == ()
    return result


def run() -> list[dict[str, Any]]:
    """All rows."""
    cases = [(case, interior(*case)) for case in CASES]
    careful_gain, stage_gain, later, near = [], [], 0, []
    first: dict[int, list[float]] = {}
    for (count, _, _), problem in cases:
        result = checked(problem, plan(problem, seconds=SECONDS[count]))
        assert result.finish_day is not None
        assert result.bound_day is not None
        ours = hours(problem, result.finish)
        listed, staged = (
            hours(problem, careful(problem)[1].finish),
            hours(problem, stage_by_stage(problem)[1].finish),
        )
        careful_gain.append(100 * (1 - ours / listed))
        stage_gain.append(100 * (1 - ours / staged))
        later += ours > listed + 1e-9
        near.append(working_days(problem, result.bound_day, result.finish_day))
        first.setdefault(count, []).append(result.first_seconds)
    share = 100 * mean(d <= 1 for d in near)
    many = interior(400, 0, 2)
    result = checked(many, plan(many, seconds=SECONDS[400]))
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    told = f"{len(cases)} seeded cases of 30, 84 and 180 pieces, 1-3 people, {SECONDS[30]:g}-{SECONDS[180]:g} s each"
    return [
        row("finish later than the careful list plan", later, "cases", "0", later == 0, told),
        row("earlier than the careful list plan, mean", mean(careful_gain), "% of working hours", "at least 5", mean(careful_gain) >= 5, "always the piece with the least slack"),
        row("earlier than stage by stage, mean", mean(stage_gain), "% of working hours", "at least 12", mean(stage_gain) >= 12, "every piece through each stage before the next"),
        row("last day within one working day of the bound", share, "% of cases", "at least 90", share >= 90, told),
        row("last day proven", 100 * mean(d == 0 for d in near), "% of cases", "", None, told),
        row("first full plan, 84 pieces, slowest", max(first[84]), "s", "at most 2", max(first[84]) <= 2, "audited"),
        row("first full plan, 400 pieces", result.first_seconds, "s", "at most 15", result.first_seconds <= 15, "audited"),
        row("memory, greatest", memory, "GiB", "at most 1", memory <= 1, "whole benchmark"),
    ]  # fmt: skip


if __name__ == "__main__":
    for each in run():
        print(each)
