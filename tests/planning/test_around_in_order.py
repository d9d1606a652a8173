"""One job around another by every list, and the odds of a plan that is carried out in its own order."""

from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest

from bench.doubles import doubles
from bench.interiors import interior
from hidewright.planning.change.around import run_around, shop_days_of
from hidewright.planning.change.holds import Holds, holds_of
from hidewright.planning.change.in_order import odds_in_order
from hidewright.planning.change.owed import owed, with_owed
from hidewright.planning.change.standing import Standing
from hidewright.planning.change.together import Joined, Share, joined
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.calendar import Calendar
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.odds import Spreads
from hidewright.planning.solve.planner import plan
from hidewright.planning.solve.policy import LISTS, Policy
from hidewright.planning.solve.runs import MORNING, plan_of
from hidewright.planning.solve.steps import Shop

MONDAY = date(2026, 3, 2)
NOTHING = Spreads(pace=0, bias=0, snags=0, absence=0, weather=0)


def job(seed: int) -> Problem:
    room = interior(6, 0)
    own = interior(6, seed)
    return replace(
        own, people=room.people, tables=room.tables, calendar=Calendar(MONDAY), guns=1, rack=6, promised=None
    )


@pytest.fixture(scope="module")
def beside() -> tuple[Joined, Plan, Problem, Shop, Holds]:
    """A second job in the hours that a first leaves: both, the first's plan, the second's part, compiled, and what the first holds."""
    held = plan(job(1), seconds=0.1).plan
    assert held is not None
    two = Share("Two", job(2), loose=True)
    joint = joined([two, Share("One", job(1), held)])
    theirs = joint.of(["One"], joint.before)
    holds = holds_of(joint.problem, theirs)
    part = joint.part(two)
    calendar = Calendar(part.calendar.start, part.calendar.holidays, part.calendar.days, held=holds.hands)
    problem = replace(part, calendar=calendar)
    shop = Shop(problem)
    shop_days_of(shop, part, 0)
    return joint, theirs, problem, shop, holds


def test_no_list_holds_twice_what_the_first_job_holds(
    beside: tuple[Joined, Plan, Problem, Shop, Holds],
) -> None:
    _, theirs, _, shop, holds = beside
    runs = [run_around(shop, policy, MORNING, holds) for policy in LISTS]
    plans = [plan_of(shop, found[0]) for found in runs if found is not None]
    assert len(plans) > len(LISTS) / 2
    for each in plans:
        assert len(each.placements) == sum(len(j.operations) for j in shop.jobs)
        assert doubles({"One": (MONDAY, theirs), "Two": (MONDAY, each)}, 6) == []
        own_gun = sorted((p.start, p.end) for p in each.placements if p.gun is not None)
        assert all(a[1] <= b[0] for a, b in pairwise(own_gun))


def test_the_odds_in_order_end_as_planned_where_nothing_scatters_and_later_where_all_is_slow(
    beside: tuple[Joined, Plan, Problem, Shop, Holds],
) -> None:
    _, _, problem, shop, holds = beside
    found = run_around(shop, Policy(opens=(0,)), MORNING, holds)
    assert found is not None
    own = plan_of(shop, found[0])
    planned = problem.calendar.day(own.finish)
    exact = odds_in_order(problem, own, shop, holds, spreads=NOTHING, runs=1)
    assert exact is not None
    assert exact.sure <= planned, "the plan itself is one way of going through its own order"
    spread = odds_in_order(problem, own, shop, holds)
    slow = odds_in_order(problem, own, shop, holds, spreads=Spreads(absence=0.4))
    assert spread is not None
    assert slow is not None
    assert exact.sure <= spread.likely <= spread.sure <= slow.sure
    assert spread.sure < slow.sure
    assert spread == odds_in_order(problem, own, shop, holds), "the same plan has the same odds"


def test_hands_and_places_are_kept_for_what_the_first_job_owes(
    beside: tuple[Joined, Plan, Problem, Shop, Holds],
) -> None:
    joint, theirs, *_ = beside
    now = 3 * 1440
    late = owed(theirs, (), now)
    assert late
    before = holds_of(joint.problem, theirs)
    nothing = Standing(now, (), {}, {}, (), {})
    kept = with_owed(before, joint.problem, theirs, (), nothing)
    for person in joint.problem.people:
        minutes = sum(p.end - p.start for p in late if p.person == person.key)
        hours = {m for a, b in joint.problem.calendar.stretches(person) for m in range(a, b)}
        held = {m for a, b in before.hands.get(person.key, ()) for m in range(a, b)}
        more = {m for a, b in kept.hands.get(person.key, ()) for m in range(a, b)} - held
        assert len(more & hours) == minutes, "as many minutes as the work takes"
        assert min(more, default=now) >= now
        free = sorted(m for m in hours - held if m >= now)[:minutes]
        assert set(free) == more & hours, "the first that are free"
    owing = {p.piece for p in late}
    over = max(b for stretches in kept.hands.values() for _, b in stretches)
    lying = [lain for table in kept.tables.values() for lain in table if lain.until > now]
    assert len(lying) >= len(owing & {s.piece for s in theirs.stays if s.until <= now}) > 0
    assert over > now
    assert with_owed(before, joint.problem, theirs, {p.operation for p in late}, nothing) == before
