"""Planning again on Wednesday evening, 84 pieces, two people: each kind of change by itself, and three at once. Every plan is audited, and sessions are counted from outside.

Two seeds a kind by themselves; eight with HIDEWRIGHT_BENCH=full.
"""

import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache
from pathlib import Path
from statistics import mean
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.adapter import record_of, shop_of
from bench.interiors import interior
from bench.kept import Kept, kept
from bench.planning_rows import row, working_days
from hidewright.planning.change.replan import person_away, redo, replan, slower_drying, with_job, without
from hidewright.planning.change.standing import Took
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.model import Problem
from hidewright.planning.problem.routes import held
from hidewright.planning.solve.planner import plan

NOW = 2 * 1440 + 17 * 60
THURSDAY = date(2026, 3, 5)
Done = dict[str, Took]
SEEDS = range(8 if os.environ.get("HIDEWRIGHT_BENCH") == "full" else 2)


@cache
def planned(seed: int) -> tuple[Problem, Plan]:
    """An interior with its plan of Monday."""
    problem = interior(84, seed, 2)
    made = plan(problem, seconds=5).plan
    assert made is not None
    return problem, made


def late(problem: Problem, done: Done, seed: int) -> Problem:
    """Four pieces that are not begun are only there on Friday at noon."""
    waiting = [j for j in problem.jobs if not any(o.key in done for o in j.operations)]
    for job in waiting[seed :: max(1, len(waiting) // 4)][:4]:
        problem = with_job(problem, held(job, done, 4 * 1440 + 12 * 60))
    return problem


def failed(problem: Problem, done: Done, seed: int) -> Problem:
    """One piece failed its inspection (where none is inspected yet, the one that is furthest)."""
    furthest = max(problem.jobs, key=lambda j: sum(o.key in done for o in j.operations) / len(j.operations))
    return with_job(problem, redo(furthest))


def added(problem: Problem, done: Done, seed: int) -> Problem:
    """Two pieces turn up."""
    for extra in interior(86, seed + 50, 2).jobs[-2:]:
        operations = tuple(replace(o, key=f"X{o.key}") for o in extra.operations)
        problem = with_job(problem, replace(extra, piece=f"X{extra.piece}", operations=operations))
    return problem


def removed(problem: Problem, done: Done, seed: int) -> Problem:
    """Three pieces are taken out, begun or not."""
    gone = {job.piece for job in problem.jobs[seed::28][:3]}
    for key in [k for k in done if k.rsplit("/", 2)[0] in gone]:
        del done[key]
    return without(problem, gone)


def sick(problem: Problem, done: Done, seed: int) -> Problem:
    """One of the two is away tomorrow."""
    return person_away(problem, "p2", {THURSDAY})


def humid(problem: Problem, done: Done, seed: int) -> Problem:
    """What is still to come dries a quarter longer."""
    return slower_drying(problem, 1.25, done)


def three(problem: Problem, done: Done, seed: int) -> Problem:
    """One failed inspection, two extra pieces, and one of the two away tomorrow."""
    return added(failed(sick(problem, done, seed), done, seed), done, seed)


KINDS: dict[str, Callable[[Problem, Done, int], Problem]] = {
    "four pieces late": late,
    "one failed inspection": failed,
    "two pieces added": added,
    "three pieces removed": removed,
    "a helper sick": sick,
    "a humid week": humid,
    "three at once": three,
}


@dataclass
class Measured:
    """What one kind of change came to: s, %, whether what was done stays, and working days after planning everything anew."""

    seconds: list[float] = field(default_factory=list)
    kept: list[float] = field(default_factory=list)
    later: list[int] = field(default_factory=list)
    stays: bool = True
    sessions: list[Kept] = field(default_factory=list)

    def share(self, what: str) -> float:
        """Of all untouched sessions of all seeds, the share in % that keep their day, start or people."""
        return (
            100
            * sum(getattr(k, what) for k in self.sessions)
            / max(1, sum(k.sessions for k in self.sessions))
        )

    def least(self, what: str) -> float:
        """The same of the seed that keeps least."""
        return min(100 * getattr(k, what) / max(1, k.sessions) for k in self.sessions)


def touched(problem: Problem, changed: Problem) -> set[str]:
    """Pieces that came, went or have other work than before; that they dry longer does not count."""

    def work(of: Problem) -> dict[str, list[tuple[str, int, int]]]:
        return {i.piece: [(o.key, o.minutes, o.release) for o in i.ops] for i in shop_of(of).items}

    before, after = work(problem), work(changed)
    return {piece for piece in before.keys() | after.keys() if before.get(piece) != after.get(piece)}


AWAY = {"a helper sick": {("p2", NOW // 1440 + 1)}, "three at once": {("p2", NOW // 1440 + 1)}}
"""Whose sessions of which day cannot stay, by kind."""


def measure(kind: str) -> Measured:
    """All seeds of one kind."""
    found = Measured()
    for seed in SEEDS:
        problem, before = planned(seed)
        done = {p.operation: (p.start, p.end) for p in before.placements if p.end <= NOW}
        changed = KINDS[kind](problem, done, seed)
        began = time.perf_counter()
        again = replan(changed, before, done, NOW)
        found.seconds.append(time.perf_counter() - began)
        after = again.result.plan
        assert after is not None
        assert again.result.finish_day is not None
        assert again.anew_day is not None
        left = frozenset(done) - set(again.again)
        assert audit(changed, after, done=left, now=NOW) == ()
        placed = {p.operation: (p.start, p.end) for p in after.placements}
        found.stays = found.stays and all(placed[key] == done[key] for key in left)
        found.kept.append(100 * again.kept)
        records = record_of(problem, before), record_of(changed, after)
        found.sessions.append(kept(*records, NOW, touched(problem, changed), AWAY.get(kind, ())))
        sign = 1 if again.result.finish_day >= again.anew_day else -1
        days = sorted((again.anew_day, again.result.finish_day))
        found.later.append(sign * working_days(changed, *days))
    return found


def run() -> list[dict[str, Any]]:
    """A row for each kind and measure."""
    rows = []
    for kind, change in KINDS.items():
        found = measure(kind)
        told = f"{(change.__doc__ or '').strip()} 84 pieces, {len(found.kept)} seeds"
        slowest, least = max(found.seconds), min(found.kept)
        rows += [
            row(f"replan, {kind}: slowest", slowest, "s", "under 10", slowest < 10, told),
            row(f"replan, {kind}: work done stays to the minute", found.stays, "", "always", found.stays, told),
            row(f"replan, {kind}: untouched pieces that keep all their days, least", least, "%", "at least 80", least >= 80, f"mean {mean(found.kept):.0f} %"),
            row(f"replan, {kind}: untouched sessions that keep their day", found.share("day"), "%", "at least 80", found.share("day") >= 80, f"least of a seed {found.least('day'):.0f} %; {sum(k.sessions for k in found.sessions)} sessions"),
            row(f"replan, {kind}: untouched sessions that start within half an hour", found.share("start"), "%", "at least 70", found.share("start") >= 70, f"least of a seed {found.least('start'):.0f} %"),
            row(f"replan, {kind}: untouched sessions that keep their people", found.share("people"), "%", "at least 80", found.share("people") >= 80, f"least of a seed {found.least('people'):.0f} %"),
            row(f"replan, {kind}: last day after planning all anew, mean", mean(found.later), "working days", "", None, f"most {max(found.later)}; {sum(d > 0 for d in found.later)} of {len(found.later)} later"),
        ]  # fmt: skip
    return rows


if __name__ == "__main__":
    for each in run():
        print(each)
