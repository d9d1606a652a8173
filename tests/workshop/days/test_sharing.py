"""Several open jobs in one shop, on the pages: planned around each other, all anew by rank, in the calendar, and room for another."""

from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from bench.doubles import doubles
from hidewright.planning.change import shared as engine
from hidewright.planning.change.whatif import CHANGES, what_ifs
from hidewright.workshop.days import around_actions, what_if_actions, whole_actions
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.queries import plan_row, problem_of
from hidewright.workshop.days.sharing_queries import first_day, shared
from hidewright.workshop.days.weeks_queries import weeks
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, Run, RunState

pytestmark = pytest.mark.django_db(transaction=True)

MONDAY = date(2026, 3, 2)
PIECES = "key,name,shape,length,width\nP1,seat,panel,900,600\nP2,back,panel,900,600\n"


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch, quick_planning: None) -> None:
    """A shop of one table and the people of the demonstration, early on a Monday, in which planning takes a moment."""
    from hidewright import demo

    now = datetime(2026, 3, 2, 7).replace(tzinfo=timezone.get_current_timezone())
    monkeypatch.setattr(timezone, "now", lambda: now)
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    for module, name in (
        (around_actions, "plan_around"),
        (whole_actions, "plan_anew"),
    ):
        thinking = getattr(engine, name)

        def quick(*args: Any, thinking: Any = thinking, **how: Any) -> Any:
            return thinking(*args, **{**how, "seconds": 0.3})

        monkeypatch.setattr(module, name, quick)


def small_job(name: str, rank: int | None = None) -> Job:
    """A job of two pieces."""
    job = open_job(name, starts=MONDAY, promised=MONDAY + timedelta(days=40), rank=rank)
    import_csv(job, PIECES)
    return job


def plan_now(visitor: Client, job: Job, how: str = "anew") -> Plan:
    answer = visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10", "how": how})
    assert answer.status_code == 302, answer.content.decode()
    run = job.runs.first()
    assert run is not None
    assert run.state == RunState.DONE, run.error
    row = plan_row(job)
    assert row is not None
    return row


def counted() -> list[str]:
    """What the plans in force hold twice, counted minute by minute."""
    racks = next(problem_of(one.job).rack for one in shared())
    plans = {one.label: (first_day(one.job, one.row), one.plan) for one in shared()}
    return doubles(plans, 10**6 if racks is None else racks)


def test_a_second_job_goes_around_the_first_and_says_so(
    visitor: Client, shop: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(what_if_actions, "what_ifs", partial(what_ifs, changes=CHANGES[:1]))
    first, second = small_job("Car"), small_job("Boat")
    plan_now(visitor, first)
    row = plan_now(visitor, second)
    assert len(shared()) == 2
    assert counted() == []
    assert row.facts["around"] == ["Car"]
    assert row.facts["odds"], "the day has its odds"
    page = visitor.get(f"/jobs/{second.pk}/days/").content.decode()
    assert "Planned around what Car holds" in page
    assert "held twice" not in page
    again = plan_now(visitor, second, "keep")
    assert counted() == []
    assert again.facts["untouched"] >= 2
    assert visitor.post(f"/jobs/{second.pk}/days/what-if/").status_code == 302
    what_if = second.runs.filter(kind="days.what_if").get()
    assert what_if.state == RunState.DONE, what_if.error


def copied(row: Plan, job: Job) -> Plan:
    """The plan of another job as if this one had been planned without a look at it."""
    return Plan.objects.create(job=job, data=row.data, facts=row.facts, finish=row.finish, bound=row.bound)


def test_two_plans_that_hold_the_same_are_named_and_planned_apart(visitor: Client, shop: None) -> None:
    first, second = small_job("Car"), small_job("Boat", rank=1)
    copied(plan_now(visitor, first), second)
    assert counted() != []
    pages = [visitor.get(url).content.decode() for url in (f"/jobs/{first.pk}/days/", "/weeks/")]
    for page in pages:
        assert "held twice" in page
        assert "Car comes later in the order" in page
    plan_now(visitor, first, "keep")
    assert counted() == []
    assert "held twice" not in visitor.get("/weeks/").content.decode()


def test_all_open_jobs_are_planned_anew_by_rank_in_one_act(visitor: Client, shop: None) -> None:
    first, second, bare = small_job("Car"), small_job("Boat", rank=1), open_job("Bare", starts=MONDAY)
    before = plan_now(visitor, first)
    assert visitor.post("/weeks/plan/", {"all-seconds": "60"}).status_code == 302
    run = Run.objects.get(kind="days.all")
    assert run.state == RunState.DONE, run.error
    rows = {one.job.pk: one.row for one in shared()}
    assert set(rows) == {first.pk, second.pk}
    assert counted() == []
    assert rows[second.pk].finish <= rows[first.pk].finish, "rank 1 goes first"
    assert rows[first.pk] != before
    page = visitor.get("/weeks/").content.decode()
    assert "Left out:" in page
    assert bare.name in page
    # All of it is one act: one undo takes all plans back, one drop does too.
    acts.undo(Act.objects.get(undo_name="days.plans").pk)
    assert [one.row.pk for one in shared()] == [before.pk]
    Plan.objects.update(withdrawn=None)
    assert visitor.post(f"/weeks/plan/{run.pk}/drop/").status_code == 302
    assert [one.row.pk for one in shared()] == [before.pk]
    acts.undo(Act.objects.filter(undo_name="days.plans").order_by("-pk")[0].pk)
    assert {one.row.pk for one in shared()} == {row.pk for row in rows.values()}


def test_a_job_in_zones_shares_the_calendar(visitor: Client, shop: None) -> None:
    plan_now(visitor, small_job("Car"))
    seats = open_job("Seats", starts=MONDAY, promised=MONDAY + timedelta(days=40), rank=1)
    import_csv(
        seats,
        "key,name,shape,length,width,zones\nS1,seat,panel,900,600,"
        '"sides 45 %, not sat on, mask back and face, 12 min; back and face 55 %, mask sides"\n',
    )
    row = plan_now(visitor, seats)
    assert counted() == []
    assert visitor.post("/weeks/plan/", {"all-seconds": "60"}).status_code == 302
    assert counted() == []
    own = next(one.plan for one in shared() if one.job == seats)
    stays = {stay.pass_key: stay for stay in own.stays}
    assert (stays["zone1"].table, stays["zone1"].at) == (stays["zone2"].table, stays["zone2"].at)
    assert stays["zone1"].until == stays["zone2"].since
    assert row.facts["around"] == ["Car"]
    page = visitor.get("/weeks/").content.decode()
    assert "Seats" in page
    assert "held twice" not in page
    day = visitor.get(f"/jobs/{seats.pk}/days/").content.decode()
    assert "back and face" in day


def test_room_for_another_names_a_day_to_begin_and_one_to_promise(visitor: Client, shop: None) -> None:
    job = small_job("Car")
    held = plan_now(visitor, job)
    page = visitor.get("/weeks/").content.decode()
    assert "Another interior like" in page
    answer = visitor.post("/weeks/room/", {"room-job": str(job.pk), "room-start": "2026-03-04"})
    assert answer.status_code == 302
    run = Run.objects.get(kind="days.room")
    assert run.state == RunState.DONE, run.error
    assert run.result is not None
    begin, sure = (date.fromisoformat(run.result[name]) for name in ("begin", "sure"))
    assert date(2026, 3, 4) <= begin <= sure
    assert run.result["bound"] <= run.result["finish"]
    assert Plan.objects.count() == 1, "nothing was kept"
    page = visitor.get("/weeks/").content.decode()
    assert "you could promise" in page
    assert "plans have changed since" not in page
    held.delete()
    assert "plans have changed since" in visitor.get("/weeks/").content.decode()
    assert visitor.post("/weeks/room/", {"room-job": "999", "room-start": ""}).status_code == 422


def test_the_weeks_show_the_hours_of_the_plans(visitor: Client, shop: None) -> None:
    assert visitor.get("/weeks/").status_code == 200
    plan_now(visitor, small_job("Car"))
    plan = shared()[0].plan
    shown, pages = weeks(1)
    assert pages == 1
    minutes = sum(p.end - p.start for p in plan.placements if p.start < 7 * 24 * 60)
    problem = problem_of(shared()[0].job)
    whole = sum(
        b - a for person in problem.people for a, b in problem.calendar.stretches(person) if b <= 7 * 24 * 60
    )
    assert shown[0].percent == round(100 * minutes / whole)
    assert {line.name for line in shown[0].people} == {person.name for person in problem.people}


def test_the_calendar_asks_as_much_with_thirty_jobs_as_with_two(visitor: Client, shop: None) -> None:
    first = small_job("Car")
    row = plan_now(visitor, first)
    jobs = [small_job("Boat 0")]
    copied(row, jobs[0])
    urls = ("/weeks/", f"/jobs/{first.pk}/days/")

    def questions() -> list[int]:
        counts = []
        for url in urls:
            assert visitor.get(url).status_code == 200
            with CaptureQueriesContext(connection) as asked:
                assert visitor.get(url).status_code == 200
            counts.append(len(asked))
        return counts

    few = questions()
    for n in range(1, 30):
        copied(row, Job.objects.create(name=f"Boat {n}", starts=MONDAY))
    assert len(shared()) == 31
    assert questions() == few
    assert few[0] <= 25
