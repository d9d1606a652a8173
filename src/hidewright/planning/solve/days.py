"""Planning days in sessions: first plans at once, random restarts, then hill climbing, the odds at the end; every plan is audited before it counts."""

import logging
import random
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

from hidewright.dates import dated_day
from hidewright.refusals import Refusal

from ..plan.audit import audit
from ..plan.schedule import Plan
from ..plan.sessions import sessions_of
from ..problem.calendar import DAY
from ..problem.model import Problem
from .bound import Bound, lower_bound
from .climb import FIRST, Climber, Tried, order_of
from .explain import bottleneck
from .foreman import Foreman
from .line import IN_ORDER, line_of
from .odds import FEWEST, Odds, Spreads, odds_of
from .policy import LISTS, Policy
from .possible import refuse_impossible
from .result import AuditError, OnProgress, Outcome, PlanResult, Progress, ShouldStop
from .runs import plan_of
from .steps import Shop

logger = logging.getLogger(__name__)

CHANCE = 0.3
"""Share of the time for policies by chance, before the climbing."""
ODDS = 0.2
"""Share of the time that is kept for the odds."""
RUNS = 60
"""How many runs the odds are read off, where there is time."""
BOUND = 2.0
"""Seconds that counting the bound may take at the least, from the start of planning."""
POOL = 4
"""How many of the best runs are climbed from."""
EASY = (FIRST[0], *LISTS[:1], *LISTS[2:3], *LISTS[4:5], *LISTS, *FIRST[1:])
"""What is tried first: a wave a day and the plain lists, so that no plan is worse than what a list would give."""
SIMPLEST = Policy(opens=(0,), ahead=1.0, prep=1.0, span=0.8)
"""The policy that holds least back, for shops in which all others fail."""


class _Days:
    """One planning: keeps the best audited plan and tells how it gets on."""

    def __init__(
        self, problem: Problem, seconds: float, seed: int, on_progress: OnProgress, should_stop: ShouldStop
    ) -> None:
        self.problem, self.seconds, self.tell, self.should_stop = problem, seconds, on_progress, should_stop
        self.began = time.monotonic()
        self.shop = Shop(problem)
        self.climber = Climber(self.shop, random.Random(seed))
        self.stopped = False
        self.best: Tried | None = None
        self.plan: Plan | None = None
        self.pool: list[Tried] = []
        self.bound: Bound | None = None
        self.first_seconds = 0.0
        self.runs = 0
        self.steps: list[tuple[float, date]] = []
        self.faults: list[Exception] = []

    @property
    def spent(self) -> float:
        return time.monotonic() - self.began

    def until(self, share: float) -> Callable[[], bool]:
        """Asks whether that share of the time is over, or somebody wants to stop."""

        def over() -> bool:
            self.stopped = self.stopped or self.should_stop()
            return self.stopped or self.spent >= share * self.seconds

        return over

    @property
    def search_ends(self) -> float:
        """Share of the time after which the odds are counted: the fewest runs must fit in, whatever one takes."""
        needed = 1.3 * FEWEST * self.spent / max(1, self.runs) / max(self.seconds, 1e-6)
        return 1 - min(0.6, max(ODDS, needed))

    def offer(self, tried: Tried | None, words: str) -> None:
        """Take a run when it is better than the best and passes the audit; one that breaks a rule is thrown away and told of."""
        self.runs += 1
        if tried is None:
            return
        self.pool = sorted([*self.pool, tried], key=lambda t: t.score)[:POOL]
        if self.best is None or tried.score < self.best.score:
            plan = plan_of(self.shop, tried.run)
            faults = audit(self.problem, plan)
            if faults:
                self.faults.append(AuditError(faults))
                self.pool.remove(tried)
                return
            self.best, self.plan = tried, plan
            if not self.first_seconds:
                self.first_seconds = self.spent
            self.steps.append((self.spent, self.finish_day))
        self.say(words)

    @property
    def finish_day(self) -> date:
        assert self.plan is not None
        return self.problem.calendar.day(self.plan.finish)

    def say(self, words: str) -> None:
        fraction = min(1.0, self.spent / self.seconds) if self.seconds > 0 else 1.0
        bound = self.problem.calendar.start + timedelta(days=self.bound.day) if self.bound else None
        self.tell(Progress(fraction, words, self.finish_day if self.plan else None, bound))

    def limit(self) -> int | None:
        """A try that goes on for longer is not worth its time."""
        return self.best.run.finish + DAY if self.best else None

    def result(self, odds: Odds | None) -> PlanResult:
        assert self.plan is not None
        promised = self.problem.promised
        bound_day = self.problem.calendar.start + timedelta(days=self.bound.day) if self.bound else None
        proven = bound_day is not None and self.finish_day <= bound_day
        return PlanResult(
            outcome=Outcome.PROVEN if proven else Outcome.STOPPED if self.stopped else Outcome.FEASIBLE,
            plan=self.plan,
            finish=self.plan.finish,
            finish_day=self.finish_day,
            bound_day=bound_day,
            bound_why=self.bound.why if self.bound else "",
            bottleneck=_too_early(self.problem)
            + (bottleneck(self.problem, self.plan, self.bound) if self.bound else ""),
            late_days=max(0, (self.finish_day - promised).days) if promised else None,
            seconds=self.spent,
            first_seconds=self.first_seconds,
            runs=self.runs,
            steps=tuple(self.steps),
            faults=tuple(str(fault) or type(fault).__name__ for fault in self.faults),
            sessions=sessions_of(self.problem, self.plan),
            odds=odds,
        )


def _too_early(problem: Problem) -> str:
    """A sentence where the promised day lies before the first day of work: no plan could keep it."""
    promised = problem.promised
    if promised is None or promised >= problem.calendar.start:
        return ""
    return f"The promised day, {dated_day(promised)}, lies before the first day of work, {dated_day(problem.calendar.start)}. "


def plan_days(
    problem: Problem,
    *,
    seconds: float,
    seed: int = 0,
    spreads: Spreads | None = None,
    on_progress: OnProgress = lambda _: None,
    should_stop: ShouldStop = lambda: False,
) -> PlanResult:
    """Plan the days of a shop whose room has rules; see `planner.plan`."""
    began = time.monotonic()
    try:
        refuse_impossible(problem)
        days = _Days(problem, seconds, seed, on_progress, should_stop)
        _first(days)
    except Refusal as refusal:
        return PlanResult(Outcome.IMPOSSIBLE, reason=refusal, seconds=time.monotonic() - began)
    days.bound = lower_bound(problem, should_stop=lambda: days.spent > max(BOUND, seconds / 3))
    days.say("Counted how early any plan could end.")
    odds = _better(days, spreads or Spreads())
    return days.result(odds)


def _first(days: _Days) -> None:
    """The first plan, whatever it takes; then the other first policies while there is time."""
    over = days.until(CHANCE)
    for policy in dict.fromkeys(EASY):
        tried = days.climber.try_out(policy, days.limit())
        days.offer(tried, "A first plan is there.")
        if days.plan is not None and over():
            return
    if days.plan is not None:
        return
    if days.faults:
        raise days.faults[0]
    # Says itself why the work never ends.
    run = Foreman(days.shop, SIMPLEST).run()
    assert run is not None
    days.offer(Tried(days.climber.score(run), run, SIMPLEST), "A first plan is there.")
    if days.plan is None:
        raise days.faults[0]


def _better(days: _Days, spreads: Spreads) -> Odds | None:
    """All tries after the first; whatever goes wrong in them, the plan that is there stands."""
    try:
        _by_chance(days)
        _climb(days)
        return _choose(days, spreads)
    except Exception as error:
        if days.plan is None:
            raise
        logger.exception("a later try broke down; the plan that passed its audit is kept")
        days.faults.append(error)
        return None


def _by_chance(days: _Days) -> None:
    over = days.until(CHANCE)
    while not over():
        best = days.best
        policy = days.climber.chance(None if best is None else best.policy)
        days.offer(days.climber.try_out(policy, days.limit()), "Trying other ways of running the days.")


def _climb(days: _Days) -> None:
    """Climb from the best runs; each is also squeezed: all of it as early as the rules let it, in its own order."""
    squeezed: set[int] = set()
    while days.pool and not days.until(days.search_ends)():
        tried = days.climber.pick(days.pool)
        if id(tried) not in squeezed:
            squeezed.add(id(tried))
            order = order_of(tried.run, tried.policy)
            days.offer(days.climber.try_out(order, days.limit()), "Drawing the plan together.")
        for better in days.climber.climb(tried, 12, days.until(days.search_ends)):
            days.offer(better, "Moving pieces and openings of the day.")
        days.runs += 12


def _choose(days: _Days, spreads: Spreads) -> Odds | None:
    """The odds of the best plan as it is shown, dealt out anew each morning; and of the others near it, of which the one is taken whose 90 % day is earliest."""
    assert days.best is not None
    over = days.until(1.0)
    days.say("Running the days many times, as things may go.")
    best_odds = _odds(days, days.best, spreads, RUNS)
    if best_odds is None:
        return None
    for tried in days.pool:
        if tried is days.best or over() or tried.score > 1.03 * days.best.score:
            continue
        # Where the time ends meanwhile, these runs end at once: the best has its odds.
        odds = _odds(days, tried, spreads, len(best_odds.days), least=0)
        if odds is None or over():
            continue
        if (odds.sure, odds.likely) < (best_odds.sure, best_odds.likely):
            plan = plan_of(days.shop, tried.run)
            if not audit(days.problem, plan):
                days.best, days.plan, best_odds = tried, plan, odds
    return best_odds


def _odds(days: _Days, tried: Tried, spreads: Spreads, runs: int, *, least: int = FEWEST) -> Odds | None:
    line = line_of(days.problem, days.shop, plan_of(days.shop, tried.run))
    order = replace(IN_ORDER, starts=line.starts)
    return odds_of(
        days.shop, order, spreads, runs=runs, follow=line, least=least, should_stop=days.until(1.0)
    )
