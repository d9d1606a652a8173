"""Work of days before that nobody tapped: asked about on the pages, not believed by the plans of other jobs, and answered with one tap."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from hidewright import demo
from hidewright.planning.change import shared as engine
from hidewright.workshop.days import around_actions
from hidewright.workshop.days.models import Plan, Tap, TapKind
from hidewright.workshop.days.queries import plan_row
from hidewright.workshop.days.sharing_queries import first_day, owed_lines, schedules_of, shared
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop.models import Act, Job, RunState
from hidewright.workshop.shop.undo import undo

pytestmark = pytest.mark.django_db(transaction=True)

MONDAY = datetime(2026, 3, 2, 7)
PIECES = "key,name,shape,length,width\nP1,seat,panel,900,600\nP2,back,panel,900,600\n"


def quick(*args: Any, **how: Any) -> engine.JobPlan:
    return engine.plan_around(*args, **{**how, "seconds": 0.3})


def clock(monkeypatch: pytest.MonkeyPatch, moment: datetime) -> None:
    now = timezone.make_aware(moment)
    monkeypatch.setattr(timezone, "now", lambda: now)


def planned(visitor: Client, name: str) -> tuple[Job, Plan]:
    job = open_job(name, starts=timezone.localdate(), promised=None)
    import_csv(job, PIECES)
    visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10", "how": "anew"})
    run = job.runs.get(kind="days.plan")
    assert run.state == RunState.DONE, run.error
    row = plan_row(job)
    assert row is not None
    return job, row


def begins(row: Plan) -> datetime:
    """When the first work of a plan begins."""
    one = next(one for one in shared() if one.row.pk == row.pk)
    first = min(p.start for p in schedules_of((one,))[row.pk].placements)
    return datetime.combine(first_day(one.job, row), datetime.min.time()) + timedelta(minutes=first)


def test_what_nobody_tapped_is_asked_about_and_keeps_its_hands(
    visitor: Client, quick_planning: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock(monkeypatch, MONDAY)
    monkeypatch.setattr(around_actions, "plan_around", quick)
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), "key,name,off,skills\nimre,Imre (invented),,\n")
    car, row = planned(visitor, "Car")
    assert owed_lines() == ()
    later = datetime.combine(row.finish, datetime.min.time()) + timedelta(days=1, hours=7)
    clock(monkeypatch, later)
    (line,) = owed_lines()
    schedule = next(one for one in shared() if one.job.pk == car.pk).plan
    assert (line.steps, line.minutes) == (
        len(schedule.placements),
        sum(p.end - p.start for p in schedule.placements),
    )
    boat, believed = planned(visitor, "Boat")
    kept = begins(believed)
    for address in ("/weeks/", f"/jobs/{boat.pk}/days/"):
        page = visitor.get(address).content.decode()
        assert "these done?" in page, address
        assert f"{line.steps} steps" in page, address
    answer = visitor.post(f"/jobs/{car.pk}/days/as-planned/", {"back": "/weeks/"})
    assert answer["Location"] == "/weeks/"
    assert owed_lines() == ()
    assert Tap.objects.filter(job=car, kind=TapKind.DONE).count() == line.steps
    assert "these done?" not in visitor.get("/weeks/").content.decode()
    visitor.post(f"/jobs/{boat.pk}/days/withdraw/")
    visitor.post(f"/jobs/{boat.pk}/days/plan/", {"seconds": "10", "how": "anew"})
    free = plan_row(boat)
    assert free is not None
    assert begins(free) < kept, "hands were kept free until somebody said that the work was done"
    act = Act.objects.filter(job=car, undone=None).first()
    assert act is not None
    undo(act.pk)
    assert [again.steps for again in owed_lines()] == [line.steps]
    refused = visitor.post(f"/jobs/{boat.pk}/days/as-planned/")
    assert refused.status_code == 302
    assert not Tap.objects.filter(job=boat).exists()
