"""The audit finds every way in which a plan can break the rules of the shop: good plans are broken one rule at a time."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bare_room import interior
from hidewright.planning.plan.audit import RULES, audit, due_faults
from hidewright.planning.plan.schedule import Placement, Plan
from hidewright.planning.problem.calendar import EVERY_NIGHT
from hidewright.planning.problem.model import Kind, Problem
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.listplan import careful


def planned(problem: Problem) -> Plan:
    return plan_of(*careful(problem))


@pytest.fixture(scope="module")
def problem() -> Problem:
    return interior(14, 5, 2)


@pytest.fixture(scope="module")
def good(problem: Problem) -> Plan:
    plan = planned(problem)
    assert audit(problem, plan) == ()
    return plan


def change(plan: Plan, old: Placement, **facts: object) -> Plan:
    """The plan with one placement changed."""
    return replace(plan, placements=tuple(replace(p, **facts) if p is old else p for p in plan.placements))  # type: ignore[arg-type]


def shift(plan: Plan, old: Placement, by: int) -> Plan:
    return change(plan, old, start=old.start + by, end=old.end + by, dry_until=old.dry_until + by)


def of(plan: Plan, kind: Kind, number: int = 0) -> Placement:
    return [p for p in plan.placements if p.kind is kind][number]


def move_stay(plan: Plan, number: int, **facts: object) -> Plan:
    return replace(
        plan, stays=tuple(replace(s, **facts) if i == number else s for i, s in enumerate(plan.stays))
    )  # type: ignore[arg-type]


def overlapping(plan: Plan) -> tuple[int, float]:
    """A stay and the place of another that lies on the same table at the same time."""
    for i, a in enumerate(plan.stays):
        for b in plan.stays[:i]:
            if a.table == b.table and a.since < b.until and b.since < a.until:
                return i, b.at
    raise AssertionError("no two pieces lie on one table together")


def two_at_once(plan: Plan, *, sprayed: bool) -> tuple[Placement, Placement]:
    for a in plan.placements:
        for b in plan.placements:
            together = a.start < b.end and b.start < a.end and a.person != b.person
            if together and (not sprayed or (a.gun is not None and b.gun is None)):
                return a, b
    raise AssertionError("nobody works together")


def second_of_run(problem: Problem, plan: Plan) -> Placement:
    for job in problem.jobs:
        for before, after in zip(job.operations, job.operations[1:], strict=False):
            if before.window is not None:
                return next(p for p in plan.placements if p.operation == after.key)
    raise AssertionError("no window")


BREAKS: dict[str, Callable[[Problem, Plan], tuple[Problem, Plan]]] = {
    "everything once": lambda pr, pl: (pr, replace(pl, placements=pl.placements[1:])),
    "only what is wanted": lambda pr, pl: (pr, change(pl, pl.placements[0], operation="nobody/front/strip")),
    "pace": lambda pr, pl: (pr, change(pl, pl.placements[-1], end=pl.placements[-1].end - 1)),
    "drying": lambda pr, pl: (pr, change(pl, of(pl, Kind.CLEAR), dry_until=of(pl, Kind.CLEAR).end)),
    "order": lambda pr, pl: (pr, shift(pl, of(pl, Kind.SAND), -600)),
    "dry before the next": lambda pr, pl: (pr, shift(pl, of(pl, Kind.SAND), of(pl, Kind.SPRAY).end - of(pl, Kind.SAND).start)),
    "window": lambda pr, pl: (pr, shift(pl, second_of_run(pr, pl), 1440)),
    "hold": lambda pr, pl: (
        replace(
            pr,
            jobs=(
                replace(pr.jobs[0], operations=(replace(pr.jobs[0].operations[0], release=10**6), *pr.jobs[0].operations[1:])),
                *pr.jobs[1:],
            ),
        ),
        pl,
    ),
    "hours": lambda pr, pl: (pr, shift(pl, pl.placements[-1], 12 * 60)),
    "skills": lambda pr, pl: (
        replace(pr, people=tuple(replace(p, skills=frozenset({Kind.STRIP})) for p in pr.people)),
        pl,
    ),
    "one thing at a time": lambda pr, pl: (pr, change(pl, two_at_once(pl, sprayed=False)[1], person=two_at_once(pl, sprayed=False)[0].person)),
    "gun": lambda pr, pl: (pr, change(pl, of(pl, Kind.SPRAY), gun=None)),
    "one stretch": lambda pr, pl: (pr, replace(pl, stays=pl.stays[1:])),
    "no move while wet": lambda pr, pl: (pr, move_stay(pl, 0, until=pl.stays[0].until - 1)),
    "table": lambda pr, pl: (pr, move_stay(pl, 0, at=100.0)),
    "what may lie where": lambda pr, pl: (
        replace(pr, tables=tuple(replace(t, not_for=frozenset({"leather"})) for t in pr.tables)),
        pl,
    ),
    "no touching": lambda pr, pl: (pr, move_stay(pl, overlapping(pl)[0], at=overlapping(pl)[1])),
    "turn after cure": lambda pr, pl: (pr, shift(pl, of(pl, Kind.TURN), -700)),
    "mask first": lambda pr, pl: (pr, shift(pl, of(pl, Kind.MASK), 1440 * 3)),
    "unmask last": lambda pr, pl: (pr, shift(pl, of(pl, Kind.UNMASK), -900)),
    "pot life": lambda pr, pl: (replace(pr, pot_life={"colour": 5, "clear": 5}, most_mixes=1), pl),
    "rack": lambda pr, pl: (replace(pr, rack=0), pl),
    "fan off at night": lambda pr, pl: (
        replace(
            pr,
            fan_off=EVERY_NIGHT,
            jobs=tuple(
                replace(
                    j,
                    operations=tuple(
                        replace(o, wet=o.dry) if o.kind is Kind.CLEAR else o for o in j.operations
                    ),
                )
                for j in pr.jobs
            ),
        ),
        pl,
    ),
}  # fmt: skip


@pytest.mark.parametrize("rule", BREAKS)
def test_each_broken_rule_is_named(rule: str, problem: Problem, good: Plan) -> None:
    changed, broken = BREAKS[rule](problem, good)
    faults = audit(changed, broken)
    assert rule in {fault.rule for fault in faults}
    assert all(fault.where and fault.words for fault in faults)


def test_there_is_a_break_for_every_rule() -> None:
    """Every name of a rule that the audit can give is broken above (the due day and the past have their own tests)."""
    import inspect
    import re

    from hidewright.planning.plan import audit as module

    named = set(re.findall(r"Fault\(\s*\"([a-z ]+)\"", inspect.getsource(module)))
    assert named == {*BREAKS, "due", "not in the past"}
    assert len(RULES) >= 15


def test_a_gun_in_two_hands_is_found(problem: Problem, good: Plan) -> None:
    sprays = sorted((p for p in good.placements if p.gun is not None), key=lambda p: p.start)
    moved = change(
        good, sprays[1], start=sprays[0].start, end=sprays[0].start + sprays[1].end - sprays[1].start
    )
    assert any(f.rule == "gun" and "while it is at" in f.words for f in audit(problem, moved))


def test_a_piece_in_two_places_is_found(problem: Problem, good: Plan) -> None:
    twice = next(
        s
        for s in good.stays
        if s.pass_key == "front" and any(o.piece == s.piece and o.pass_key == "prep" for o in good.stays)
    )
    moved = replace(good, stays=tuple(replace(s, since=0) if s is twice else s for s in good.stays))
    assert any(f.rule == "one stretch" and "two places" in f.words for f in audit(problem, moved))


def test_a_piece_after_its_due_day_is_told_apart(problem: Problem, good: Plan) -> None:
    late = replace(problem, jobs=tuple(replace(j, due=date(2026, 3, 2)) for j in problem.jobs))
    assert audit(late, good) == ()
    assert {f.rule for f in due_faults(late, good)} == {"due"}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_nobody_can_be_in_two_places(problem: Problem, good: Plan, data: st.DataObject) -> None:
    """Whatever is laid over another operation of the same person is found."""
    a = data.draw(st.sampled_from(good.placements))
    b = data.draw(st.sampled_from([p for p in good.placements if p is not a]))
    moved = change(
        good,
        a,
        person=b.person,
        start=b.start,
        end=b.start + a.end - a.start,
        dry_until=b.start + a.dry_until - a.start,
    )
    assert "one thing at a time" in {f.rule for f in audit(problem, moved)}


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), by=st.integers(1, 30))
def test_no_stay_may_shrink(problem: Problem, good: Plan, data: st.DataObject, by: int) -> None:
    """Every stay of the list plan is as short as it may be: cut at either end it is found."""
    number = data.draw(st.integers(0, len(good.stays) - 1))
    stay = good.stays[number]
    start = data.draw(st.booleans())
    cut = (
        move_stay(good, number, since=stay.since + by)
        if start
        else move_stay(good, number, until=stay.until - by)
    )
    assert {"one stretch", "no move while wet"} & {f.rule for f in audit(problem, cut)}


@settings(max_examples=25, deadline=None)
@given(
    count=st.integers(1, 24),
    seed=st.integers(0, 10**6),
    people=st.integers(1, 3),
    guns=st.integers(1, 2),
    fan_off=st.frozensets(st.integers(0, 6)),
    life=st.integers(90, 480),
    mixes=st.integers(2, 4),
    rack=st.one_of(st.none(), st.integers(0, 12)),
)
def test_every_list_plan_passes(
    count: int,
    seed: int,
    people: int,
    guns: int,
    fan_off: frozenset[int],
    life: int,
    mixes: int,
    rack: int | None,
) -> None:
    """Whatever the interior and the shop's own rules, the list plan keeps them all."""
    made = interior(
        count,
        seed,
        people,
        guns=guns,
        fan_off=fan_off,
        pot_life={"colour": life, "clear": life},
        most_mixes=mixes,
        rack=rack,
    )
    assert audit(made, planned(made)) == ()
