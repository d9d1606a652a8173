"""Plans of a job: kept when they passed the audit, withdrawn when the person wants the one before."""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.charts.from_planning import act_words, shown
from hidewright.charts.plan import PlanShown
from hidewright.charts.plan_json import plan_to_data
from hidewright.dates import short_day
from hidewright.planning.change.replan import ReplanResult, redo, replan
from hidewright.planning.change.shared import JobPlan
from hidewright.planning.change.together import Share
from hidewright.planning.change.whatif import UnderWay
from hidewright.planning.plan.audit import due_faults
from hidewright.planning.plan.schedule import plan_to_data as schedule_to_data
from hidewright.planning.problem.model import Kind, Problem
from hidewright.planning.problem.routes import held
from hidewright.planning.solve.explain import slack_per_piece, tight
from hidewright.planning.solve.planner import Outcome, PlanResult, Progress, plan
from hidewright.refusals import Refusal
from hidewright.workshop.days.around_actions import audited, job_of, planned_around
from hidewright.workshop.days.changes import changed_for_all, concerned
from hidewright.workshop.days.models import Due, Hold, Plan, Redo
from hidewright.workshop.days.promise_queries import odds_facts
from hidewright.workshop.days.queries import (
    coats_of,
    done_in,
    now_in,
    plan_row,
    problem_of,
    schedule_in_force,
)
from hidewright.workshop.days.rest_queries import rest_told
from hidewright.workshop.days.sharing_queries import (
    Shared,
    kept_in,
    label_of,
    others_of,
    share_under_way,
)
from hidewright.workshop.days.what_if_actions import find_relief, seconds_for_relief
from hidewright.workshop.pieces.queries import named
from hidewright.workshop.pieces.queries import rows as piece_rows
from hidewright.workshop.pieces.zone_queries import zone_texts
from hidewright.workshop.room.changes import room_told
from hidewright.workshop.shop.models import Job, Run
from hidewright.workshop.shop.runs import RunHandle, runner
from hidewright.workshop.shop.undo import record, undoes

logger = logging.getLogger(__name__)

PLAN_RUN = "days.plan"
REPLAN_RUN = "days.replan"


def keep_plan(
    job: Job,
    planned: PlanShown,
    *,
    run: Run | None = None,
    because: str = "",
    schedule: dict[str, Any] | None = None,
    facts: dict[str, Any] | None = None,
) -> Plan:
    """Keep a plan that passed its audit; it is in force from now on.

    `schedule` is the plan as the planner takes it, `facts` how it came out: outcome, bound_why, bottleneck.
    """
    with transaction.atomic():
        row = Plan.objects.create(
            job=job,
            run=run,
            because=because[:160],
            data={"shown": plan_to_data(planned), "plan": schedule},
            facts=facts or {},
            finish=planned.finish.date(),
            bound=planned.bound,
        )
        told = f"Planned the days: ends {short_day(row.finish)}"
        record(job, told, undo="days.plan", undo_with={"id": row.pk, "withdrawn": True})
        return row


@runner(PLAN_RUN)
def plan_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    """Plan a job's days and keep the best plan that passed its audit.

    `asked["seconds"]` is how long to think; nothing begins before the moment `asked["not_before"]` where one is given.
    """
    job = job_of(handle)
    problem = problem_of(job)
    if "not_before" in asked:
        now = now_in(problem, datetime.fromisoformat(asked["not_before"]))
        problem = replace(problem, jobs=tuple(held(one, (), now) for one in problem.jobs))

    def tell(now: Progress) -> None:
        best = {"text": f"ends {short_day(now.finish)}"} if now.finish else None
        handle.progress(now.fraction, now.words, best)

    others = others_of(job)
    if others:
        return _plan_around(handle, asked, job, problem, others)
    found = plan(
        problem, seconds=float(asked["seconds"]), workers=1, on_progress=tell, should_stop=handle.should_stop
    )
    if found.plan is None or found.outcome is Outcome.IMPOSSIBLE:
        raise found.reason or Refusal("No plan was found.", remedy="Let it think longer.")
    row = keep_plan(
        job,
        shown(problem, found.plan, found.bound_day),
        run=handle.run,
        because=str(asked.get("because", "")),
        schedule=schedule_to_data(found.plan),
        facts=_facts(job, problem, found),
    )
    find_relief(handle, row, problem, found, seconds_for_relief(asked))
    return {"plan": row.pk, "finish": row.finish.isoformat(), "outcome": str(found.outcome)}


def _plan_around(
    handle: RunHandle, asked: dict[str, Any], job: Job, problem: Problem, others: Sequence[Shared]
) -> dict[str, Any]:
    """Plan a job anew around what the plans of the other open jobs hold."""
    share = Share(label_of(job), problem, loose=True)
    moment = datetime.combine(problem.calendar.start, time(0))
    if "not_before" in asked:
        moment = timezone.localtime(datetime.fromisoformat(asked["not_before"])).replace(tzinfo=None)
    made = planned_around(handle, asked, share, others, moment)
    row = keep_made(job, problem, made, others, run=handle.run, because=str(asked.get("because", "")))
    return {"plan": row.pk, "finish": row.finish.isoformat(), "outcome": str(made.result.outcome)}


def keep_made(
    job: Job,
    problem: Problem,
    made: JobPlan,
    others: Sequence[Shared],
    *,
    run: Run | None = None,
    because: str = "",
    facts: dict[str, Any] | None = None,
) -> Plan:
    """Keep a plan that goes around what other jobs hold, with who they are."""
    found = made.result
    assert found.plan is not None
    return keep_plan(
        job,
        shown(problem, found.plan, found.bound_day),
        run=run,
        because=because,
        schedule=schedule_to_data(found.plan),
        facts={
            **_facts(job, made.problem, found),
            "around": [one.label for one in others if one.job.pk != job.pk],
            "again": _again(job, problem, made.again),
            **(facts or {}),
        },
    )


def _facts(job: Job, problem: Problem, found: PlanResult) -> dict[str, Any]:
    assert found.plan is not None
    return {
        "slack": _surveyed(job, slack_per_piece(problem, found.plan)),
        "rest": rest_told(job),
        "zones": zone_texts(job),
        "starts": job.starts.isoformat(),
        "coats": coats_of(job).words,
        "coat_figures": coats_of(job).figures,
        "room": room_told(job),
        "outcome": str(found.outcome),
        "bound_why": found.bound_why,
        "bottleneck": found.bottleneck,
        "tight": [[one.what, one.words] for one in tight(problem, found.plan)],
        "note": found.note,
        "own_days": [f"{fault.where} {fault.words}" for fault in due_faults(problem, found.plan)],
        **odds_facts(found),
    }


def _surveyed(job: Job, slack: dict[str, Any]) -> dict[str, Any]:
    """Of the pieces alone, without what is done once a job or a colour."""
    marks = set(piece_rows(job).values_list("key", flat=True))
    return {key: value for key, value in slack.items() if key in marks}


@runner(REPLAN_RUN)
def replan_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    """Plan what is left from now on: what is done stays, and as little as possible moves; anything may where `asked["keep_days"]` is false."""
    job = job_of(handle)
    row = plan_row(job)
    if row is None or not row.facts:
        raise Refusal("There is no plan to go on from.", remedy="Plan the days first.")
    if row.facts.get("starts") != job.starts.isoformat():
        raise Refusal(
            "The first working day was changed since this plan was made.",
            where=job.name,
            remedy="Plan everything from scratch.",
        )
    problem = problem_of(job)
    now = now_in(problem)
    done = done_in(job, problem, now)
    keep_days = bool(asked.get("keep_days", True))
    for_all = list(changed_for_all(job, row))
    others = others_of(job)
    if others:
        return _replan_around(handle, asked, job, row, problem, others)
    handle.progress(0.1, "Seeing how far the work is")
    with audited(job.name):
        found = replan(
            problem,
            schedule_in_force(row),
            done,
            now,
            seconds=float(asked["seconds"]),
            keep_days=keep_days,
            touched=concerned(job, row),
            should_stop=handle.should_stop,
        )
    new = found.result
    if new.plan is None:
        raise new.reason or Refusal("No plan was found.", remedy="Plan everything from scratch.")
    kept = keep_plan(
        job,
        shown(problem, new.plan, new.bound_day),
        run=handle.run,
        because=str(asked.get("because", "")),
        schedule=schedule_to_data(new.plan),
        facts={
            **_facts(job, problem, new),
            "kept": f"{found.kept:.3f}",
            "untouched": found.untouched,
            "free": found.free,
            "for_all": for_all,
            "all_new": ("yes" if keep_days else "asked") if found.all_new else "",
            "anew": _sooner_anew(found),
            "again": _again(job, problem, found.again),
        },
    )
    under_way = UnderWay(new.plan, done, now)
    find_relief(handle, kept, problem, new, seconds_for_relief(asked), under_way)
    return {"plan": kept.pk, "finish": kept.finish.isoformat(), "moved": len(found.moved), "kept": found.kept}


def _replan_around(
    handle: RunHandle,
    asked: dict[str, Any],
    job: Job,
    row: Plan,
    problem: Problem,
    others: Sequence[Shared],
) -> dict[str, Any]:
    """Plan what is left of a job around what the plans of the other open jobs hold."""
    keep_days = bool(asked.get("keep_days", True))
    share = share_under_way(job, row, problem, touched=frozenset(concerned(job, row)), loose=not keep_days)
    made = planned_around(handle, asked, share, others, timezone.localtime().replace(tzinfo=None))
    untouched, free, kept = kept_in(share, made)
    facts = {
        "kept": f"{kept:.3f}",
        "untouched": untouched,
        "free": free,
        "for_all": list(changed_for_all(job, row)),
        "all_new": "" if keep_days else "asked",
    }
    new = keep_made(
        job, problem, made, others, run=handle.run, because=str(asked.get("because", "")), facts=facts
    )
    moved = len(made.moved)
    return {"plan": new.pk, "finish": new.finish.isoformat(), "moved": moved, "kept": kept}


def _sooner_anew(found: ReplanResult) -> str:
    """The day on which the work could end if everything might move, where that is earlier; else empty."""
    day, finish = found.anew_day, found.result.finish_day
    return short_day(day) if day and finish and day < finish else ""


def _again(job: Job, problem: Problem, keys: Iterable[str]) -> list[str]:
    """What was done but has to be done once more, in words: a wipe-down of yesterday does not serve today's coat."""
    pieces = {o.key: one.piece for one, o in problem.operations()}
    told: dict[str, list[str]] = {}
    for key in dict.fromkeys(keys):
        told.setdefault(act_words(key), []).append(named(job, pieces[key]))
    return [f"{words}: {', '.join(marks)}" for words, marks in told.items()]


def do_again(job: Job, piece: str, kinds: Iterable[str], why: str = "") -> Redo:
    """Send a piece through some steps again, such as after a failed inspection; refuses steps it never had."""
    wanted = [kind for kind in Kind if str(kind) in set(kinds)]
    if not wanted:
        raise Refusal("Which steps again?", where=piece, remedy="Tick at least one.")
    problem = problem_of(job)
    old = next((one for one in problem.jobs if one.piece == piece), None)
    if old is None:
        raise Refusal("There is no such piece.", where=piece, remedy="Choose one of the list.")
    redo(old, tuple(wanted))
    with transaction.atomic():
        row = Redo.objects.create(job=job, piece=piece, kinds=[str(kind) for kind in wanted], why=why[:240])
        told = f"{named(job, piece)} goes again through {', '.join(str(kind) for kind in wanted)}"
        record(job, told, undo="days.redo", undo_with={"id": row.pk})
        return row


def hold(job: Job, piece: str, before: str, until: date, why: str = "") -> Hold:
    """Let a piece wait before a step until a day; can be undone. Refuses a piece or a step that is not there."""
    refuse_too_far(until, piece)
    kinds = [o.kind for one in problem_of(job).jobs if one.piece == piece for o in one.operations]
    if not kinds:
        raise Refusal("There is no such piece.", where=piece, remedy="Choose one of the list.")
    if before not in {str(kind) for kind in kinds}:
        raise Refusal(
            f"“{before}” is no step of this piece.",
            where=piece,
            remedy=f"Its steps are {', '.join(dict.fromkeys(str(kind) for kind in kinds))}.",
        )
    with transaction.atomic():
        row = Hold.objects.create(job=job, piece=piece, before=before, until=until, why=why.strip()[:240])
        told = f"{piece} waits before {before} until {short_day(until)}"
        record(job, told, undo="days.hold", undo_with={"id": row.pk, "lifted": True})
        return row


def lift(row: Hold) -> None:
    """What a piece waited for is there."""
    with transaction.atomic():
        if Hold.objects.filter(pk=row.pk, lifted=None).update(lifted=timezone.now()):
            told = f"{row.piece} waits no longer"
            record(row.job, told, undo="days.hold", undo_with={"id": row.pk, "lifted": False})


def set_due(job: Job, piece: str, day: date, why: str = "") -> Due:
    """Let a piece be done by a day of its own; refuses a piece that is not there and a day by which it cannot be done."""
    if piece not in set(piece_rows(job).values_list("key", flat=True)):
        raise Refusal("There is no such piece.", where=piece, remedy="Choose one of the list.")
    with transaction.atomic():
        old = list(Due.objects.filter(job=job, piece=piece, lifted=None).values_list("pk", flat=True))
        Due.objects.filter(pk__in=old).update(lifted=timezone.now())
        row = Due.objects.create(job=job, piece=piece, day=day, why=why.strip()[:240])
        problem_of(job)
        undo_with = {"lift": [row.pk], "give": old}
        record(job, f"{piece} must be done by {short_day(day)}", undo="days.due", undo_with=undo_with)
        return row


def lift_due(row: Due) -> None:
    """A piece has no day of its own any more."""
    with transaction.atomic():
        if Due.objects.filter(pk=row.pk, lifted=None).update(lifted=timezone.now()):
            undo_with = {"lift": [], "give": [row.pk]}
            told = f"{row.piece} has no day of its own"
            record(row.job, told, undo="days.due", undo_with=undo_with)


@undoes("days.due")
def _due_back(old: dict[str, Any]) -> None:
    Due.objects.filter(pk__in=old["lift"]).update(lifted=timezone.now())
    Due.objects.filter(pk__in=old["give"]).update(lifted=None)


@undoes("days.hold")
def _set_lifted(old: dict[str, Any]) -> None:
    Hold.objects.filter(pk=old["id"]).update(lifted=timezone.now() if old["lifted"] else None)


@undoes("days.redo")
def _withdraw_redo(old: dict[str, Any]) -> None:
    Redo.objects.filter(pk=old["id"]).update(withdrawn=timezone.now())


def withdraw_plan(row: Plan) -> None:
    """Take a plan out of force; the one before it counts again."""
    with transaction.atomic():
        if Plan.objects.filter(pk=row.pk, withdrawn=None).update(withdrawn=timezone.now()):
            told = f"Dropped the plan that ends {short_day(row.finish)}"
            record(row.job, told, undo="days.plan", undo_with={"id": row.pk, "withdrawn": False})


@undoes("days.plan")
def _set_withdrawn(old: dict[str, Any]) -> None:
    Plan.objects.filter(pk=old["id"]).update(withdrawn=timezone.now() if old["withdrawn"] else None)


FURTHEST = timedelta(days=150)
"""The planner reaches 200 days from the first; what waits must still be finished in them."""


def refuse_too_far(until: date, piece: str) -> None:
    """Refuse a wait that no plan can reach beyond."""
    if until > timezone.localdate() + FURTHEST:
        raise Refusal(
            f"It waits {FURTHEST.days} days at most in a plan.",
            where=piece,
            remedy="Take the piece off the list (Survey) and bring it back when it can go on.",
        )
