"""One planning of one interior, judged: what it promises on paper, what a foreman makes of it, and how far that is from rivals, bound and the frozen baseline."""

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from hidewright.planning.solve.planner import plan

from .adapter import record_of, shop_of
from .cases import Case
from .counting import Counts, count
from .freeze_planning import frozen
from .least_days import least_days
from .readings import Executed, best_reading
from .records import Record, Shop

RIVALS = ("stage by stage", "careful list", "one rule")


@dataclass(frozen=True, slots=True)
class Judged:
    """A case: the plan on paper and executed, with what it is measured against (working hours and days of the shop)."""

    case: Case
    shop: Shop
    paper: Record
    executed: Executed
    on_paper: Counts
    as_done: Counts
    first_seconds: float
    seconds: float
    bound: int
    old: dict[str, Any]

    @property
    def paper_hours(self) -> float:
        """Working hours on paper."""
        return self.shop.hours_until(self.paper.finish)

    @property
    def earlier_than_old(self) -> float:
        """By which share it ends earlier than the frozen planner's plan executed (below 0: later)."""
        return 1 - self.executed.hours / float(self.old["executed"]["hours"])

    @property
    def best_rival(self) -> tuple[str, float]:
        """The rival that ends first, and its hours."""
        rivals = {name: float(self.old["rivals"][name]["hours"]) for name in RIVALS}
        name = min(rivals, key=lambda each: rivals[each])
        return name, rivals[name]

    @property
    def earlier_than_rival(self) -> float:
        """By which share it ends earlier than the best rival (below 0: later)."""
        return 1 - self.executed.hours / self.best_rival[1]

    @property
    def same_work(self) -> bool:
        """True when the interior holds as many minutes of hands as when the baseline was frozen."""
        hands = sum(op.minutes for item in self.shop.items for op in item.ops)
        return hands == int(self.old["hands"])

    def line(self) -> dict[str, Any]:
        """All numbers of the case, plain."""
        return {
            "case": self.case.key,
            "paper hours": round(self.paper_hours, 1),
            "paper day": self.shop.days_until(self.paper.finish),
            "executed hours": round(self.executed.hours, 1),
            "executed day": self.executed.day,
            "reading": self.executed.reading.name,
            "bound day": self.bound,
            "old executed": self.old["executed"],
            "old regrouped": self.old["regrouped"],
            "rivals": self.old["rivals"],
            "earlier than old": round(self.earlier_than_old, 3),
            "earlier than best rival": round(self.earlier_than_rival, 3),
            "first seconds": round(self.first_seconds, 2),
            "seconds": round(self.seconds, 1),
            "same work": self.same_work,
            "on paper": {k: round(v, 3) for k, v in asdict(self.on_paper).items()},
            "as done": {k: round(v, 3) for k, v in asdict(self.as_done).items()},
        }


def judged(case: Case, told: Callable[[str], None] = lambda _: None) -> Judged:
    """Plan a case and judge the plan."""
    problem = case.problem()
    began = time.perf_counter()
    result = plan(problem, seconds=case.seconds)
    seconds = time.perf_counter() - began
    assert result.plan is not None, result.reason
    shop, paper = shop_of(problem), record_of(problem, result.plan)
    executed = best_reading(shop, paper)
    found = Judged(
        case,
        shop,
        paper,
        executed,
        count(shop, paper),
        count(shop, executed.record),
        result.first_seconds,
        seconds,
        least_days(shop).day,
        frozen()[case.key],
    )
    told(f"{case.key}: {found.line()}")
    return found
