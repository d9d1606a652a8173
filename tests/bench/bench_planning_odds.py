"""The planner's odds of the last day against simulated shops: does the likely day hold one time in two, the sure day nine times in ten, and do logged jobs bring the two nearer?

The plan is carried out by the yardstick's foreman, who deals out anew each morning, in shops whose work takes longer or shorter than on paper. Snags, absence and weather are left out on both sides. A few
shops by themselves, too few to judge shares by; more with HIDEWRIGHT_BENCH=full.
"""

import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.adapter import odds_by_order, planned_with_odds, record_of, shop_of
from bench.cases import Case
from bench.planning_rows import row
from bench.readings import Reading, best_reading
from bench.records import DAY, Record, Shop
from bench.simulated_shops import EACH_KIND, EACH_TIME, SHOPS_BIAS, Spread, last_days

FULL = os.environ.get("HIDEWRIGHT_BENCH") == "full"
CASES = (Case(30, 0, 2), Case(30, 1, 1), Case(84, 0, 2))
MORE = (*CASES, Case(30, 2, 3), Case(84, 1, 1), Case(84, 2, 3), Case(84, 3, 2))
SHOPS = 100 if FULL else 30
LOGGED = 5


@dataclass(frozen=True, slots=True)
class Promise:
    """A plan with the working days by which it is done one time in two and nine times in ten, before and after jobs were logged; `chances` 0..1 that the planner itself gives the two days before; `cheap` the two days and their chances by the odds that the plans of several jobs get."""

    shop: Shop
    plan: Record
    reading: Reading
    likely: int
    sure: int
    likely_after: int
    sure_after: int
    chances: tuple[float, float]
    cheap: tuple[int, int, float, float]

    def days(self, spread: Spread) -> list[int]:
        """The working day on which it ends in each simulated shop."""
        ends = last_days(self.shop, self.plan, self.reading, SHOPS, spread)
        return [self.shop.days_until(end) for end in ends]


SECONDS = float(os.environ.get("HIDEWRIGHT_ODDS_SECONDS", "15"))


def promise(case: Case) -> Promise | None:
    """Plan a case and ask for its odds; None where the planner gives none."""
    problem = case.problem()
    plan, before = planned_with_odds(problem, seconds=SECONDS, logged=0)
    _, after = planned_with_odds(problem, seconds=SECONDS, logged=LOGGED)
    cheap = odds_by_order(problem, plan)
    if before is None or after is None or cheap is None:
        return None
    shop, record = shop_of(problem), record_of(problem, plan)
    reading = best_reading(shop, record).reading
    numbers = [
        shop.days_until((day - problem.calendar.start).days * DAY + DAY - 1)
        for day in (*before[:2], *after[:2], *cheap[:2])
    ]
    return Promise(
        shop, record, reading, *numbers[:4], before[2:], (numbers[4], numbers[5], cheap[2], cheap[3])
    )


def share(days: list[list[int]], limits: list[int]) -> float:
    """Share in % of all simulated shops that end by their limit."""
    held = [day <= limit for each, limit in zip(days, limits, strict=True) for day in each]
    return 100 * sum(held) / len(held)


def run() -> list[dict[str, Any]]:
    """Rows for each world, and for what logged jobs do."""
    asked = MORE if FULL else CASES
    made = [p for case in asked if (p := promise(case)) is not None]
    without = len(asked) - len(made)
    none = row("plans without odds", without, f"of {len(asked)}", "0", without == 0, f"{SECONDS:g} s each")
    if not made:
        return [none]
    likely, sure = [p.likely for p in made], [p.sure for p in made]
    rows = []
    for name, spread in (("each time and job", EACH_TIME), ("each kind, too", EACH_KIND)):
        days = [p.days(spread) for p in made]
        told = f"{len(made)} interiors, {SHOPS} shops each; pace .25 of {name}, bias of a job .15"
        fifty, ninety = share(days, likely), share(days, sure)
        judge = FULL and spread is EACH_TIME
        rows += [
            row(f"odds: likely day holds ({name})", fifty, "% of shops", "45 to 55" if spread is EACH_TIME else "", 45 <= fifty <= 55 if judge else None, told),
            row(f"odds: sure day holds ({name})", ninety, "% of shops", "85 to 95" if spread is EACH_TIME else "", 85 <= ninety <= 95 if judge else None, told),
        ]  # fmt: skip
    own = [100 * sum(p.chances[which] for p in made) / len(made) for which in (0, 1)]
    told = "days are whole: the first with a chance of .5 or more has more than .5, so that no forecast in days holds one time in two"
    rows += [
        row("odds: chance that the planner gives its likely day", own[0], "%", "as often as it holds", None, told),
        row("odds: chance that the planner gives its sure day", own[1], "%", "as often as it holds", None, told),
    ]  # fmt: skip
    days = [p.days(EACH_TIME) for p in made]
    for which, name in enumerate(("likely", "sure")):
        held, given = (
            share(days, [p.cheap[which] for p in made]),
            100 * sum(p.cheap[2 + which] for p in made) / len(made),
        )
        told = f"the same plans, carried out in their own order; the chance that these odds give the day: {given:.0f} %"
        rows.append(
            row(f"odds in order: {name} day holds", held, "% of shops", "as often as they say", None, told)
        )
        rows.append(
            row(
                f"odds in order: chance they give the {name} day",
                given,
                "%",
                "as often as it holds",
                None,
                told,
            )
        )
    before = sum(p.sure - p.likely for p in made)
    after = sum(p.sure_after - p.likely_after for p in made)
    days = [p.days(SHOPS_BIAS) for p in made]
    ratio = after / before if before else 0.0
    told = f"sure less likely day, {before} working days in all before, {after} after {LOGGED} logged jobs"
    return [
        none,
        *rows,
        row("odds: distance after five logged jobs", 100 * ratio, "% of before", "at most 50", ratio <= 0.5, told),
        row("odds: likely day holds where the bias is the shop's", share(days, likely), "% of shops", "", None, "not yet logged"),
    ]  # fmt: skip


if __name__ == "__main__":
    for each in run():
        print(
            f"{each['name']}: {each['value']} {each['unit']} ({each['goal']}) {each['holds']} | {each['baseline']}"
        )
