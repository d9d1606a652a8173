"""The racks: a piece between its passes takes a place; where there is none it stays on its table, and the work goes on all the same."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bare_room import build_problem, interior
from bench.interiors import MONDAY, WEEK
from hidewright.charts.from_planning import shown
from hidewright.charts.racks import Rack, placed
from hidewright.planning.change.replan import replan
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.racks import rack_use
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.calendar import Calendar, Person
from hidewright.planning.problem.model import Problem, Table
from hidewright.planning.problem.work import WorkPiece
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.listplan import careful, stage_by_stage
from hidewright.planning.solve.planner import plan
from hidewright.refusals import Refusal


def standing(problem: Problem, made: Plan, moment: int) -> set[str]:
    """The pieces that are begun, are not done and lie on no table at a moment, counted as the page does."""
    begun = {p.piece for p in made.placements if p.end <= moment}
    to_come = {p.piece for p in made.placements if p.end > moment}
    return (begun & to_come) - {s.piece for s in made.stays if s.since <= moment < s.until}


def most(problem: Problem, made: Plan) -> int:
    return max(len(standing(problem, made, s.until)) for s in made.stays)


def both_sides(count: int, rack: int | None) -> Problem:
    """Cushions to be coated on both sides, one person, a table that takes two of them."""
    pieces = [
        WorkPiece(f"C{i}", "seat cushion", "g", "leather", "worn", 0.56, 0.54, 0.6, 0.32)
        for i in range(count)
    ]
    table = Table("t", "Table", 1.25, 0.7)
    return build_problem(pieces, [Person("a", "Ann", WEEK)], [table], Calendar(MONDAY), rack=rack)


def test_without_a_place_a_cushion_stays_on_its_table_until_it_is_inspected() -> None:
    """By hand: with no rack at all each of two cushions lies from the first step to the last, and is turned where it lies."""
    problem = both_sides(2, 0)
    made = plan_of(*careful(problem))
    assert audit(problem, made) == ()
    for piece in ("C0", "C1"):
        front, back = (made.stay_of(piece, side) for side in ("front", "back"))
        assert front is not None
        assert back is not None
        assert front.until == back.since
        assert (front.table, front.at) == (back.table, back.at)
        assert back.until == max(p.end for p in made.of_piece(piece))


def test_one_place_lets_another_cushion_onto_the_table() -> None:
    """Four cushions, a table for two: with a rack they pass each other, without one the first two must be done before the others begin."""
    none, some = both_sides(4, 0), both_sides(4, 4)
    stays = plan_of(*careful(none)).stays
    first = {s.piece for s in stays if s.since < 1440}
    done = max(s.until for s in stays if s.piece in first)
    assert len(first) == 2
    assert all(s.since >= done - 60 for s in stays if s.piece not in first)
    assert plan(some, seconds=0.3).finish <= plan(none, seconds=0.3).finish


@pytest.mark.parametrize("rack", [0, 1, 3, 8])
def test_every_planner_keeps_within_the_rack(rack: int) -> None:
    problem = interior(24, 3, 2, rack=rack)
    found = plan(problem, seconds=1).plan
    assert found is not None
    for made in (plan_of(*careful(problem)), plan_of(*stage_by_stage(problem)), found):
        assert audit(problem, made) == ()
        assert most(problem, made) <= rack


def test_a_rack_that_holds_all_changes_nothing() -> None:
    free = interior(24, 3, 2)
    made = plan_of(*careful(free))
    assert most(free, made) > 3
    assert plan_of(*careful(replace(free, rack=24))) == made


def test_the_plan_never_ends_later_than_the_careful_one_in_the_same_racks() -> None:
    for rack in (0, 2, 6):
        problem = interior(30, 1, 2, rack=rack)
        assert plan(problem, seconds=0.5).finish <= careful(problem)[1].finish


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 9), rack=st.integers(0, 6), share=st.floats(0.02, 0.98), less=st.integers(0, 3))
def test_planning_again_keeps_within_the_rack(seed: int, rack: int, share: float, less: int) -> None:
    """Also where places were taken away meanwhile: what stands there stands there, and nothing more is put beside it."""
    problem = interior(9, seed, 1 + seed % 2, rack=rack)
    before = plan_of(*careful(problem))
    now = 480 + int(share * (before.finish - 480))
    done = {p.operation: (p.start, p.end) for p in before.placements if p.end <= now}
    changed = replace(problem, rack=max(0, rack - less))
    found = replan(changed, before, done, now, seconds=0.2)
    assert found.result.plan is not None
    left = frozenset(done) - set(found.again)
    assert audit(changed, found.result.plan, done=left, now=now) == ()
    limit = max(0, rack - less, len(standing(problem, before, now)))
    ends = [s.until for s in found.result.plan.stays if s.until > now]
    assert all(len(standing(changed, found.result.plan, end)) <= limit for end in ends)


def test_a_plan_that_goes_as_planned_stays_as_it_is() -> None:
    problem = interior(16, 2, 2, rack=2)
    before = plan_of(*careful(problem))
    now = 2 * 1440 + 17 * 60
    done = {p.operation: (p.start, p.end) for p in before.placements if p.end <= now}
    assert replan(problem, before, done, now, seconds=1).kept == 1.0


def test_places_that_cannot_be_are_refused() -> None:
    with pytest.raises(Refusal, match="places in the racks"):
        interior(3, 1, 1, rack=-1)
    assert interior(3, 1, 1, rack=0, promised=date(2026, 3, 20)).rack == 0


def test_what_full_racks_cost_is_told() -> None:
    """By hand: two cushions for which there is no rack lie on from the cure of the front to its turning, and from the cure of the back to the end."""
    problem = both_sides(2, 0)
    made = plan_of(*careful(problem))
    used = rack_use(problem, made)
    assert (used.most, used.kept) == (0, ("C0", "C1"))
    lies = sum(s.until - s.since for s in made.stays)
    needed = sum(
        max(p.dry_until for p in made.of_piece(s.piece) if p.pass_key == s.pass_key) - s.since
        for s in made.stays
    )
    assert used.metre_hours == pytest.approx((lies - needed) * (0.54 + 0.05) / 60)
    assert "2 pieces stay on the table" in used.words
    free = both_sides(2, None)
    made = plan_of(*careful(free))
    used = rack_use(free, made)
    assert used.most == max(len(standing(free, made, s.until)) for s in made.stays) == 2
    assert used.words == ""


@pytest.mark.parametrize("places", [4, 9])
def test_every_piece_that_a_plan_puts_off_the_tables_has_a_place_of_its_own(places: int) -> None:
    """What the planner counts, the picture of the racks lays out: nobody is left without a place."""
    problem = replace(interior(24, 2, 3), rack=places)
    made = plan_of(*careful(problem))
    assert audit(problem, made) == ()
    stands = placed(shown(problem, made), [Rack("Wall", places)])
    assert stands
    assert {each.rack for each in stands} == {"Wall"}
    assert max(each.place for each in stands) == rack_use(problem, made).most
