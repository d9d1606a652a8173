"""Planning in layers: a careful list plan at once, then better ones while there is time; every one is audited before it counts.

The outcome is never flattened: proven, good but not proven, stopped, impossible because of something.
"""

import logging
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum

from hidewright.refusals import Refusal

from ..plan.audit import Fault, audit
from ..plan.schedule import Plan
from ..problem.calendar import DAY
from ..problem.model import Problem
from .bound import Bound, lower_bound
from .dispatch import plan_of
from .explain import bottleneck
from .listplan import careful
from .possible import refuse_impossible
from .search import Found, Rooms, chance_plans, first_plans, improve, score_of, spread

logger = logging.getLogger(__name__)


class Outcome(StrEnum):
    """How planning ended."""

    PROVEN = "proven"
    FEASIBLE = "feasible"
    STOPPED = "stopped"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far planning is: `fraction` 0..1, what it does in `words`, the best `finish` day and the `bound` so far."""

    fraction: float
    words: str
    finish: date | None = None
    bound: date | None = None


@dataclass(frozen=True, slots=True)
class PlanResult:
    """What planning came to.

    `plan` passed the audit (None when impossible; `reason` then says why). `finish` minute; `finish_day`; no plan can end before `bound_day`, `bound_why` says why; `bottleneck` in
    words; `late_days` after the promised day, 0 in time, None without a promise; `seconds` spent; `first_seconds` until the first plan; `runs` plans tried;
    `faults` what went wrong in tries that were thrown away, the plan being kept.
    """

    outcome: Outcome
    plan: Plan | None = None
    finish: int = 0
    finish_day: date | None = None
    bound_day: date | None = None
    bound_why: str = ""
    bottleneck: str = ""
    late_days: int | None = None
    reason: Refusal | None = None
    seconds: float = 0.0
    first_seconds: float = 0.0
    runs: int = 0
    steps: tuple[tuple[float, date], ...] = field(default=())
    faults: tuple[str, ...] = ()

    @property
    def note(self) -> str:
        """A plain word on tries that were thrown away; empty when there were none."""
        if not self.faults:
            return ""
        tries = "1 try was" if len(self.faults) == 1 else f"{len(self.faults)} tries were"
        stands = "this plan passed its audit and stands."
        return f"{tries} thrown away for a fault of the planner ({self.faults[0]}); {stands}"

    @property
    def days_from_bound(self) -> int | None:
        """Calendar days between the plan's last day and the bound; 0 when proven."""
        if self.finish_day is None or self.bound_day is None:
            return None
        return (self.finish_day - self.bound_day).days


OnProgress = Callable[[Progress], None]
ShouldStop = Callable[[], bool]


class AuditError(RuntimeError):
    """A plan broke the rules of the shop: a fault of the planner, never shown as a plan."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("; ".join(str(f) for f in faults[:5]))


class _Planner:
    """One planning: keeps the best audited plan and tells how it gets on."""

    def __init__(
        self, problem: Problem, seconds: float, seed: int, on_progress: OnProgress, should_stop: ShouldStop
    ) -> None:
        self.problem = problem
        self.began = time.monotonic()
        self.seconds = seconds
        self.rng = random.Random(seed)
        self.tell = on_progress
        self.should_stop = should_stop
        self.stopped = False
        self.best: Found | None = None
        self.plan: Plan | None = None
        self.bound: Bound | None = None
        self.first_seconds = 0.0
        self.runs = 0
        self.steps: list[tuple[float, date]] = []
        self.faults: list[Exception] = []

    @property
    def spent(self) -> float:
        return time.monotonic() - self.began

    def out_of_time(self) -> bool:
        self.stopped = self.stopped or self.should_stop()
        return self.stopped or self.spent >= self.seconds

    def offer(self, found: Found, words: str) -> None:
        """Take a run when it is better than the best and passes the audit; one that breaks a rule is thrown away and told of."""
        self.runs += 1
        if self.best is not None and found.run.finish >= self.best.run.finish:
            self.say(words)
            return
        plan = plan_of(found.room, found.run)
        faults = audit(self.problem, plan)
        if faults:
            self.faults.append(AuditError(faults))
            return
        self.best, self.plan = found, plan
        if not self.first_seconds:
            self.first_seconds = self.spent
        self.steps.append((self.spent, self.finish_day))
        self.say(words)

    @property
    def finish_day(self) -> date:
        assert self.plan is not None
        return self.problem.calendar.day(self.plan.finish)

    @property
    def bound_day(self) -> date | None:
        return self.problem.calendar.start + timedelta(days=self.bound.day) if self.bound else None

    def limit(self) -> int:
        """A try that goes on for longer is not worth its time: a day after the best."""
        return self.best.run.finish + DAY if self.best else 10**9

    def proven(self) -> bool:
        return self.plan is not None and self.bound is not None and self.finish_day == self.bound_day

    def say(self, words: str) -> None:
        fraction = min(1.0, self.spent / self.seconds) if self.seconds > 0 else 1.0
        self.tell(Progress(fraction, words, self.finish_day if self.plan else None, self.bound_day))

    def result(self) -> PlanResult:
        assert self.plan is not None
        promised = self.problem.promised
        outcome = Outcome.PROVEN if self.proven() else Outcome.STOPPED if self.stopped else Outcome.FEASIBLE
        return PlanResult(
            outcome=outcome,
            plan=self.plan,
            finish=self.plan.finish,
            finish_day=self.finish_day,
            bound_day=self.bound_day,
            bound_why=self.bound.why if self.bound else "",
            bottleneck=bottleneck(self.problem, self.plan, self.bound) if self.bound else "",
            late_days=max(0, (self.finish_day - promised).days) if promised else None,
            seconds=self.spent,
            first_seconds=self.first_seconds,
            runs=self.runs,
            steps=tuple(self.steps),
            faults=tuple(str(fault) or type(fault).__name__ for fault in self.faults),
        )


def plan(
    problem: Problem,
    *,
    seconds: float = 20.0,
    seed: int = 0,
    workers: int = 1,
    on_progress: OnProgress = lambda _: None,
    should_stop: ShouldStop = lambda: False,
) -> PlanResult:
    """Plan the work within `seconds`; the same seed and enough time give the same plan when no solver of several workers is at work.

    A full plan is there after the first second or two and is kept whatever happens after; `should_stop` is asked often, and stopping keeps the best. A later try
    that breaks a rule or breaks down is thrown away and told of in `PlanResult.faults`. Raises `AuditError` when no try at all passed the audit (a fault of
    ours); an impossible problem is an outcome, not an error.
    """
    planner = _Planner(problem, seconds, seed, on_progress, should_stop)
    try:
        refuse_impossible(problem)
        room, run = careful(problem)
    except Refusal as refusal:
        return PlanResult(Outcome.IMPOSSIBLE, reason=refusal, seconds=planner.spent)
    planner.offer(Found(room, run, score_of(room, run)), "A careful list plan is there.")
    planner.bound = lower_bound(problem)
    planner.say("Counted how early any plan could end.")
    _better(planner, workers)
    if planner.plan is None:
        raise planner.faults[0]
    return planner.result()


def _better(planner: _Planner, workers: int) -> None:
    """All tries after the first; whatever goes wrong in them, the plan that is there stands."""
    try:
        founds = _characters(planner)
        _solve(planner, workers)
        _search(planner, founds)
    except Exception as error:
        if planner.plan is None:
            raise
        logger.exception("a later try broke down; the plan that passed its audit is kept")
        planner.faults.append(error)


CHANCE = 0.3
"""Share of the time for characters by chance, before the local search."""
POLISH = 0.2
"""Share of the time after which a plan whose last day is proven is good enough."""


def _characters(planner: _Planner) -> list[Found]:
    rooms = Rooms(planner.problem)
    founds: list[Found] = []
    for found in first_plans(rooms):
        founds.append(found)
        planner.offer(found, "Trying other ways of working.")
        if planner.out_of_time():
            return founds
    for other in chance_plans(rooms, planner.rng, planner.limit):
        planner.runs += 1
        if other is not None:
            founds.append(other)
            planner.offer(other, "Trying other ways of working.")
        done = CHANCE if not planner.proven() else POLISH / 2
        if planner.out_of_time() or planner.spent > done * planner.seconds:
            break
    return founds


def _search(planner: _Planner, founds: list[Found]) -> None:
    pool = spread(founds, 4)
    while pool and not planner.out_of_time():
        if planner.proven() and planner.spent > POLISH * planner.seconds:
            return
        pick = min(range(len(pool)), key=lambda i: planner.rng.random() * 1.5 + i * 0.2)
        pool[pick] = improve(pool[pick], planner.rng, 30, planner.out_of_time)
        planner.runs += 30
        planner.offer(pool[pick], "Making some pieces more urgent, others less.")
        pool.sort(key=lambda f: f.score)


SMALL = 24
"""Up to so many lots the solver is asked first: above it, it found nothing better in the time (docs/science/planning.md)."""


def _solve(planner: _Planner, workers: int) -> None:
    from .cpsat import better_order

    if (
        planner.best is None
        or len(planner.best.room.lots) > SMALL
        or planner.out_of_time()
        or planner.proven()
    ):
        return
    found = better_order(
        planner.best,
        seconds=(planner.seconds - planner.spent) / 2,
        workers=workers,
        seed=planner.rng.randrange(10**6),
        stop=planner.out_of_time,
    )
    if found is not None:
        planner.offer(found, "Solving for the order of the work.")
