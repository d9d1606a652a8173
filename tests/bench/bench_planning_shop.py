"""Thirty open jobs of 20 pieces planned anew by rank into one shop of two people within a minute; what is held twice is counted minute by minute.

With HIDEWRIGHT_BENCH=full 30 jobs, else 10 in 20 s. CPU time is a row of its own: on a busy machine the wall says as much about the machine.
"""

import os
import sys
import time
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.doubles import doubles
from bench.interiors import interior
from bench.planning_rows import row
from hidewright.planning.change.shared import plan_anew
from hidewright.planning.change.together import Share
from hidewright.planning.problem.calendar import Calendar
from hidewright.planning.problem.model import Problem

MONDAY = date(2026, 3, 2)
JOBS, SECONDS = (30, 60.0) if os.environ.get("HIDEWRIGHT_BENCH") == "full" else (10, 20.0)
PIECES = 20


def job(seed: int, shop: Problem) -> Problem:
    """An interior in the one shop."""
    return replace(
        interior(PIECES, seed),
        people=shop.people,
        tables=shop.tables,
        calendar=Calendar(MONDAY),
        guns=shop.guns,
        rack=shop.rack,
        promised=None,
    )


def run() -> list[dict[str, Any]]:
    """Seconds of the clock and of the processor, and what is held twice."""
    shop = interior(46, 0)
    shares = [Share(f"J{n:02}", job(n, shop), rank=n, loose=True) for n in range(JOBS)]
    wall, cpu = time.monotonic(), time.process_time()
    made, _ = plan_anew(shares, datetime(2026, 3, 2), seconds=SECONDS)
    wall, cpu = time.monotonic() - wall, time.process_time() - cpu
    plans = {key: (MONDAY, each.result.plan) for key, each in made.items() if each.result.plan is not None}
    twice = len(doubles(plans, 10**6 if shop.rack is None else shop.rack))
    odds = sum(each.result.odds is not None for each in made.values())
    told = f"{JOBS} jobs of {PIECES} pieces, two people; {SECONDS:g} s asked for; {odds} with odds"
    return [
        row("whole shop anew: wall", round(wall, 1), "s", f"at most {SECONDS:g}", wall <= SECONDS, told),
        row("whole shop anew: processor", round(cpu, 1), "s", "", None, told),
        row("whole shop anew: held twice", twice, "", "0", twice == 0, "counted minute by minute"),
    ]


if __name__ == "__main__":
    for each in run():
        print(each)
