"""The rest of the job: what a job takes from receiving to loading is planned, audited and counted; plans without it stay as they were."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.interiors import WEEK, interior, pieces
from hidewright.planning.change.replan import replan
from hidewright.planning.change.standing import standing_of
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.plan.sessions import sessions_of
from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.planning.problem.kinds import COATS, OWN, Kind
from hidewright.planning.problem.model import Problem, Table
from hidewright.planning.problem.redo import redo
from hidewright.planning.problem.rest import STARTING, Per, Rest, RestItem, When, shortened
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.planner import plan
from hidewright.refusals import Refusal

REST = Rest()
PROBLEM = interior(16, 3, 2, rest=REST)
RESULT = plan(PROBLEM, seconds=1.5)
assert RESULT.plan is not None
GOOD = RESULT.plan


def by_hand(problem: Problem, bare: Problem) -> float:
    """min that the rest takes, counted from the list and the pieces alone."""
    count = len(bare.jobs)
    repaired = sum(any(o.kind is Kind.REPAIR for o in job.operations) for job in bare.jobs)
    once = {
        "receive": 60 + 4 * count,
        "match": 240,
        "sample": 90,
        "final": 45 + 3 * count,
        "load": 60 + 2 * count,
    }
    each = {"dismantle": 20, "assemble": 20, "detail": 15, "pack": 10}
    return sum(once.values()) + sum(each.values()) * count + 15 * (count - repaired)


def test_hands_come_out_as_counted_by_hand() -> None:
    bare = interior(16, 3, 2)
    assert PROBLEM.minutes - bare.minutes == pytest.approx(by_hand(PROBLEM, bare), abs=1)


def test_plans_without_it_are_the_same_as_ever() -> None:
    bare = interior(16, 3, 2)
    own = {job.piece: [o for o in job.operations if o.kind not in OWN] for job in PROBLEM.jobs}
    for job in bare.jobs:
        assert [replace(o, after=()) for o in own[job.piece]] == list(job.operations)
    assert all(not o.after and not o.name for _, o in bare.operations())


def test_it_is_planned_in_sessions_and_passes_the_audit() -> None:
    assert audit(PROBLEM, GOOD) == ()
    families = {s.family for s in sessions_of(PROBLEM, GOOD)}
    assert {"prep", "mask", "colour", "clear", "finish"} <= families


def test_all_arrives_first_colour_waits_for_the_sample_and_loading_is_last() -> None:
    """Common practice, no source: nothing is begun that was not counted, no colour is laid that was not approved."""
    at = {p.operation: p for p in GOOD.placements}
    named = {
        p.operation.rsplit("/", 1)[1].partition(" · ")[0]: p for p in GOOD.placements if " · " in p.operation
    }
    received, sample, load = named["receive and count"], named["make the sample"], named["load"]
    pieces_ = [p for p in GOOD.placements if p.piece not in ("the job", "colour")]
    assert all(p.start >= received.end for p in pieces_)
    assert all(p.start // 1440 >= sample.end // 1440 + 3 for p in pieces_ if p.kind in COATS)
    assert load.start >= max(p.end for p in GOOD.placements if p is not load)
    for job in PROBLEM.jobs[:16]:
        packed = next(o for o in job.operations if o.name == "pack")
        inspected = next(o for o in job.operations if o.kind is Kind.INSPECT)
        assert at[packed.key].start >= at[inspected.key].end


def moved(plan_: Plan, which: Callable[[object], bool], by: int) -> Plan:
    out = tuple(
        replace(p, start=p.start + by, end=p.end + by, dry_until=p.dry_until + by) if which(p) else p
        for p in plan_.placements
    )
    return replace(plan_, placements=out)


BROKEN = {
    "coated before the sample is approved": lambda p: "make the sample" in p.operation,
    "worked on before it was received": lambda p: "receive and count" in p.operation,
}


@pytest.mark.parametrize("words", BROKEN)
def test_the_audit_notices_what_did_not_wait_for_others(words: str) -> None:
    later = moved(GOOD, BROKEN[words], 7 * 1440)
    assert "after others" in {fault.rule for fault in audit(PROBLEM, later)}


def test_the_audit_notices_loading_before_all_is_done() -> None:
    early = moved(GOOD, lambda p: "/end/load" in p.operation, -1440)  # type: ignore[attr-defined]
    assert {"after others", "order"} & {fault.rule for fault in audit(PROBLEM, early)}


def test_planning_again_goes_on_with_it() -> None:
    now = 2 * 1440 + 11 * 60
    done = {p.operation: (p.start, p.end) for p in GOOD.placements if p.end <= now}
    again = replan(PROBLEM, GOOD, done, now, seconds=2.0)
    assert again.result.plan is not None
    standing = standing_of(PROBLEM, GOOD, done, now)
    assert audit(PROBLEM, again.result.plan, done=frozenset(done), now=now, standing=standing) == ()
    assert not any(stay.pass_key == "start" for stay in again.result.plan.stays)


def test_a_day_keeps_its_morning_and_evening_free() -> None:
    morning, evening = REST.daily
    assert (morning, evening) == (20, 30)
    for p in GOOD.placements:
        assert p.start % 1440 >= 8 * 60 + 20
        assert p.end % 1440 <= 17 * 60 - 30


@given(st.integers(0, 300), st.integers(0, 300))
@settings(max_examples=40)
def test_what_a_day_takes_is_cut_from_its_hours_and_no_more(morning: int, evening: int) -> None:
    person = Person("a", "Ana", WEEK)
    whole = sum(b - a for a, b in WEEK.hours[0])
    if morning + evening >= whole:
        with pytest.raises(Refusal):
            shortened(person, morning, evening)
        return
    left = shortened(person, morning, evening).week.hours[0]
    assert sum(b - a for a, b in left) == whole - morning - evening
    assert all(any(c <= a and b <= d for c, d in WEEK.hours[0]) for a, b in left)


@pytest.mark.parametrize(
    ("hours", "left"),
    [
        (
            {0: ((1320, 1440),), 1: ((0, 360),)},
            {0: ((1340, 1440),), 1: ((0, 330),)},
        ),
        (
            {6: ((1200, 1440),), 0: ((0, 120), (1320, 1440)), 1: ((0, 360),)},
            {6: ((1220, 1440),), 0: ((0, 90), (1340, 1440)), 1: ((0, 330),)},
        ),
    ],
)
def test_a_shift_over_midnight_is_set_up_and_cleaned_once(
    hours: dict[int, tuple[tuple[int, int], ...]], left: dict[int, tuple[tuple[int, int], ...]]
) -> None:
    """By hand: 20 min off the beginning of each shift and 30 off its end; nothing at midnight."""
    assert dict(shortened(Person("a", "Ana", Week(hours)), 20, 30).week.hours) == left


def test_what_failed_is_packed_after_it_has_passed() -> None:
    job = PROBLEM.jobs[0]
    again = redo(job, done=frozenset())
    order = [o.name or str(o.kind) for o in again.operations]
    assert order[-2:] == ["inspect", "pack"]
    packed = next(o.key for o in job.operations if o.name == "pack")
    assert [o.key for o in redo(job, done={packed}).operations].index(packed) < len(job.operations)


def test_a_cabin_of_200_square_feet_takes_several_times_its_coating() -> None:
    """Common practice, no source: from receiving to loading a small cabin takes several times what its coats take."""
    area, kept = 0.0, []
    for piece in pieces(60, 5):
        if area < 18.6:  # 200 ft²
            kept.append(piece)
            area += piece.area
    room = (Table("a", "A", 4.0, 0.9), Table("b", "B", 4.0, 0.9))
    people = (Person("a", "Ana", WEEK), Person("b", "Ben", WEEK))
    bare, whole = (
        build_problem(kept, people, room, Calendar(date(2026, 3, 2)), rest=rest).minutes / 60
        for rest in (None, REST)
    )
    daily = sum(REST.daily) / 60
    whole += daily * whole / (8.5 - daily)  # every person-day of 8.5 h loses this much
    assert 18.6 <= area < 20
    assert 40 <= bare <= 55
    assert 2.5 <= whole / bare <= 6


@pytest.mark.parametrize(
    "wrong",
    [
        {"minutes": -1},
        {"minutes": 9999},
        {"name": "a/b"},
        {"kind": Kind.STRIP},
        {"days": 200},
        {"when": When.MORNING},
        {"per": Per.COLOUR},
        {"name": " "},
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    good = RestItem("a", "sweep", Per.JOB, When.FIRST, 10)
    with pytest.raises(Refusal):
        replace(good, **wrong)  # type: ignore[arg-type]


def test_every_starting_value_lies_within_its_range() -> None:
    assert all(item.low < item.minutes < item.high for item in STARTING)
