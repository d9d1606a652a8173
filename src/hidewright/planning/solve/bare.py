"""Planning bare operations, in a room without rules: a careful list plan at once, then better ones while there is time; every one is audited before it counts."""

import logging
import random
import time
from datetime import date, timedelta

from hidewright.refusals import Refusal

from ..plan.audit import audit
from ..plan.schedule import Plan
from ..problem.calendar import DAY
from ..problem.model import Problem
from .bound import Bound, lower_bound
from .dispatch import plan_of
from .explain import bottleneck
from .listplan import careful
from .possible import refuse_impossible
from .result import AuditError, OnProgress, Outcome, PlanResult, Progress, ShouldStop
from .search import Found, Rooms, chance_plans, first_plans, improve, score_of, spread

logger = logging.getLogger(__name__)


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


def plan_bare(
    problem: Problem,
    *,
    seconds: float,
    seed: int,
    workers: int,
    on_progress: OnProgress,
    should_stop: ShouldStop,
) -> PlanResult:
    """Plan bare operations in a room without rules: the list plan, the search and the solver."""
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

SOLVER = 0.8
"""Share of the time that is left then which the solver may take: it goes on when the last day is proven, since hours can be gained; it ends by itself when nothing can."""


def _solve(planner: _Planner, workers: int) -> None:
    from .cpsat import better_order

    if planner.best is None or len(planner.best.room.lots) > SMALL or planner.out_of_time():
        return
    found = better_order(
        planner.best,
        seconds=(planner.seconds - planner.spent) * SOLVER,
        workers=workers,
        seed=planner.rng.randrange(10**6),
        stop=planner.out_of_time,
    )
    if found is not None:
        planner.offer(found, "Solving for the order of the work.")
