"""How a plan compares: with the promise, with the best that any plan could do, with the room in the racks."""

from dataclasses import dataclass
from datetime import date, datetime

from hidewright.charts.plan import PlanShown, fullest_rack

from ..models.days import Plan
from ..models.jobs import Job
from .room import rack_holds
from .taps import NOT_STARTED, standings


def tightest(row: Plan, most: int = 12) -> list[tuple[str, float]]:
    """The pieces that may slip least before the promised day, or the plan's last: (piece, working hours), tightest first; below 0 when late."""
    slack = sorted((row.facts.get("slack") or {}).items(), key=lambda each: (each[1], each[0]))
    return [(piece, minutes / 60) for piece, minutes in slack[:most]]


@dataclass(frozen=True, slots=True)
class Rack:
    """The evening on which most pieces stand between two passes, and how many the shop has room for (None: nobody said)."""

    day: date
    pieces: tuple[str, ...]
    holds: int | None

    @property
    def over(self) -> int:
        """How many have no place."""
        return max(0, len(self.pieces) - self.holds) if self.holds is not None else 0


def rack(plan: PlanShown) -> Rack | None:
    """How full the racks get by a plan; None where no piece ever stands in one."""
    found = fullest_rack(plan)
    return Rack(found[0], tuple(found[1]), rack_holds()) if found else None


@dataclass(frozen=True, slots=True)
class Verdict:
    """How the plan compares with the promise and with the best that any plan could do."""

    finish: date
    promised: date | None
    bound: date | None
    done: int
    total: int
    made: datetime

    @property
    def slack(self) -> int | None:
        """Days between the end of the plan and the promised day; negative when late."""
        return (self.promised - self.finish).days if self.promised else None

    @property
    def late_by(self) -> int:
        """Days late, or 0."""
        return max(0, -(self.slack or 0))

    @property
    def proven(self) -> bool:
        """True when no plan can end on an earlier day."""
        return self.bound is not None and self.bound >= self.finish


def verdict(job: Job, row: Plan, plan: PlanShown) -> Verdict:
    """Compare the plan in force with the promise and the bound, and count what is done."""
    stands = standings(job)
    done = sum(stands.get(act.key, NOT_STARTED).done for act in plan.acts)
    return Verdict(row.finish, job.promised, row.bound, done, len(plan.acts), row.made)
