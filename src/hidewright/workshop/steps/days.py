"""Plans of a job: kept when they passed the audit, withdrawn when the person wants the one before."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.charts.plan import PlanShown
from hidewright.charts.plan_json import plan_to_data
from hidewright.refusals import Refusal

from ..gather.days import problem_of
from ..models.days import Plan
from ..models.jobs import Job
from ..models.runs import Run
from .acts import record, undoes
from .runs import RunHandle, runner

PLAN_RUN = "days.plan"


def keep_plan(
    job: Job,
    shown: PlanShown,
    *,
    run: Run | None = None,
    because: str = "",
    extra: dict[str, Any] | None = None,
) -> Plan:
    """Keep a plan that passed its audit; it is in force from now on. `extra` is stored beside it."""
    with transaction.atomic():
        row = Plan.objects.create(
            job=job,
            run=run,
            because=because[:160],
            data={**(extra or {}), "shown": plan_to_data(shown)},
            finish=shown.finish.date(),
            bound=shown.bound,
        )
        told = f"Planned the days: ends {_day(row.finish)}"
        record(job, told, undo="days.plan", undo_with={"id": row.pk, "withdrawn": True})
        return row


@runner(PLAN_RUN)
def plan_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    """Plan a job's days and keep the best plan that passed its audit; `asked["seconds"]` is how long to think."""
    from hidewright.charts.from_planning import shown
    from hidewright.planning.plan import Outcome, Progress, plan
    from hidewright.planning.schedule import plan_to_data as schedule_to_data

    job = handle.run.job
    if job is None:
        raise Refusal("There is no job to plan.")
    problem = problem_of(job)

    def tell(now: Progress) -> None:
        best = {"text": f"ends {_day(now.finish)}"} if now.finish else None
        handle.progress(now.fraction, now.words, best)

    found = plan(
        problem, seconds=float(asked["seconds"]), workers=1, on_progress=tell, should_stop=handle.should_stop
    )
    if found.plan is None or found.outcome is Outcome.IMPOSSIBLE:
        raise found.reason or Refusal("No plan was found.", remedy="Let it think longer.")
    extra = {
        "plan": schedule_to_data(found.plan),
        "outcome": str(found.outcome),
        "bound_why": found.bound_why,
        "bottleneck": found.bottleneck,
    }
    row = keep_plan(
        job,
        shown(problem, found.plan, found.bound_day),
        run=handle.run,
        because=str(asked.get("because", "")),
        extra=extra,
    )
    return {"plan": row.pk, "finish": row.finish.isoformat(), "outcome": str(found.outcome)}


def withdraw_plan(row: Plan) -> None:
    """Take a plan out of force; the one before it counts again."""
    with transaction.atomic():
        if Plan.objects.filter(pk=row.pk, withdrawn=None).update(withdrawn=timezone.now()):
            told = f"Dropped the plan that ends {_day(row.finish)}"
            record(row.job, told, undo="days.plan", undo_with={"id": row.pk, "withdrawn": False})


@undoes("days.plan")
def _set_withdrawn(old: dict[str, Any]) -> None:
    Plan.objects.filter(pk=old["id"]).update(withdrawn=timezone.now() if old["withdrawn"] else None)


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
