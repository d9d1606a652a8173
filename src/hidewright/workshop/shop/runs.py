"""Long computations: asking for one, reporting its progress, stopping it.

A stage registers a runner with `@runner("colour.match")`; it is called in the worker as `function(handle, asked)` and
returns a JSON-able dictionary, which becomes the run's result. It reports through `handle.progress(...)` and looks at
`handle.should_stop()` to end early with the best so far. A `Refusal` ends the run as refused, in words.
"""

import importlib
import logging
import os
import pkgutil
import socket
import time
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django_tasks import task
from django_tasks_db import DatabaseBackend

from hidewright.refusals import Refusal
from hidewright.workshop.shop.models import LIVE, Job, Run, RunState

logger = logging.getLogger(__name__)

WRITE_EVERY = 0.4
"""Seconds between two progress writes: often enough to watch, seldom enough to spare the database."""

LEASE = timedelta(seconds=30)
"""A run whose worker was not heard for so long is lost."""


Watch = Callable[[float, str], None]
"""Told of every progress report: fraction (0..1) and words."""


class RunHandle:
    """What a runner sees of its run."""

    def __init__(self, run: Run, watch: Watch | None = None) -> None:
        self.run = run
        self._watch = watch
        self._last = 0.0
        self._stop = False

    def progress(self, fraction: float, message: str = "", best: Any = None) -> None:
        """Report progress (0..1), a message for a person, and the best so far (JSON-able)."""
        if self._watch:
            self._watch(float(fraction), message)
        now = time.monotonic()
        if now - self._last < WRITE_EVERY:
            return
        self._last = now
        changed: dict[str, Any] = {"fraction": float(fraction), "message": message[:240]}
        if best is not None:
            changed["best"] = best
        Run.objects.filter(pk=self.run.pk).update(**changed)
        self._stop = bool(Run.objects.values_list("stop_asked", flat=True).get(pk=self.run.pk))

    def should_stop(self) -> bool:
        """True once a person asked to stop."""
        now = time.monotonic()
        if not self._stop and now - self._last >= WRITE_EVERY:
            self._last = now
            self._stop = bool(Run.objects.values_list("stop_asked", flat=True).get(pk=self.run.pk))
        return self._stop


Runner = Callable[[RunHandle, dict[str, Any]], dict[str, Any]]
_RUNNERS: dict[str, Runner] = {}
_AGAIN: set[str] = set()


def runner(kind: str, *, begins_again: bool = False) -> Callable[[Runner], Runner]:
    """Register the function that carries out runs of `kind`; one that `begins_again` is asked for anew by itself where its worker was lost."""

    def register(function: Runner) -> Runner:
        _RUNNERS[kind] = function
        if begins_again:
            _AGAIN.add(kind)
        return function

    return register


def start_run(job: Job | None, kind: str, asked: dict[str, Any]) -> Run:
    """Ask for a long computation; the same kind already at work for this job is asked to stop first.

    Its place in the worker's queue is a row of the same transaction: no run waits for ever because a plug was pulled.
    """
    with transaction.atomic():
        Run.objects.filter(job=job, kind=kind, state__in=LIVE).update(stop_asked=True)
        run = Run.objects.create(job=job, kind=kind, asked=asked)
        if isinstance(perform.get_backend(), DatabaseBackend):
            perform.enqueue(run.pk)
        else:
            transaction.on_commit(lambda: perform.enqueue(run.pk))
        return run


def stop_run(run_id: int) -> bool:
    """Ask a run to stop with its best so far; True if it was still live."""
    return Run.objects.filter(pk=run_id, state__in=LIVE).update(stop_asked=True) == 1


def this_worker() -> str:
    """The name of this process among all workers on the database."""
    return f"{socket.gethostname()}:{os.getpid()}"[:120]


def still_here() -> int:
    """Renew the lease of what this process is at; returns how many runs that are."""
    return Run.objects.filter(state=RunState.RUNNING, worker=this_worker()).update(heard=timezone.now())


def mark_lost(*, all_of_them: bool = False) -> int:
    """Runs whose worker was not heard for `LEASE` are lost, or all that seem at work where the caller knows that nobody is; returns how many.

    What can begin again by itself is asked for anew: nobody waits for a run that nobody carries out.
    """
    runs = Run.objects.filter(state=RunState.RUNNING).exclude(worker=this_worker())
    if not all_of_them:
        runs = runs.filter(Q(heard=None) | Q(heard__lt=timezone.now() - LEASE))
    lost = 0
    for run in runs.select_related("job"):
        lost += (marked := _lost(run))
        if marked:
            load_runners()
        if marked and run.kind in _AGAIN:
            start_run(run.job, run.kind, run.asked)
    return lost


def _lost(run: Run) -> int:
    """Mark one run as lost; 0 where it ended or was marked meanwhile."""
    return Run.objects.filter(pk=run.pk, state=RunState.RUNNING).update(
        state=RunState.LOST,
        finished=timezone.now(),
        message="The server stopped while this was at work. Start it again.",
    )


def load_runners() -> None:
    """Import every step module, so that all runners (and undoers) are registered."""
    package = importlib.import_module("hidewright.workshop")
    for folder in pkgutil.iter_modules(package.__path__):
        if folder.ispkg and folder.name not in ("migrations", "management", "templatetags"):
            inside = importlib.import_module(f"{package.__name__}.{folder.name}")
            for module in pkgutil.iter_modules(inside.__path__):
                importlib.import_module(f"{inside.__name__}.{module.name}")


def carry_out(run_id: int, watch: Watch | None = None) -> None:
    """Carry out one waiting run here and now, and record how it ended; `watch` is told of its progress."""
    load_runners()
    claimed = Run.objects.filter(pk=run_id, state=RunState.WAITING).update(
        state=RunState.RUNNING, started=timezone.now(), heard=timezone.now(), worker=this_worker()
    )
    if claimed != 1:
        return
    run = Run.objects.get(pk=run_id)
    handle = RunHandle(run, watch)
    try:
        ended: dict[str, Any] = {"result": _RUNNERS[run.kind](handle, run.asked), "fraction": 1.0}
        stopped = Run.objects.values_list("stop_asked", flat=True).get(pk=run_id)
        ended["state"] = RunState.STOPPED if stopped else RunState.DONE
    except Refusal as refusal:
        ended = {"state": RunState.REFUSED, "error": str(refusal)}
    except Exception as error:
        logger.exception("run %s (%s) failed", run_id, run.kind)
        ended = {"state": RunState.FAILED, "error": f"{type(error).__name__}: {error}"}
    # One that was given up as lost meanwhile stays lost: somebody may have started it again.
    Run.objects.filter(pk=run_id, state=RunState.RUNNING).update(finished=timezone.now(), **ended)


def run_here(job: Job | None, kind: str, asked: dict[str, Any], watch: Watch | None = None) -> Run:
    """Carry out a long computation in this process, for commands; returns the ended run, refuses what it refused."""
    run = Run.objects.create(job=job, kind=kind, asked=asked)
    carry_out(run.pk, watch)
    run.refresh_from_db()
    if run.state in (RunState.REFUSED, RunState.FAILED):
        raise Refusal(run.error, where=kind)
    return run


@task()
def perform(run_id: int) -> None:
    """The task that the worker takes from the queue."""
    carry_out(run_id)
