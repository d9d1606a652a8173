"""Freeze what the planner of 28 November 2026 comes to when its plans are carried out, by case, in frozen_planning.json.

    python tests/bench/freeze_planning.py

Cases and lists that are in the file stay as they are; only what is missing is measured.
The planner measured is that of commit b552d22 (moved into folders, and otherwise the same, at 540aa85). Its plans are for hands alone: no set-up is in them. To make the file again, check out
the commit that added it and run this script there; later planners are measured against the file, never it against them. Each case holds the minutes of hands in it, so that a change of the interiors
is noticed.
"""

import json
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.adapter import record_of, shop_of
from bench.cases import FULL, Case
from bench.counting import count
from bench.readings import READINGS, REGROUPED, best_reading
from bench.records import Shop
from bench.rivals import CAREFUL, ONE_RULE, STAGE_BY_STAGE, WAVES, Habit, best_rival
from hidewright.planning.plan.schedule import Plan, plan_from_data, plan_to_data
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.planner import plan

ROOT = Path(__file__).resolve().parents[2]
LISTS = {"stage by stage": STAGE_BY_STAGE, "careful list": CAREFUL, "one rule": ONE_RULE, "waves": WAVES}
MADE = "tests/bench/freeze_planning.py, planner of commit b552d22; seconds a case as in cases.Case.seconds"
FILE = Path(__file__).with_name("frozen_planning.json")


def rival(shop: Shop, habits: Sequence[Habit]) -> dict[str, Any]:
    """The habit of a list that ends first."""
    habit, record = best_rival(shop, habits)
    return {
        "hours": round(shop.hours_until(record.finish), 2),
        "day": shop.days_until(record.finish),
        "habit": habit.name,
    }


def planned(case: Case, problem: Problem) -> Plan:
    """The plan of a case, from build/ when it was made before (so that the foreman can be changed without planning again)."""
    file = ROOT / "build" / "frozen" / f"{case.key.replace('/', '-')}.json"
    if file.exists():
        return plan_from_data(json.loads(file.read_text(encoding="utf-8")))
    made = plan(problem, seconds=case.seconds).plan
    assert made is not None
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(json.dumps(plan_to_data(made)), encoding="utf-8")
    return made


def measured(case: Case) -> dict[str, Any]:
    """One case: the plan on paper, executed, and executed by a foreman who regroups each day."""
    problem = case.problem()
    made = planned(case, problem)
    shop, paper = shop_of(problem), record_of(problem, made)
    executed = best_reading(shop, paper, readings=READINGS)
    regrouped = best_reading(shop, paper, readings=REGROUPED)
    return {
        "hands": sum(op.minutes for item in shop.items for op in item.ops),
        "paper": {"hours": round(shop.hours_until(paper.finish), 2), "day": shop.days_until(paper.finish)},
        "executed": {
            "hours": round(executed.hours, 2),
            "day": executed.day,
            "reading": executed.reading.name,
        },
        "regrouped": {"hours": round(regrouped.hours, 2), "day": regrouped.day},
        "rivals": {name: rival(shop, habits) for name, habits in LISTS.items()},
        "counts": {k: round(v, 3) for k, v in asdict(count(shop, paper)).items()},
    }


def frozen() -> dict[str, dict[str, Any]]:
    """The frozen cases by key."""
    data: dict[str, dict[str, Any]] = json.loads(FILE.read_text(encoding="utf-8"))["cases"]
    return data


def main() -> None:
    """Measure all cases and write them."""
    cases = frozen() if FILE.exists() else {}
    for case in FULL:
        began = time.perf_counter()
        entry = cases.get(case.key) or measured(case)
        shop = shop_of(case.problem())
        entry["rivals"] |= {n: rival(shop, habits) for n, habits in LISTS.items() if n not in entry["rivals"]}
        cases[case.key] = entry
        print(case.key, entry["paper"], entry["executed"], f"{time.perf_counter() - began:.0f} s", flush=True)
        FILE.write_text(json.dumps({"made": MADE, "cases": cases}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
