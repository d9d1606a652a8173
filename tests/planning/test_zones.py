"""Pieces in zones: each zone a pass on one spot, one after the other; broken plans are noticed; planning again keeps the spot.

The check of a plan is written out here by hand, from the list of zones alone: it knows neither planner nor audit.
"""

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hidewright.planning.change.replan import replan
from hidewright.planning.change.standing import standing_of
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Placement, Plan
from hidewright.planning.problem.model import COATS
from hidewright.planning.solve.bound import lower_bound
from planning.zoned_room import PROBLEM, good, seat, wrong_by_hand

MONDAY_NIGHT = 17 * 60


def test_zones_are_coated_one_after_the_other_on_one_spot() -> None:
    plan = good()
    assert audit(PROBLEM, plan) == ()
    assert wrong_by_hand(plan) == []
    nights = {p.pass_key: (p.start - 8 * 60) // 1440 for p in plan.of_piece("S1") if p.kind in COATS}
    assert nights["zone1"] < nights["zone2"], "a coat cures over night before the next zone is masked"
    bound = lower_bound(PROBLEM)
    assert bound.day <= (plan.finish - 1) // 1440


def test_minutes_come_by_share_and_masking_as_it_was_written() -> None:
    of = {o.key: o.minutes for _, o in PROBLEM.operations()}
    assert of["S1/zone1/mask"] == 12
    assert of["S1/zone1/spray colour"] == round(1.5 + 5 * 0.45 * 1.4)
    assert of["S1/zone2/spray colour"] == round(1.5 + 5 * 0.55 * 1.4)
    assert "T1/zone2/mask" not in of, "nothing is masked for it"
    assert "S1/zone1/wipe in colour" not in of, "nobody sits on it"
    assert "S1/zone2/wipe in colour" in of
    assert seat("S1").area_in("zone1") + seat("S1").area_in("zone2") == pytest.approx(1.4)


def test_a_piece_without_zones_is_what_it_was() -> None:
    cushion = PROBLEM.job("C1")
    assert cushion.passes == ("front", "back", "end")
    assert cushion.stays == frozenset()
    assert PROBLEM.job("T1").stays == {"zone2"}


def moved(plan: Plan, pass_key: str, by: int, piece: str = "S1") -> Plan:
    """All work of one pass of a piece so much later, with its stay."""
    placements = tuple(
        replace(p, start=p.start + by, end=p.end + by, dry_until=p.dry_until + by)
        if (p.piece, p.pass_key) == (piece, pass_key)
        else p
        for p in plan.placements
    )
    stays = tuple(
        replace(s, since=s.since + by, until=s.until + by)
        if (s.piece, s.pass_key) == (piece, pass_key)
        else s
        for s in plan.stays
    )
    return Plan(placements, stays)


def turned_wet() -> Plan:
    """The piece is turned for its last zone while the zone before is wet."""
    plan = good()
    last = max(p.end for p in plan.of_piece("T1") if p.pass_key == "zone2")
    return Plan(
        tuple(
            replace(p, start=last + 1, end=last + 2, dry_until=last + 2)
            if p.operation == "T1/zone3/turn"
            else p
            for p in plan.placements
        ),
        plan.stays,
    )


def elsewhere() -> Plan:
    """The second zone of a seat is coated on another spot."""
    plan = good()
    stays = tuple(
        replace(s, at=s.at + 0.01) if (s.piece, s.pass_key) == ("S1", "zone2") else s for s in plan.stays
    )
    return Plan(plan.placements, stays)


def half_coated_away() -> Plan:
    """The seat leaves its spot before the zone on it has cured, and comes back for the next."""
    plan = good()
    stays = tuple(
        replace(s, until=s.until - 60) if (s.piece, s.pass_key) == ("S1", "zone1") else s for s in plan.stays
    )
    return Plan(plan.placements, stays)


def swapped() -> Plan:
    """The zones change places in time."""
    return moved(moved(good(), "zone1", 1440), "zone2", -1440)


def begun_on_wet() -> Plan:
    """The second zone is begun a minute before the first has cured."""
    plan = good()
    mine = plan.of_piece("S1")
    cured = max(p.dry_until for p in mine if p.pass_key == "zone1")
    return moved(plan, "zone2", cured - 1 - min(p.start for p in mine if p.pass_key == "zone2"))


BROKEN: tuple[tuple[str, Callable[[], Plan]], ...] = (
    ("zones in order", swapped),
    ("zones in order", begun_on_wet),
    ("turn after cure", turned_wet),
    ("one stretch", elsewhere),
    ("no move while wet", half_coated_away),
)


@pytest.mark.parametrize(
    ("rule", "broken"), BROKEN, ids=[f"{n} {rule}" for n, (rule, _) in enumerate(BROKEN)]
)
def test_the_audit_notices(rule: str, broken: Callable[[], Plan]) -> None:
    assert rule in {fault.rule for fault in audit(PROBLEM, broken())}


def later(p: Placement, by: int) -> Placement:
    return replace(p, start=p.start + by, end=p.end + by, dry_until=p.dry_until + by)


@settings(max_examples=25, deadline=None)
@given(
    index=st.integers(0, sum(len(job.operations) for job in PROBLEM.jobs) - 1),
    by=st.integers(-3000, 3000).filter(bool),
    at=st.sampled_from([0.0, 0.02]),
)
def test_no_broken_zone_passes_the_audit(index: int, by: int, at: float) -> None:
    plan = good()
    one = plan.placements[index]
    placements = tuple(later(p, by) if p is one else p for p in plan.placements)
    stays = tuple(
        replace(s, at=s.at + at) if (s.piece, s.pass_key) == (one.piece, one.pass_key) else s
        for s in plan.stays
    )
    broken = Plan(placements, stays)
    assert audit(PROBLEM, broken) or not wrong_by_hand(broken)


@pytest.mark.parametrize(("rack", "now"), [(None, MONDAY_NIGHT), (4, MONDAY_NIGHT), (4, 1440 + 11 * 60)])
def test_planning_again_goes_on_where_the_seats_lie(rack: int | None, now: int) -> None:
    """At night between two zones, and in the middle of the second."""
    problem = replace(PROBLEM, rack=rack)
    before = good()
    done = {p.operation: (p.start, p.end) for p in before.placements if p.end <= now}
    assert any("/zone1/" in key for key in done)
    again = replan(problem, before, done, now, seconds=0.5)
    plan = again.result.plan
    assert plan is not None
    standing = standing_of(problem, before, done, now)
    assert audit(problem, plan, done=standing.done, now=now, standing=standing) == ()
    for at_work in standing.placements:
        if at_work.operation in standing.at_work:
            assert at_work in plan.placements, "what somebody is at goes on to its end"
    assert wrong_by_hand(plan) == []
    for piece in ("S1", "S2"):
        was, goes_on = before.stay_of(piece, "zone1"), plan.stay_of(piece, "zone2")
        assert was is not None
        assert goes_on is not None
        assert (was.table, was.at) == (goes_on.table, goes_on.at)
