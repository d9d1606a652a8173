"""Planning again while hands are at work: what was begun goes on, and a plan that nothing disturbed stays to the minute."""

from dataclasses import replace

import pytest

from bench.interiors import interior
from hidewright.planning.change.replan import ReplanResult, person_away, replan
from hidewright.planning.change.standing import standing_of
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Placement
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.planner import plan

PROBLEM = interior(12, 2, 2)
GOOD = plan(PROBLEM, seconds=0.5).plan
assert GOOD is not None
PLACED = {p.operation: p for p in GOOD.placements}


def in_hand(now: int) -> list[Placement]:
    assert GOOD is not None
    return [p for p in GOOD.placements if p.start < now < p.end]


def alone(p: Placement) -> bool:
    """Whether this work is not tied to what follows by a window, so that it can be left half done."""
    return next(o.window for _, o in PROBLEM.operations() if o.key == p.operation) is None


MOMENTS = [p.start + 1 for p in GOOD.placements if p.end - p.start > 2 and alone(p)][5::40]
"""A minute after some of the work was begun: which ones hangs on the plan, and so on the machine's speed; no test may bear their names."""


def again(now: int, problem: Problem = PROBLEM, late: int = 0, without: str = "") -> ReplanResult:
    """Planned again at `now`, with all tapped done that the plan has ended before, `late` min later each, but one."""
    assert GOOD is not None
    done = {
        p.operation: (p.start + late, p.end + late)
        for p in GOOD.placements
        if p.end + late <= now and p.operation != without
    }
    return replan(problem, GOOD, done, now, seconds=0.5)


@pytest.mark.parametrize("part", [0.05, 0.25, 0.45, 0.65, 0.85])
def test_a_plan_that_nothing_disturbed_stays_to_the_minute(part: float) -> None:
    now = MOMENTS[int(part * len(MOMENTS))]
    assert in_hand(now)
    found = again(now)
    assert found.result.plan is not None
    after = {p.operation: p for p in found.result.plan.placements}
    tied = {p.piece for p in in_hand(now) if not alone(p)}
    assert found.kept >= 1 - len(tied) / max(1, found.untouched)
    if not tied:
        assert {k: (p.start, p.end, p.person) for k, p in after.items()} == {
            k: (p.start, p.end, p.person) for k, p in PLACED.items()
        }


def test_who_falls_ill_in_the_middle_leaves_the_work_to_be_begun_anew() -> None:
    now = MOMENTS[0]
    begun = next(p for p in in_hand(now) if alone(p))
    day = PROBLEM.calendar.day(now)
    found = again(now, person_away(PROBLEM, begun.person, {day}))
    assert found.result.plan is not None
    after = next(p for p in found.result.plan.placements if p.operation == begun.operation)
    assert after.start >= now
    assert (after.person, PROBLEM.calendar.day(after.start)) != (begun.person, day)


def test_where_a_tap_is_missing_nobody_is_believed_to_be_at_what_comes_after_it() -> None:
    for now in MOMENTS:
        begun = next(p for p in in_hand(now) if alone(p))
        earlier = [
            p
            for p in PLACED.values()
            if p.person == begun.person and now - 1440 < p.start < begun.start and p.piece != begun.piece
        ]
        if earlier:
            break
    last = max(earlier, key=lambda p: p.start)
    found = again(now, without=last.operation)
    assert found.result.plan is not None
    after = {p.operation: p for p in found.result.plan.placements}
    assert after[begun.operation].start >= now


def test_what_was_begun_late_ends_as_much_later() -> None:
    assert GOOD is not None
    late, now = 3, MOMENTS[0] + 3
    done = {p.operation: (p.start + late, p.end + late) for p in GOOD.placements if p.end + late <= now}
    standing = standing_of(PROBLEM, GOOD, done, now)
    begun = [p for p in standing.placements if p.operation in standing.at_work]
    assert begun
    for p in begun:
        before = PLACED[p.operation]
        assert p.end - p.start == before.end - before.start
        hands = [q.end for q in standing.placements if q.person == p.person and q.operation in done]
        assert p.start >= max([before.start, *hands])


def test_the_audit_notices_hands_that_are_taken_from_what_they_are_at() -> None:
    assert GOOD is not None
    now = MOMENTS[0]
    done = {p.operation: (p.start, p.end) for p in GOOD.placements if p.end <= now}
    standing = standing_of(PROBLEM, GOOD, done, now)
    assert standing.at_work
    assert audit(PROBLEM, GOOD, done=standing.done, now=now, standing=standing) == ()
    busy = next(p for p in standing.placements if p.operation in standing.at_work)
    other = next(p for p in GOOD.placements if p.start > busy.end and p.person == busy.person)
    early = replace(other, start=now, end=now + other.end - other.start)
    broken = replace(GOOD, placements=tuple(early if p is other else p for p in GOOD.placements))
    rules = {f.rule for f in audit(PROBLEM, broken, done=standing.done, now=now, standing=standing)}
    assert "one thing at a time" in rules
