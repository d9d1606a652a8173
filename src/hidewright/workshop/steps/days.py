"""Plans of a job: kept when they passed the audit, withdrawn when the person wants the one before."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.charts.plan import PlanShown
from hidewright.charts.plan_json import plan_to_data

from ..models.days import Plan
from ..models.jobs import Job
from ..models.runs import Run
from .acts import record, undoes

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
