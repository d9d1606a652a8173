"""The whole shop's days: all open jobs planned anew, by rank; and a copy of a job fitted into the room that is left."""

from collections.abc import Collection
from datetime import date, datetime, time
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.planning.change.shared import plan_anew
from hidewright.planning.change.together import Share
from hidewright.planning.problem.model import Problem
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.days.actions import keep_made
from hidewright.workshop.days.around_actions import audited, planned_around
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.queries import done_in, now_in, plannable, problem_of, problem_of_copy
from hidewright.workshop.days.sharing_queries import (
    Shared,
    busy,
    labels,
    open_jobs,
    share_of,
    shared,
)
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.shop.models import Job, Run
from hidewright.workshop.shop.runs import RunHandle, runner
from hidewright.workshop.shop.undo import record, undoes

ALL_RUN = "days.all"
ROOM_RUN = "days.room"


@runner(ALL_RUN)
def all_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    """Plan what is left of all open jobs anew, by rank, within `asked["seconds"]` in all; kept together, in one act."""
    shares, jobs, left_out = _all_shares()
    if not shares:
        raise Refusal(
            "There is no open job to plan.", remedy=" ".join(left_out) or "Open a job and enter its pieces."
        )
    now = timezone.localtime().replace(tzinfo=None)
    with audited("all open jobs"):
        plans, bound = plan_anew(
            shares,
            now,
            seconds=float(asked["seconds"]),
            on_progress=handle.progress,
            should_stop=handle.should_stop,
        )
    others = shared()
    because = str(asked.get("because", "")) or "all open jobs planned again, by rank"
    with transaction.atomic():
        rows = [
            keep_made(
                jobs[share.key],
                share.problem,
                plans[share.key],
                [one for one in others if one.label in plans],
                run=handle.run,
                because=because,
            )
            for share in shares
        ]
        words = f"Planned {counted(len(rows), 'open job')} again, by rank"
        ids = [row.pk for row in rows]
        record(None, words, undo="days.plans", undo_with={"ids": ids, "withdrawn": True})
    return {
        "plans": ids,
        "finish": max(row.finish for row in rows).isoformat(),
        "bound": bound.isoformat(),
        "left_out": left_out,
    }


def _all_shares() -> tuple[list[Share], dict[str, Job], list[str]]:
    """The open jobs with work left, as they may all move; the jobs by their key; and what was left out, in words.

    A job that has a plan and cannot be planned any more is refused: what it holds is not known.
    """
    listed = open_jobs()
    names, planned = labels(listed), {one.job.pk: one for one in shared()}
    shares: list[Share] = []
    jobs: dict[str, Job] = {}
    left_out: list[str] = []
    for rank, job in enumerate(listed):
        key = names[job.pk]
        try:
            share = _share(job, key, planned.get(job.pk), rank)
        except Refusal as refusal:
            if job.pk in planned:
                raise
            left_out.append(f"{key}: {refusal}")
            continue
        if share is not None:
            shares.append(share)
            jobs[key] = job
    return shares, jobs, left_out


def _share(job: Job, key: str, one: Shared | None, rank: int) -> Share | None:
    """One open job; None without pieces, or when all of it is done."""
    if one is not None:
        share = share_of(one, key=key, rank=rank, loose=True)
        return share if _work_left(share.problem, share.done) else None
    if not plannable(job):
        raise Refusal("Pieces, tables, hours or people are missing.")
    problem = problem_of(job)
    done = done_in(job, problem, now_in(problem))
    return Share(key, problem, rank=rank, loose=True) if _work_left(problem, done) else None


def _work_left(problem: Problem, done: Collection[str]) -> bool:
    return any(operation.key not in done for _, operation in problem.operations())


def withdraw_plans(run: Run) -> int:
    """Take the plans that one run made for all open jobs out of force; those before them count again. Returns how many."""
    with transaction.atomic():
        ids = list(Plan.objects.filter(run=run, withdrawn=None).values_list("pk", flat=True))
        if ids:
            Plan.objects.filter(pk__in=ids).update(withdrawn=timezone.now())
            words = f"Dropped the plans of {counted(len(ids), 'job')}, back to those before"
            record(None, words, undo="days.plans", undo_with={"ids": ids, "withdrawn": False})
    return len(ids)


@undoes("days.plans")
def _set_all_withdrawn(old: dict[str, Any]) -> None:
    Plan.objects.filter(pk__in=old["ids"]).update(withdrawn=timezone.now() if old["withdrawn"] else None)


@runner(ROOM_RUN)
def room_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    """Fit a copy of the job `asked["job"]` into the room that the open jobs leave, from the day `asked["start"]` on; nothing is kept but the answer."""
    job = Job.objects.get(pk=asked["job"])
    start = max(date.fromisoformat(asked["start"]), timezone.localdate())
    share = Share(f"Another like {job.name}", problem_of_copy(job, start), loose=True)
    others = busy()
    moment = max(datetime.combine(start, time(0)), timezone.localtime().replace(tzinfo=None))
    made = planned_around(handle, asked, share, others, moment)
    found = made.result
    assert found.plan is not None
    assert found.finish_day is not None
    assert found.bound_day is not None
    first = min(placement.start for placement in found.plan.placements)
    day = share.problem.calendar.day
    return {
        "name": job.name,
        "pieces": len(pieces(job)),
        "hours": round(share.problem.minutes / 60, 1),
        "begin": day(first).isoformat(),
        "finish": found.finish_day.isoformat(),
        "likely": found.odds.likely.isoformat() if found.odds else "",
        "sure": found.odds.sure.isoformat() if found.odds else "",
        "times": [found.odds.likely_times, found.odds.sure_times] if found.odds else [],
        "bound": found.bound_day.isoformat(),
        "others": [one.label for one in others],
        "plans": sorted(one.row.pk for one in others),
    }
