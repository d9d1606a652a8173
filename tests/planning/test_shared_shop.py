"""Several jobs in one shop: nothing is held twice at any minute, counted here by code that knows neither planner nor audit."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bench.doubles import doubles
from bench.interiors import interior
from hidewright.planning.change.shared import plan_anew, plan_around
from hidewright.planning.change.together import Share, joined
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.calendar import DAY, Calendar
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.planner import plan
from hidewright.refusals import Refusal
from planning import zoned_room

MONDAY = date(2026, 3, 2)
MORNING = datetime(2026, 3, 2)


def job(seed: int, size: int = 6, start: date = MONDAY) -> Problem:
    """A small interior in the one shop of these tests: two people, three tables, one gun, six places in the racks."""
    room = interior(6, 0)
    return replace(
        interior(size, seed),
        people=room.people,
        tables=room.tables,
        calendar=Calendar(start),
        guns=1,
        rack=6,
        promised=None,
    )


def share(name: str, problem: Problem, before: Plan | None = None) -> Share:
    return Share(name, problem, before, loose=before is None)


def alone(problem: Problem) -> Plan:
    found = plan(problem, seconds=0.2).plan
    assert found is not None
    return found


def test_the_counting_sees_what_two_plans_hold_twice() -> None:
    same = alone(job(1))
    told = doubles({"A": (MONDAY, same), "B": (MONDAY, same)}, 6)
    assert any("A and B" in words for words in told)
    assert doubles({"A": (MONDAY, same), "B": (MONDAY + timedelta(days=56), same)}, 6) == []


def test_a_second_job_goes_around_the_first_and_may_keep_the_same_marks() -> None:
    first, second = job(1), job(2)
    held = alone(first)
    made = plan_around(share("Two", second), [share("One", first, held)], MORNING, seconds=0.5)
    assert made.result.plan is not None
    assert made.result.finish_day is not None
    assert {p.operation for p in made.result.plan.placements} == {o.key for _, o in second.operations()}
    assert doubles({"One": (MONDAY, held), "Two": (MONDAY, made.result.plan)}, 6) == []
    assert made.result.bound_day is not None
    assert made.result.bound_day <= made.result.finish_day
    assert made.result.odds is not None, "the day of the second job has its odds"
    assert made.result.odds.sure >= made.result.odds.likely


def test_the_hours_that_others_hold_count_in_the_bound() -> None:
    # A twin of a job that fills the shop cannot end on the day on which it could alone.
    first = job(3, 14)
    held = alone(first)
    by_itself = plan(first, seconds=0.2)
    made = plan_around(share("Two", first), [share("One", first, held)], MORNING, seconds=0.2)
    assert made.result.bound_day is not None
    assert by_itself.bound_day is not None
    assert made.result.bound_day >= by_itself.bound_day
    assert made.result.finish_day is not None
    assert by_itself.finish_day is not None
    assert made.result.finish_day > by_itself.finish_day


def test_all_anew_by_rank_puts_the_better_rank_first() -> None:
    parts = [replace(share(name, job(seed)), rank=rank) for name, seed, rank in (("A", 4, 2), ("B", 4, 1))]
    made, bound = plan_anew(parts, MORNING, seconds=1)
    plans = {key: (MONDAY, each.result.plan) for key, each in made.items() if each.result.plan is not None}
    assert set(plans) == {"A", "B"}
    assert doubles(plans, 6) == []
    assert plans["B"][1].finish < plans["A"][1].finish
    assert all(each.result.odds is not None for each in made.values()), "each plan has its odds"
    ends = [each.result.finish_day for each in made.values() if each.result.finish_day is not None]
    assert bound <= max(ends)


def test_planning_again_while_the_work_goes_on_keeps_what_is_done_and_what_lies() -> None:
    first, second = job(1), job(2)
    held = alone(first)
    own = plan_around(share("Two", second), [share("One", first, held)], MORNING, seconds=0.3).result.plan
    assert own is not None
    noon = 12 * 60 + 24 * 60
    done = {p.operation: (p.start, p.end) for p in own.placements if p.end <= noon}
    assert done
    later = Share("Two", second, own, done=done)
    made = plan_around(
        later, [share("One", first, held)], MORNING + timedelta(minutes=noon), seconds=0.5, keep=True
    )
    assert made.result.plan is not None
    left = {p.operation: p for p in made.result.plan.placements}
    assert all(
        (left[key].start, left[key].end) == took for key, took in done.items() if key not in made.again
    )
    assert all(p.start >= noon for key, p in left.items() if key not in done)
    plans = {"One": (MONDAY, held), "Two": (MONDAY, made.result.plan)}
    assert doubles(plans, 6) == []


@pytest.mark.parametrize("noon", [600, 2040, 2160, 2400])
def test_a_job_under_way_goes_on_beside_one_whose_work_nobody_tapped(noon: int) -> None:
    for seed in (4, 6):
        first, second = job(seed), job(seed + 1)
        held = plan(first, seconds=0).plan
        assert held is not None
        assert any(p.end <= noon for p in held.placements), "the first job owes work"
        one = share("One", first, held)
        own = plan_around(share("Two", second), [one], MORNING, seconds=0).result.plan
        assert own is not None
        done = {p.operation: (p.start, p.end) for p in own.placements if p.end <= noon}
        going = [p for p in own.placements if p.start < noon < p.end]
        later, moment = Share("Two", second, own, done=done), MORNING + timedelta(minutes=noon)
        made = plan_around(later, [one], moment, seconds=0, keep=True).result.plan
        assert made is not None
        after = {p.operation: (p.person, p.end) for p in made.placements}
        assert all(after[p.operation] == (p.person, p.end) for p in going)


@pytest.fixture(scope="module")
def begun_jobs() -> dict[str, tuple[Problem, Plan]]:
    """Two jobs of ten pieces whose work lies on the tables side by side."""
    first, second = job(1, 10), job(2, 10)
    held = plan(first, seconds=0).plan
    assert held is not None
    made = plan_around(share("Two", second), [share("One", first, held)], MORNING, seconds=0)
    assert made.result.plan is not None
    return {"One": (first, held), "Two": (second, made.result.plan)}


@pytest.mark.parametrize("place", [0.15, 0.4, 0.65, 0.9])
def test_all_anew_goes_on_with_what_somebody_is_at(
    begun_jobs: dict[str, tuple[Problem, Plan]], place: float
) -> None:
    windows = {o.key: o.window for problem, _ in begun_jobs.values() for _, o in problem.operations()}
    moments = sorted(
        p.start + 1
        for _, held in begun_jobs.values()
        for p in held.placements
        if p.end - p.start > 2 and windows[p.operation] is None and p.start > DAY
    )
    now = moments[int(place * len(moments))]
    shares, at_work = [], {}
    for rank, (name, (problem, held)) in enumerate(begun_jobs.items()):
        done = {p.operation: (p.start, p.end) for p in held.placements if p.end <= now}
        shares.append(Share(name, problem, held, done=done, rank=rank, loose=True))
        for p in held.placements:
            # What must be followed within a window is left half done, and begun anew with that.
            if p.start < now < p.end and windows[p.operation] is None:
                at_work[name, p.operation] = p
    assert at_work
    made, _ = plan_anew(shares, MORNING + timedelta(minutes=now), seconds=0)
    plans = {name: each.result.plan for name, each in made.items() if each.result.plan is not None}
    for (name, operation), p in at_work.items():
        after = next(q for q in plans[name].placements if q.operation == operation)
        assert (after.start, after.end, after.person) == (p.start, p.end, p.person)
    still = {
        name: Plan(tuple(p for p in each.placements if p.end > now), each.stays)
        for name, each in plans.items()
    }
    moment = MORNING + timedelta(minutes=now)
    assert doubles({name: (MONDAY, each) for name, each in still.items()}, 6, moment) == []


def test_pieces_in_zones_go_around_another_job_and_all_anew_on_their_own_spot() -> None:
    room = job(1, 4)
    zoned = replace(zoned_room.PROBLEM, people=room.people, tables=room.tables, rack=6)
    held = alone(room)
    own = plan_around(share("Seats", zoned), [share("One", room, held)], MORNING, seconds=0).result.plan
    made, _ = plan_anew([share("One", room), replace(share("Seats", zoned), rank=1)], MORNING, seconds=0)
    anew = {name: each.result.plan for name, each in made.items()}
    for first, seats in ((held, own), (anew["One"], anew["Seats"])):
        assert first is not None
        assert seats is not None
        assert zoned_room.wrong_by_hand(seats) == []
        assert doubles({"One": (MONDAY, first), "Seats": (MONDAY, seats)}, 6) == []


def test_marks_and_minutes_come_back_as_they_were() -> None:
    later = MONDAY + timedelta(days=3)
    one, two = job(1), job(1, start=later)
    plans = {"One": alone(one), "Two: b": alone(two)}
    whole = joined([share("One", one, plans["One"]), share("Two: b", two, plans["Two: b"])])
    split = whole.split(whole.before)
    for key, each in plans.items():
        assert set(split[key].placements) == set(each.placements)
        assert set(split[key].stays) == set(each.stays)
    with pytest.raises(Refusal, match="same name"):
        joined([share("One", one, plans["One"]), share("One", two, plans["Two: b"])])


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    seeds=st.lists(st.integers(0, 400), min_size=2, max_size=3, unique=True),
    sizes=st.tuples(*[st.integers(1, 7)] * 3),
    days=st.tuples(*[st.integers(0, 4)] * 3),
)
def test_nothing_is_held_twice_whatever_the_jobs(
    seeds: list[int], sizes: tuple[int, ...], days: tuple[int, ...]
) -> None:
    shares: list[Share] = []
    starts = {}
    for number, seed in enumerate(seeds):
        start = MONDAY + timedelta(days=days[number])
        starts[f"J{number}"] = start
        new = share(f"J{number}", job(seed, sizes[number], start))
        made = plan_around(new, shares, MORNING, seconds=0.2).result.plan
        assert made is not None
        shares.append(replace(new, before=made, loose=False))
    plans = {each.key: (starts[each.key], each.before) for each in shares if each.before is not None}
    assert len(plans) == len(seeds)
    assert doubles(plans, 6) == []
