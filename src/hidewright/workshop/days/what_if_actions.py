"""What would end a plan sooner: changes tried beside it, for the page Days."""

from typing import Any

from django.utils import timezone

from hidewright.planning.change.whatif import CHANGES, UnderWay, relief, relief_words, what_ifs
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.planner import PlanResult
from hidewright.refusals import Refusal
from hidewright.workshop.days.around_actions import job_of, planned_around
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.queries import (
    done_in,
    now_in,
    plan_row,
    problem_of,
    result_in_force,
    schedule_in_force,
)
from hidewright.workshop.days.sharing_queries import others_of, share_under_way
from hidewright.workshop.shop.runs import RunHandle, runner

WHAT_IF_RUN = "days.what_if"


def seconds_for_relief(asked: dict[str, Any]) -> float:
    """Seconds for each thing tried: a tenth of what was asked for, three at most."""
    return min(3.0, float(asked["seconds"]) / 10)


def find_relief(
    handle: RunHandle,
    row: Plan,
    problem: Problem,
    found: PlanResult,
    seconds: float,
    under_way: UnderWay | None = None,
) -> None:
    """Try what might ease the bottleneck of a plan that is kept already, and write down beside it what each would save."""
    if handle.should_stop():
        return
    handle.progress(0.95, "The plan is kept. Trying what would end it sooner")
    eased = relief(problem, found, seconds=seconds, under_way=under_way, should_stop=handle.should_stop)
    tried = [[one.words, one.told, one.days_saved] for one in eased]
    row.facts = {**row.facts, "relief": relief_words(eased), "eased": tried}
    row.save(update_fields=["facts"])


@runner(WHAT_IF_RUN)
def what_if_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    """Plan the job again under each change, for `asked["seconds"]` each; what was found is the run's result."""
    job = job_of(handle)
    row = plan_row(job)
    if row is None or not row.facts:
        raise Refusal("There is no plan to compare with.", remedy="Plan the days first.")
    problem = problem_of(job)
    in_force = result_in_force(row, problem)
    now = now_in(problem)
    under_way = UnderWay(schedule_in_force(row), done_in(job, problem, now), now) if now else None
    told: list[dict[str, Any]] = []
    others = others_of(job)

    def around(changed: Problem) -> PlanResult:
        share = share_under_way(job, row, changed, loose=True)
        return planned_around(handle, asked, share, others, timezone.localtime().replace(tzinfo=None)).result

    def say(number: int, words: str) -> None:
        handle.progress(number / len(CHANGES), f"{words} …", {"text": _best_of(told)} if told else None)

    for found in what_ifs(
        problem,
        in_force,
        seconds=float(asked["seconds"]),
        under_way=under_way,
        planner=around if others else None,
        on_change=say,
        should_stop=handle.should_stop,
    ):
        told.append(
            {
                "words": found.words,
                "finish": found.finish_day.isoformat(),
                "told": found.told,
                "days": found.days_saved,
            }
        )
    return {"plan": row.pk, "finish": row.finish.isoformat(), "rows": told}


def _best_of(told: list[dict[str, Any]]) -> str:
    best = max(told, key=lambda row: row["days"])
    return f"{best['words']}: {best['told']}"
