"""The rules of the room: the audit notices every way of breaking them, in plans and in plans that go on from how things stand."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bench.interiors import interior
from hidewright.planning.change.replan import person_away, replan
from hidewright.planning.change.standing import standing_of
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Placement, Plan
from hidewright.planning.plan.sessions import sessions_of
from hidewright.planning.problem.kinds import COATS, Kind
from hidewright.planning.problem.model import Held, Problem, Taken
from hidewright.planning.problem.rules import FAMILIES, RoomRules
from hidewright.planning.solve.planner import plan
from hidewright.refusals import Refusal

PROBLEM = interior(24, 2, 2)
RESULT = plan(PROBLEM, seconds=1.5)
assert RESULT.plan is not None
GOOD = RESULT.plan
NOW = 1440 + 13 * 60


def done_by(plan: Plan, now: int) -> dict[str, tuple[int, int]]:
    return {p.operation: (p.start, p.end) for p in plan.placements if p.end <= now}


def moved(plan: Plan, which: Placement, by: int) -> Plan:
    other = replace(which, start=which.start + by, end=which.end + by, dry_until=which.dry_until + by)
    return replace(plan, placements=tuple(other if p is which else p for p in plan.placements))


def rules_of(problem: Problem, plan: Plan) -> set[str]:
    return {fault.rule for fault in audit(problem, plan)}


def test_the_good_plan_passes_and_has_what_can_be_broken() -> None:
    assert audit(PROBLEM, GOOD) == ()
    kinds = {p.kind for p in GOOD.placements}
    assert {Kind.SAND, Kind.STRIP, Kind.SPRAY, Kind.CLEAR, Kind.WIPE_IN} <= kinds


@pytest.mark.parametrize("kind", [Kind.SAND, Kind.STRIP])
def test_dust_beside_a_wet_coat_is_noticed(kind: Kind) -> None:
    dust = next(p for p in GOOD.placements if p.kind is kind)
    coat = next(p for p in GOOD.placements if p.kind in COATS and p.piece != dust.piece)
    broken = moved(GOOD, dust, coat.end + 5 - dust.start)
    assert "no dust beside wet" in rules_of(PROBLEM, broken)


def test_dust_in_another_air_is_allowed() -> None:
    """Each table its own air: the same sanding beside the same coat is no fault when they lie on different tables."""
    stays = {(s.piece, s.pass_key): s.table for s in GOOD.stays}
    pairs = (
        (dust, coat)
        for dust in GOOD.placements
        if dust.kind is Kind.SAND
        for coat in GOOD.placements
        if coat.kind in COATS and stays[(coat.piece, coat.pass_key)] != stays[(dust.piece, dust.pass_key)]
    )
    dust, coat = next(pairs)
    broken = moved(GOOD, dust, coat.end + 5 - dust.start)
    parted = replace(PROBLEM, rules=RoomRules(air={t.key: t.key for t in PROBLEM.tables}))
    words = [
        f.words for f in audit(parted, broken) if f.rule == "no dust beside wet" and f.where == dust.operation
    ]
    assert not any(coat.operation in each for each in words)


def test_many_changes_of_a_gun_are_noticed() -> None:
    day = next(p.start // 1440 for p in GOOD.placements if p.kind is Kind.CLEAR)
    sprayed = [p for p in GOOD.placements if p.gun is not None and p.start // 1440 == day]
    colours = [p for p in sprayed if p.kind is not Kind.CLEAR][:3]
    clears = [p for p in sprayed if p.kind is Kind.CLEAR][:3]
    assert len(colours) == len(clears) == 3
    broken = GOOD
    for number, (colour, clear) in enumerate(zip(colours, clears, strict=True)):
        for p, at in ((colour, 20 * number), (clear, 20 * number + 10)):
            broken = moved(
                broken,
                next(x for x in broken.placements if x.operation == p.operation),
                day * 1440 + 480 + at - p.start,
            )
    assert "changes of a gun" in rules_of(PROBLEM, broken)
    assert "changes of a gun" not in rules_of(PROBLEM, GOOD)


@pytest.mark.parametrize("what", ["load", "flush", "change", "suit"])
def test_getting_ready_that_is_left_out_is_noticed(what: str) -> None:
    """The same plan in a room where the same thing takes an hour more has no time for it."""
    dearer = replace(PROBLEM, rules=replace(PROBLEM.rules, **{what: getattr(PROBLEM.rules, what) + 60}))
    assert "getting ready" in rules_of(dearer, GOOD)


def test_rules_that_cannot_be_are_refused() -> None:
    for facts in ({"flush": -1}, {"load": 121}, {"changes": 0}, {"families": {**FAMILIES, Kind.MASK: " "}}):
        with pytest.raises(Refusal) as caught:
            RoomRules(**facts)  # type: ignore[arg-type]
        assert caught.value.remedy


def test_sessions_hold_every_operation_once_and_never_overlap_for_a_person() -> None:
    sessions = sessions_of(PROBLEM, GOOD)
    keys = [key for session in sessions for key in session.operations]
    assert sorted(keys) == sorted(p.operation for p in GOOD.placements)
    by_person: dict[str, list[tuple[int, int]]] = {}
    for session in sessions:
        assert session.setup >= 0
        assert session.hands + session.setup <= session.minutes + 1
        by_person.setdefault(session.people[0], []).append((session.start, session.end))
    for spans in by_person.values():
        assert all(a[1] <= b[0] for a, b in zip(sorted(spans), sorted(spans)[1:], strict=False))


def test_what_other_jobs_hold_is_left_alone() -> None:
    """Person 1 works elsewhere on Tuesday, and half of Table A holds another job's pieces all week."""
    held = (
        Taken(Held.PERSON, "p1", 1440, 2880),
        Taken(Held.TABLE, "a", 0, 6 * 1440, 0.0, 1.5),
    )
    shared = replace(PROBLEM, taken=held)
    result = plan(shared, seconds=0.5)
    assert result.plan is not None
    assert not any(p.person == "p1" and 1440 <= p.start < 2880 for p in result.plan.placements)
    assert not any(s.table == "a" and s.at < 1.5 and s.since < 6 * 1440 for s in result.plan.stays)
    assert "what others hold" in rules_of(shared, GOOD)


BREAK: dict[str, Callable[[Plan, str, str], Plan]] = {
    "as it lies": lambda plan, piece, key: replace(
        plan,
        stays=tuple(
            replace(s, at=s.at + 0.3) if (s.piece, s.pass_key) == (piece, key) else s for s in plan.stays
        ),
    ),
    "no move while wet": lambda plan, piece, key: replace(
        plan,
        stays=tuple(
            replace(s, until=NOW + 1) if (s.piece, s.pass_key) == (piece, key) else s for s in plan.stays
        ),
    ),
}


@pytest.mark.parametrize("rule", BREAK)
def test_a_broken_state_of_now_is_noticed(rule: str) -> None:
    done = done_by(GOOD, NOW)
    standing = standing_of(PROBLEM, GOOD, done, NOW)
    again = replan(PROBLEM, GOOD, done, NOW, seconds=1).result.plan
    assert again is not None
    assert audit(PROBLEM, again, done=standing.done, now=NOW, standing=standing) == ()
    piece, stay = next(iter(standing.lying.items()))
    broken = BREAK[rule](again, piece, stay.pass_key)
    assert rule in {f.rule for f in audit(PROBLEM, broken, done=standing.done, now=NOW, standing=standing)}


def test_a_coat_that_is_on_is_not_cut_short() -> None:
    done = done_by(GOOD, NOW)
    standing = standing_of(PROBLEM, GOOD, done, NOW)
    again = replan(PROBLEM, GOOD, done, NOW, seconds=1).result.plan
    assert again is not None
    slower = replace(standing, ready={piece: minute + 10**5 for piece, minute in standing.ready.items()})
    faults = {f.rule for f in audit(PROBLEM, again, done=standing.done, now=NOW, standing=slower)}
    assert "dry before the next" in faults


def test_what_is_laid_onto_a_begun_piece_is_noticed() -> None:
    done = done_by(GOOD, NOW)
    standing = standing_of(PROBLEM, GOOD, done, NOW)
    again = replan(PROBLEM, GOOD, done, NOW, seconds=1).result.plan
    assert again is not None
    piece, lying = next(iter(standing.lying.items()))
    other = next(s for s in again.stays if s.piece != piece and s.since > NOW)
    onto = replace(other, table=lying.table, at=lying.at, since=NOW, until=NOW + 30)
    broken = replace(again, stays=tuple(onto if s is other else s for s in again.stays))
    assert "no touching" in {
        f.rule for f in audit(PROBLEM, broken, done=standing.done, now=NOW, standing=standing)
    }


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(now=st.integers(8 * 60, 5 * 1440), away=st.booleans(), late=st.integers(0, 3))
def test_whatever_the_moment_planning_again_goes_on_from_how_things_stand(
    now: int, away: bool, late: int
) -> None:
    """Some of what is done ended a little later than planned; somebody may be away tomorrow."""
    done = {
        key: (start, min(end + late, now))
        for key, (start, end) in done_by(GOOD, now).items()
        if end + late <= now
    }
    problem = PROBLEM
    if away:
        tomorrow = date(2026, 3, 3) if now < 1440 else date(2026, 3, 4)
        problem = person_away(PROBLEM, "p2", {tomorrow})
    again = replan(problem, GOOD, done, now, seconds=0.2)
    assert again.result.plan is not None
    believed = {key: took for key, took in done.items() if key not in again.again}
    standing = standing_of(problem, GOOD, believed, now)
    assert audit(problem, again.result.plan, done=standing.done, now=now, standing=standing) == ()


def test_the_plan_is_followed_where_nothing_happens() -> None:
    done = done_by(GOOD, NOW)
    again = replan(PROBLEM, GOOD, done, NOW, seconds=1.5)
    assert again.keeps is not None
    assert again.keeps.days >= 0.8
    assert again.keeps.hands >= 0.8
