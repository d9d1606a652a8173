"""What no plan can do: found before planning, with the rule, the piece, and the smallest change that would make it possible."""

from collections.abc import Iterator

from hidewright.refusals import Refusal, Refusals

from .bound import earliest_finish
from .calendar import open_hours
from .chains import run_minutes, runs
from .problem import GAP, MIXED, Job, Problem

MOST_NAMED = 8


def refuse_impossible(problem: Problem) -> None:
    """Raise `Refusals` with everything that makes the problem impossible; returns when nothing was found."""
    faults = [*_tables(problem), *_hands(problem), *_air(problem), *_pots(problem), *_dues(problem)]
    if faults:
        more = len(faults) - MOST_NAMED
        if more > 0:
            faults = [*faults[:MOST_NAMED], Refusal(f"… and {more} more of the kind.")]
        raise Refusals(faults, what="No plan can do this.")


def _tables(problem: Problem) -> Iterator[Refusal]:
    for job in problem.jobs:
        if any(o.on_table for o in job.operations) and not any(job.on(t) for t in problem.tables):
            yield _no_table(problem, job)


def _no_table(problem: Problem, job: Job) -> Refusal:
    allowed = [t for t in problem.tables if job.material not in t.not_for]
    length, depth = max(job.length, job.depth), min(job.length, job.depth)
    rule = f"It takes {length:.2f} by {depth:.2f} m with {GAP * 100:.0f} cm kept free, and "
    if not allowed:
        return Refusal(
            f"No table may carry {job.material}.",
            where=job.piece,
            remedy=f"Allow {job.material} on one table (a soft cover), or add such a table.",
        )
    best = max(allowed, key=lambda t: (min(t.depth - depth, 0), min(t.length - length - GAP, 0)))
    needs = []
    if best.length < length + GAP:
        needs.append(f"{length + GAP - best.length:.2f} m longer")
    if best.depth < depth:
        needs.append(f"{depth - best.depth:.2f} m deeper")
    return Refusal(
        f"{rule}fits no table.",
        where=job.piece,
        remedy=f"The nearest is {best.name} ({best.length:.2f} by {best.depth:.2f} m): it must be {' and '.join(needs)}.",
    )


def _hands(problem: Problem) -> Iterator[Refusal]:
    for job in problem.jobs:
        for run in runs(job.operations):
            able = [p for p in problem.people if all(p.can(o.kind) for o in run)]
            words = " and ".join(str(o.kind) for o in run)
            if not able:
                yield Refusal(
                    f"Nobody does “{words}”.",
                    where=job.piece,
                    remedy=f"Give one person the skills for {words}.",
                )
                continue
            longest = max(p.week.longest for p in able)
            if run_minutes(run) > longest:
                yield Refusal(
                    f"“{words}” takes {run_minutes(run)} min without a break; the longest stretch of work is {longest} min.",
                    where=job.piece,
                    remedy=f"Make one stretch {run_minutes(run) - longest} min longer, or enter the piece as two.",
                )


def _air(problem: Problem) -> Iterator[Refusal]:
    if not problem.fan_off:
        return
    opens: dict[int, list[int]] = {}
    for start, end in open_hours(problem.calendar, problem.people)[:60]:
        opens.setdefault(start // 1440, []).extend((start, end))
    longest = max(max(v) - min(v) for v in opens.values())
    for job in problem.jobs:
        for run in runs(job.operations):
            needed = run_minutes(run) + run[-1].wet
            if needed > longest:
                yield Refusal(
                    f"“{run[-1].kind}” gives off vapour for {run[-1].wet} min, and the fan is off at night: it does not fit a day of {longest} min.",
                    where=job.piece,
                    remedy=f"Leave the fan on, or work {needed - longest} min longer on one day.",
                )


def _pots(problem: Problem) -> Iterator[Refusal]:
    for job, operation in problem.operations():
        life = problem.pot_life.get(MIXED.get(operation.kind, ""))
        if life is not None and operation.minutes > life:
            yield Refusal(
                f"“{operation.kind}” takes {operation.minutes} min, longer than the pot life of {life} min.",
                where=job.piece,
                remedy=f"Enter the piece as {-(-operation.minutes // life)} pieces, or use a mix that lasts {operation.minutes} min.",
            )


def _dues(problem: Problem) -> Iterator[Refusal]:
    for job in problem.jobs:
        if job.due is None:
            continue
        earliest = earliest_finish(problem, job)
        if earliest is None or problem.calendar.day(earliest) > job.due:
            first = f"{problem.calendar.day(earliest):%a %d %b}" if earliest is not None else "any day"
            yield Refusal(
                f"It is due on {job.due:%a %d %b}, but alone in the shop it cannot be done before {first}.",
                where=job.piece,
                remedy=f"Make it due on {first}, or leave steps out.",
            )
