"""Planning: a plan in a second or two, then better ones while there is time; every one is audited before it counts.

In a room with rules the foreman makes the plans and the search turns the settings; bare operations in a room without rules (the published job shops) go to the list plan, the search over
orders and the solver. The outcome is never flattened: proven, good but not proven, stopped, impossible because of something.
"""

from ..problem.model import Problem
from .bare import plan_bare
from .days import plan_days
from .result import AuditError as AuditError
from .result import OnProgress, ShouldStop
from .result import Outcome as Outcome
from .result import PlanResult as PlanResult
from .result import Progress as Progress


def plan(
    problem: Problem,
    *,
    seconds: float = 20.0,
    seed: int = 0,
    workers: int = 1,
    on_progress: OnProgress = lambda _: None,
    should_stop: ShouldStop = lambda: False,
) -> PlanResult:
    """Plan the work within `seconds`.

    A full plan is there after the first second or two and is kept whatever happens after; `should_stop` is asked often, and stopping keeps the best. A later try
    that breaks a rule or breaks down is thrown away and told of in `PlanResult.faults`. Raises `AuditError` when no try at all passed the audit (a fault of
    ours); an impossible problem is an outcome, not an error. `workers` are threads of the solver, which only bare operations use.
    """
    if not problem.in_sessions:
        return plan_bare(
            problem,
            seconds=seconds,
            seed=seed,
            workers=workers,
            on_progress=on_progress,
            should_stop=should_stop,
        )
    return plan_days(problem, seconds=seconds, seed=seed, on_progress=on_progress, should_stop=should_stop)
