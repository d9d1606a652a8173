"""Milestones of others: an approval, a delivery, the truck. What waits for them is not begun before their day."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from .chains import runs
from .model import Job, Problem
from .rest import FIRST_COLOUR
from .routes import held


class Before(StrEnum):
    """What of a piece, or of the job, waits."""

    ANYTHING = "whatever comes next"
    COLOUR = "the first colour"
    END = "what follows the coats"
    LOADING = "loading"


@dataclass(frozen=True, slots=True)
class Expected:
    """Something is expected by `until`; `before` it waits for that on these `pieces` (None: on all)."""

    before: Before
    until: date
    pieces: frozenset[str] | None = None


def with_milestones(problem: Problem, expected: Iterable[Expected], done: Collection[str] = ()) -> Problem:
    """The problem with what waits not before its day. `done` are the keys of what is done."""
    jobs = list(problem.jobs)
    for each in expected:
        release = problem.calendar.minutes_of(each.until)
        jobs = [_waiting(job, each, release, done) for job in jobs]
    return replace(problem, jobs=tuple(jobs))


def _waiting(job: Job, each: Expected, release: int, done: Collection[str]) -> Job:
    by_itself = not any(o.on_table for o in job.operations)
    if each.before is Before.LOADING:
        last = job.operations[-1]
        return _held(job, len(job.operations) - 1, release) if by_itself and last.pass_key == "end" else job
    if by_itself or (each.pieces is not None and job.piece not in each.pieces):
        return job
    if each.before is Before.ANYTHING:
        return held(job, done, release)
    at = _first_colour(job) if each.before is Before.COLOUR else _first_end(job)
    return job if at is None else _held(job, at, release)


def _held(job: Job, at: int, release: int) -> Job:
    one = job.operations[at]
    waits = replace(one, release=max(one.release, release))
    return replace(job, operations=(*job.operations[:at], waits, *job.operations[at + 1 :]))


def _first_colour(job: Job) -> int | None:
    at = 0
    for run in runs(job.operations):
        if any(o.kind in FIRST_COLOUR for o in run):
            return at
        at += len(run)
    return None


def _first_end(job: Job) -> int | None:
    return next((n for n, o in enumerate(job.operations) if o.pass_key == "end"), None)
