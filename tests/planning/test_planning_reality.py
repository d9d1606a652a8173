"""Planning again from a log that does not agree with the plan: taps come early, late, in odd order, or not at all. What was done is believed."""

import random
from dataclasses import replace
from datetime import timedelta
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bare_room import interior
from hidewright.planning.change.replan import person_away, redo, replan, slower_drying, with_job, without
from hidewright.planning.change.standing import Took, standing_of
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Plan, Stay
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.listplan import careful


@cache
def planned(seed: int) -> tuple[Problem, Plan]:
    rack = (None, 0, 1, 3)[seed % 4]
    problem = interior(6 + seed % 3, seed, 1 + seed % 3, rack=rack)
    return problem, plan_of(*careful(problem))


def as_planned(plan: Plan, now: int) -> dict[str, Took]:
    return {p.operation: (p.start, p.end) for p in plan.placements if p.end <= now}


def odd_log(problem: Problem, plan: Plan, now: int, how: str, rng: random.Random) -> dict[str, Took]:
    """What was tapped until `now`: some an hour off, some ahead of the plan, half of it forgotten."""
    minutes = {o.key: o.minutes for _, o in problem.operations()}
    log: dict[str, Took] = {}
    for p in plan.placements:
        if how == "off" and p.end <= now and rng.random() < 0.9:
            end = min(now, p.end + rng.randint(-60, 60))
            log[p.operation] = (end - rng.randint(1, 60), end)
        elif how == "ahead" and p.end <= now + 300:
            end = min(now, p.end)
            log[p.operation] = (end - minutes[p.operation], end)
        elif how == "forgotten" and p.end <= now and rng.random() < 0.5:
            log[p.operation] = (p.start, p.end)
    return log


def changed(problem: Problem, now: int, what: str, done: dict[str, Took]) -> Problem:
    first, last = problem.jobs[0].piece, problem.jobs[-1]
    if what == "away":
        return person_away(problem, problem.people[0].key, [problem.calendar.day(now) + timedelta(days=1)])
    if what == "removed":
        for key in [k for k in done if k.startswith(f"{first}/")]:
            del done[key]
        return without(problem, [first])
    if what == "damp":
        return slower_drying(problem, 1.7, done)
    if what == "failed":
        return with_job(problem, redo(last))
    if what == "rack":
        return replace(problem, rack=2)
    return replace(problem, tables=problem.tables[:-1]) if what == "table" else problem


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 11),
    share=st.floats(0.01, 1.0),
    how=st.sampled_from(("off", "ahead", "forgotten")),
    what=st.sampled_from(("nothing", "away", "removed", "damp", "failed", "table", "rack")),
    rng=st.randoms(use_true_random=False),
)
def test_whatever_was_tapped_there_is_a_plan_that_passes(
    seed: int, share: float, how: str, what: str, rng: random.Random
) -> None:
    problem, before = planned(seed)
    now = 480 + int(share * (before.finish - 480))
    log = odd_log(problem, before, now, how, rng)
    problem = changed(problem, now, what, log)
    found = replan(problem, before, log, now, seconds=0.2)
    plan = found.result.plan
    assert plan is not None
    stands = standing_of(problem, before, {k: v for k, v in log.items() if k not in found.again}, now)
    assert audit(problem, plan, done=stands.done, now=now) == ()
    placed = {p.operation: p for p in plan.placements}
    for key, took in log.items():
        if key in found.again:
            assert placed[key].start >= now
        else:
            assert (placed[key].start, placed[key].end) == took
    assert all(p.start >= now for p in plan.placements if p.operation not in stands.done)


def test_a_wipe_down_of_yesterday_is_done_again() -> None:
    problem, before = planned(1)
    window = {o.key: o.window for _, o in problem.operations() if o.window is not None}
    wipe = next(p for p in before.placements if p.operation in window)
    log = as_planned(before, wipe.end)
    for now, expected in ((wipe.end, ()), (wipe.end + 1440, (wipe.operation,))):
        found = replan(problem, before, log, now, seconds=0.5, touched=[wipe.piece])
        assert tuple(k for k in found.again if k == wipe.operation) == expected


def test_the_audit_asks_the_window_between_what_is_done_and_what_is_planned() -> None:
    problem, plan = planned(1)
    first = next(o for _, o in problem.operations() if o.window is not None)
    assert first.window is not None
    by = first.window + 1
    early = tuple(
        replace(p, start=p.start - by, end=p.end - by, dry_until=p.dry_until - by)
        if p.operation == first.key
        else p
        for p in plan.placements
    )
    faults = audit(problem, replace(plan, placements=early), done=frozenset({first.key}))
    assert "window" in {f.rule for f in faults}


def test_what_lies_where_something_else_was_begun_has_been_taken_away() -> None:
    problem, plan = planned(2)
    a, b = problem.jobs[0], problem.jobs[1]
    stay_a = next(s for s in plan.stays if s.piece == a.piece)
    moved = replace(next(s for s in plan.stays if s.piece == b.piece), table=stay_a.table, at=stay_a.at)
    others = tuple(
        s for s in plan.stays if s is not stay_a and (s.piece, s.pass_key) != (b.piece, moved.pass_key)
    )
    both: tuple[Stay, ...] = (stay_a, moved, *others)
    log = {a.operations[0].key: (480, 490), b.operations[0].key: (600, 610)}
    stands = standing_of(problem, replace(plan, stays=both), log, 700)
    assert a.piece not in stands.lying
    assert stands.lying[b.piece].table == stay_a.table


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_when_all_went_as_planned_nothing_is_done_again_and_nothing_moves(share: float) -> None:
    problem, before = planned(3)
    now = int(before.finish * share) // 1440 * 1440 + 1080
    found = replan(problem, before, as_planned(before, now), now, seconds=1)
    assert found.again == ()
    assert found.kept == 1.0
