"""The planner judged from outside: sessions and faults counted, its plans carried out by a foreman who pays every set-up, against rivals, a bound and the planner of before sessions.

A small set by itself; all interiors with HIDEWRIGHT_BENCH=full (about half an hour). Every number of every case goes to build/planning_sessions.json.
"""

import json
import os
import resource
import sys
from collections.abc import Sequence
from pathlib import Path
from statistics import mean
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.adapter import record_of, shop_of
from bench.cases import FULL, LARGE, SMALL, Case
from bench.counting import count
from bench.freeze_planning import LISTS
from bench.judging import Judged, judged
from bench.odd_interiors import odd_interior
from bench.planning_rows import row
from bench.readings import best_reading
from bench.rivals import best_rival
from hidewright.planning.solve.planner import plan

ODD_SECONDS = 8.0
EVERY_LIST = tuple(habit for habits in LISTS.values() for habit in habits)
OUT = Path(__file__).resolve().parents[2] / "build" / "planning_sessions.json"


def counted(cases: list[Judged]) -> list[dict[str, Any]]:
    """What is counted on the plans themselves."""
    plans = [each.on_paper for each in cases]
    told = f"{len(cases)} interiors: the demonstration and seeds of 30 to 400 pieces, 1-3 people, one air"
    sessions, blocks = mean(c.sessions for c in plans), mean(c.blocks for c in plans)
    short, most = mean(c.short for c in plans), max(c.most_gun_changes for c in plans)
    changes = mean(c.gun_changes for c in plans)
    faults = {name: sum(c.faults[name] for c in plans) for name in plans[0].faults}
    others = {
        name: n for name, n in faults.items() if n and name not in ("dust_beside_wet", "broken_windows")
    }
    return [
        row("sessions, counted from outside, mean", sessions, "a person-day", "at most 10", sessions <= 10, told),
        row("lines of the plan's own, mean", mean(c.lines for c in plans), "a person-day", "", None, "as the plan names its sessions"),
        row("unbroken blocks of one kind, mean", blocks, "a person-day", "at most 12", blocks <= 12, "a plan before sessions: 22 to 44"),
        row("blocks of 5 min and less, mean", 100 * short, "%", "at most 10", short <= 0.1, told),
        row("changes of a gun, mean", changes, "a gun-day", "at most 1.2", changes <= 1.2, told),
        row("changes of a gun, most in a day", most, "", "at most 2", most <= 2, told),
        row("dust beside a wet coat", faults["dust_beside_wet"], "works", "0", faults["dust_beside_wet"] == 0, told),
        row("broken windows", faults["broken_windows"], "", "0", faults["broken_windows"] == 0, told),
        row("two things at once, order, hours, places", sum(others.values()), "faults", "0", not others, str(others) if others else told),
    ]  # fmt: skip


def carried_out(cases: list[Judged]) -> list[dict[str, Any]]:
    """What the foreman makes of the plans."""
    old, rival = [each.earlier_than_old for each in cases], [each.earlier_than_rival for each in cases]
    later = sorted((each.earlier_than_rival, each.case.key, each.best_rival[0]) for each in cases)
    over = [each.executed.hours / each.paper_hours - 1 for each in cases]
    mid = [each for each in cases if each.case.pieces == 84]
    near = mean(each.executed.day - each.bound <= 3 for each in mid)
    worst = ", ".join(f"{key} {100 * share:.0f} % ({name})" for share, key, name in later if share < -1e-9)
    first = max(each.first_seconds for each in mid)
    broken = sum(each.bound > each.executed.day for each in cases)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2
    return [
        row("executed, earlier than the plan of before sessions, mean", 100 * mean(old), "% of working hours", "at least 25", mean(old) >= 0.25, "frozen_planning.json, same foreman"),
        row("executed, earlier than the same work regrouped each day, mean", 100 * mean(1 - e.executed.hours / e.old["regrouped"]["hours"] for e in cases), "% of working hours", "", None, "the old plan, but the foreman takes together what is alike"),
        row("executed, earlier than the best of three lists, mean", 100 * mean(rival), "% of working hours", "at least 15", mean(rival) >= 0.15, "stage by stage, careful list, one rule; the best setting of each"),
        row("executed, later than the best of three lists", sum(r < -1e-9 for r in rival), "interiors", "0", min(rival) >= -1e-9, worst or "never"),
        row("executed after what the plan says, mean", 100 * mean(over), "% of working hours", "", None, f"most {100 * max(over):.0f} %"),
        row("84 pieces: executed within 3 working days of a bound with set-ups", 100 * near, "% of interiors", "at least 85", near >= 0.85, "tests/bench/least_days.py"),
        row("interiors that end before the bound", broken, "", "0", broken == 0, "the bound must hold"),
        row("first plan, 84 pieces, slowest", first, "s", "at most 2", first <= 2, ""),
        row("planning after the time that was asked, most", max(e.seconds - e.case.seconds for e in cases), "s", "", None, "5 to 30 s asked"),
        row("memory, greatest", memory, "GiB", "at most 1", memory <= 1, "whole benchmark"),
        row("interiors as when the baseline was frozen", sum(e.same_work for e in cases), f"of {len(cases)}", "all", all(e.same_work for e in cases), "minutes of hands"),
    ]  # fmt: skip


def large() -> list[dict[str, Any]]:
    """400 pieces: when a first plan is there, and what is counted on the one at the end."""
    problem = LARGE.problem()
    result = plan(problem, seconds=LARGE.seconds)
    assert result.plan is not None, result.reason
    counts = count(shop_of(problem), record_of(problem, result.plan))
    faults = {name: n for name, n in counts.faults.items() if n}
    first = result.first_seconds
    return [
        row("first plan, 400 pieces", first, "s", "at most 15", first <= 15, f"{LARGE.seconds:g} s asked"),
        row("400 pieces: sessions", counts.sessions, "a person-day", "at most 10", counts.sessions <= 10, f"{counts.blocks:.1f} blocks, most gun changes {counts.most_gun_changes}"),
        row("400 pieces: faults of any kind", sum(faults.values()), "", "0", not faults, str(faults) if faults else ""),
    ]  # fmt: skip


def odd(seeds: Sequence[int]) -> list[dict[str, Any]]:
    """Interiors of another make, against the lists, which are carried out anew."""
    gained, broken, told = [], 0, []
    for seed in seeds:
        problem = odd_interior(seed)
        result = plan(problem, seconds=ODD_SECONDS)
        assert result.plan is not None, result.reason
        shop, paper = shop_of(problem), record_of(problem, result.plan)
        broken += sum(count(shop, paper).faults.values())
        hours = best_reading(shop, paper).hours
        rival = shop.hours_until(best_rival(shop, EVERY_LIST)[1].finish)
        gained.append(1 - hours / rival)
        told.append(f"seed {seed}: {hours:.0f} h, list {rival:.0f} h")
    return [
        row("odd interiors: executed, earlier than the best list, mean", 100 * mean(gained), "% of working hours", "", None, "; ".join(told)),
        row("odd interiors: faults of any kind", broken, "", "0", broken == 0, "other pieces and materials, part-time weeks, 1-4 tables, full racks"),
    ]  # fmt: skip


def measure(chosen: tuple[Case, ...]) -> list[Judged]:
    """Judge these cases, one after the other."""
    return [judged(case) for case in chosen]


def run() -> list[dict[str, Any]]:
    """All rows."""
    full = os.environ.get("HIDEWRIGHT_BENCH") == "full"
    cases = measure(FULL if full else SMALL)
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text(json.dumps([each.line() for each in cases], indent=1) + "\n", encoding="utf-8")
    return [
        *counted(cases),
        *carried_out(cases),
        *odd(range(1, 9) if full else (1, 3)),
        *(large() if full else ()),
    ]


if __name__ == "__main__":
    for each in run():
        print(
            f"{each['name']}: {each['value']} {each['unit']} ({each['goal']}) {each['holds']} | {each['baseline']}"
        )
