"""What is to be touched up later becomes one session of the plan, on one day, and comes out of it again."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.workshop.days.models import Redo
from hidewright.workshop.days.queries import problem_of
from hidewright.workshop.inspection import session_actions, snag_actions
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo

LIST = "key,name,group,shape,length,width\nA1,Seat,Chair,panel,500,400\nA2,Back,Chair,panel,500,400\nB1,Lid,Box,panel,300,200\n"


@pytest.fixture
def noted(job: Job) -> Job:
    """Two things to touch up on A1, one on B1, one that blocks, one that stays, and one on no piece of the list."""
    Job.objects.filter(pk=job.pk).update(starts=timezone.localdate(), promised=None)
    job.refresh_from_db()
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    survey.import_csv(job, LIST)
    for what, piece, weight in (("a", "A1", "later"), ("b", "A1", "later"), ("c", "B1", "later"), ("d", "A2", "blocks"), ("e", "a wall", "later")):  # fmt: skip
        snag_actions.add(job, what, piece=piece, weight=weight)
    stays = snag_actions.add(job, "f", piece="A2", weight="later")
    snag_actions.decide(stays, "leave", version=0)
    return job


def test_they_become_work_of_one_day(visitor: Client, noted: Job) -> None:
    at, day = f"/jobs/{noted.pk}/snags/", timezone.localdate() + timedelta(days=20)
    assert "3 snags wait" in visitor.get(at).content.decode()
    yesterday = timezone.localdate() - timedelta(days=1)
    assert visitor.post(f"{at}touch-ups/", {"session-day": yesterday.isoformat()}).status_code == 422
    assert visitor.post(f"{at}touch-ups/", {"session-day": day.isoformat()}).status_code == 302
    assert sorted(Redo.objects.values_list("piece", "not_before")) == [("A1", day), ("B1", day)]
    problem = problem_of(noted)
    starts = problem.calendar.minutes_of(day)
    again = {o.pass_key: o.release for one in problem.jobs for o in one.operations if one.piece == "A1" and o.pass_key.startswith("redo")}  # fmt: skip
    assert again == {"redo1": starts}
    assert not [
        o for one in problem.jobs if one.piece == "A2" for o in one.operations if "redo" in o.pass_key
    ]
    page = visitor.get(at).content.decode()
    assert "touch-up session" in page
    assert "To touch up later" not in page
    with pytest.raises(Refusal, match="waits to be touched up"):
        session_actions.gather_touch_ups(noted, day)
    undo(Act.objects.filter(undo_name="snags.gather").latest("pk").pk)
    assert not Snag.objects.exclude(touch_up=None).exists()
    assert "3 snags wait" in visitor.get(at).content.decode()
    assert all("redo" not in o.pass_key for one in problem_of(noted).jobs for o in one.operations)
