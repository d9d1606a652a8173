"""Making a plan: the list planner, other orders, the solver, each audited before it replaces what was there."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from hidewright.refusals import Refusal

from .audit import audit
from .bound import Bound, lower_bound
from .cpsat import Outcome, polish
from .listplan import improve, list_plan, worth
from .problem import Problem
from .schedule import Plan

Progress = Callable[[float, str, date | None], None]


class Ending(StrEnum):
    """How planning ended; never flattened."""

    PROVEN = "no plan can end on an earlier day"
    GOOD = "good; an earlier day is not ruled out"
    STOPPED = "stopped; the best so far is kept"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True)
class PlanResult:
    """A plan and what is known about it.

    `finish` and `bound` are days (no plan ends before `bound`); `bottleneck` says in words what holds the work back; `careful` is the day on which the first,
    careful list plan would have ended; `tried` orders and `seconds` spent.
    """

    plan: Plan
    ending: Ending
    finish: date
    bound: date
    bound_words: str
    bottleneck: str
    careful: date
    tried: int
    seconds: float


def plan(
    problem: Problem,
    *,
    seconds: float = 15.0,
    workers: int = 1,
    seed: int = 0,
    on_progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> PlanResult:
    """Plan the work; refuses what is impossible. A stop keeps the best so far."""
    say = on_progress or (lambda fraction, text, finish: None)
    stop = should_stop or (lambda: False)
    began = time.monotonic()
    day = problem.calendar.day
    say(0.02, "Planning as a careful person would", None)
    careful = _checked(problem, list_plan(problem))
    best = careful
    bound = lower_bound(problem)
    say(0.08, "Trying other orders", day(best.finish))
    tried = 0

    def spent() -> float:
        return time.monotonic() - began

    while spent() < 0.6 * seconds and not stop() and day(best.finish) > day(bound.minute) and tried < 4000:
        found = improve(problem, best, rounds=25, seed=seed + tried, should_stop=stop)
        tried += 25
        if worth(found) < worth(best):
            best = _checked(problem, found)
        say(min(0.08 + 0.55 * spent() / (0.6 * seconds), 0.63), f"{tried} orders tried", day(best.finish))
    outcome = Outcome.NOTHING
    left = seconds - spent()
    if left > 1.0 and not stop() and day(best.finish) > day(bound.minute):
        say(0.65, "Handing the plan to the solver", day(best.finish))
        found_plan, outcome = polish(
            problem, best, seconds=left, workers=workers, seed=seed, should_stop=stop
        )
        if found_plan is not None and worth(found_plan) < worth(best) and not audit(problem, found_plan):
            best = found_plan
    ending = _ending(day(best.finish) <= day(bound.minute) or outcome is Outcome.PROVEN, stop())
    say(1.0, "Planned", day(best.finish))
    proven = day(best.finish) if outcome is Outcome.PROVEN else day(bound.minute)
    return PlanResult(
        best,
        ending,
        day(best.finish),
        proven,
        bound.words,
        bottleneck(problem, best, bound),
        day(careful.finish),
        tried,
        spent(),
    )


def _checked(problem: Problem, found: Plan) -> Plan:
    breaches = audit(problem, found)
    if breaches:
        first = breaches[0]
        raise RuntimeError(f"the planner broke its own rule “{first.rule}” at {first.where}: {first.what}")
    return found


def _ending(proven: bool, stopped: bool) -> Ending:
    if proven:
        return Ending.PROVEN
    return Ending.STOPPED if stopped else Ending.GOOD


def bottleneck(problem: Problem, found: Plan, bound: Bound) -> str:
    """What holds the work back, in words: how busy hands, gun and tables are until the last coat, and the longest chain."""
    finish = found.finish
    hands = sum(p.end - p.start for p in found.placements) / max(
        sum(problem.calendar.working_minutes(p, finish) for p in problem.people), 1
    )
    by_batch = problem.by_batch
    span = max(finish - min(s.start for s in found.stays), 1) if found.stays else 1
    lying = sum(by_batch[s.batch].length * (s.end - s.start) for s in found.stays) / (
        sum(t.length for t in problem.tables) * span
    )
    if hands >= 0.85:
        return f"Hands: people are at work {hands:.0%} of their hours. One more pair of hands would end it sooner."
    if lying >= 0.6:
        return (
            f"Tables: {lying:.0%} of their length is taken day and night. One more table would end it sooner."
        )
    if bound.reason == "chain":
        return f"Drying: {bound.words} take until then."
    return f"Nights and drying: hands are at work {hands:.0%} of their hours and {lying:.0%} of the table length is taken."


def promise(problem: Problem, result: PlanResult) -> str:
    """In words: whether the promised day is kept."""
    if problem.promised is None:
        return "No day is promised."
    spare = (problem.promised - result.finish).days
    if spare < 0:
        return f"{-spare} day{'s' if spare < -1 else ''} after the promised day."
    return (
        "On the promised day."
        if spare == 0
        else f"{spare} day{'s' if spare > 1 else ''} before the promised day."
    )


def require(problem: Problem) -> None:
    """Refuse a problem whose promised day cannot be kept by any plan."""
    bound = lower_bound(problem)
    first = problem.calendar.day(bound.minute)
    if problem.promised is not None and first > problem.promised:
        raise Refusal(
            f"No plan can end before {first:%A} {first.day} {first:%B}: {bound.words}.",
            where="promised",
            remedy="Move the promised day, or add hands or table.",
        )
