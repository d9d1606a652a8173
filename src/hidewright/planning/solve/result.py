"""What planning comes to: how it ended, the plan, its sessions, the odds of its days, and how early any plan could end."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from hidewright.refusals import Refusal

from ..plan.audit import Fault
from ..plan.schedule import Plan
from ..plan.sessions import Session
from .odds import Odds


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
    `sessions` what is hung on the wall; `odds` of its last day (None where nothing was simulated);
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
    sessions: tuple[Session, ...] = ()
    odds: Odds | None = None

    @property
    def note(self) -> str:
        """A plain word on tries that were thrown away; empty when there were none."""
        if not self.faults:
            return ""
        tries = "1 try was" if len(self.faults) == 1 else f"{len(self.faults)} tries were"
        stands = "this plan passed its audit and is kept."
        return f"{tries} thrown away for a fault of the planner ({self.faults[0]}); {stands}"


OnProgress = Callable[[Progress], None]
ShouldStop = Callable[[], bool]


class AuditError(RuntimeError):
    """A plan broke the rules of the shop: a fault of the planner, never shown as a plan."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        self.faults = faults
        super().__init__("; ".join(str(f) for f in faults[:5]))
