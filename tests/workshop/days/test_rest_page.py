"""What else a job takes: one short list for all jobs, in days and price; and what a job waits for."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.planning.problem.pace import learn
from hidewright.refusals import Refusal
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days import rest_actions as steps
from hidewright.workshop.days import rest_queries as rest
from hidewright.workshop.days.models import Milestone, OtherWork
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.papers.price_queries import options
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job

PIECES = "key,name,group,shape,length,width,material,sat_on\nC1,Seat,Chair,panel,500,400,leather,yes\nC2,Back,Settee,panel,500,400,leather,yes\n"


@pytest.fixture
def small(job: Job) -> Job:
    """Two pieces, a table and somebody who works."""
    import_csv(job, PIECES)
    add_person("Ana")
    room.add_table("Long table", 3.6, 0.9)
    room.set_week(None, {day: room_hours() for day in range(5)})
    return job


def room_hours() -> list[tuple[object, object]]:
    from datetime import time

    return [(time(8), time(17))]


def minutes(job: Job, name: str) -> list[int]:
    return [o.minutes for _, o in gather.problem_of(job).operations() if o.name == name]


def form(**changed: str) -> dict[str, str]:
    return {"version": str(rest.version()), **changed}


def test_minutes_changed_in_place_reach_days_and_price(visitor: Client, small: Job) -> None:
    assert minutes(small, "take apart") == [20, 20]
    before = options(small)[0].rest
    answer = visitor.post("/other-work/set/", form(**{"m-dismantle": "80"}))
    assert answer.status_code == 302
    assert minutes(small, "take apart") == [80, 80]
    weekly, daily = 45.0, 5 * 50 / 60
    grown = (options(small)[0].rest - before) / (weekly / (weekly - daily))
    assert grown == pytest.approx(2 * 60 / 60, abs=0.01)
    page = visitor.get("/other-work/").content.decode()
    assert "set here; the usual figure is 20 min" in page
    acts.undo(Act.objects.first().pk)  # type: ignore[union-attr]
    assert minutes(small, "take apart") == [20, 20]


def test_a_list_changed_on_another_tablet_is_refused(visitor: Client, small: Job) -> None:
    seen = form(**{"m-dismantle": "80"})
    steps.set_rest({"pack": (30.0, 0.0, 0)}, rest.version())
    assert visitor.post("/other-work/set/", seen).status_code == 422
    assert minutes(small, "take apart") == [20, 20]
    assert minutes(small, "pack") == [30, 30]


def test_nought_minutes_is_not_done_here(small: Job) -> None:
    steps.set_rest({"dismantle": (0.0, 0.0, 0), "sample": (0.0, 0.0, 0)}, rest.version())
    assert not minutes(small, "take apart")
    assert not minutes(small, "make the sample")


def test_a_line_of_the_shop_s_own_is_planned_and_taken_off(visitor: Client, small: Job) -> None:
    data = {"name": "wash the covers", "when": "before anything else", "per": "a piece", "minutes": "12"}
    assert visitor.post("/other-work/add/", data).status_code == 302
    assert minutes(small, "wash the covers") == [12, 12]
    assert visitor.post("/other-work/add/", data).status_code == 422
    row = OtherWork.objects.get(name="wash the covers")
    assert visitor.post(f"/other-work/{row.pk}/remove/").status_code == 302
    assert not minutes(small, "wash the covers")


def test_taps_teach_each_name_apart(small: Job) -> None:
    for _, operation in gather.problem_of(small).operations():
        if operation.name == "take apart":
            tap(small, operation.key, "done", operation.key, minutes=60)
    taught = gather.learned_names()
    assert set(taught) == {"take apart"}
    assert taught["take apart"].entries == 2
    factor = learn("take apart", []).factor
    assert taught["take apart"].factor > factor
    assert minutes(small, "take apart")[0] == round(20 * taught["take apart"].factor)
    assert minutes(small, "pack") == [10, 10]


def colour_starts(job: Job) -> dict[str, int]:
    return {
        one.piece: max(o.release for o in one.operations if o.window is not None)
        for one in gather.problem_of(job).jobs
        if any(o.on_table for o in one.operations)
    }


def test_a_milestone_holds_its_pieces_until_it_is_there(visitor: Client, small: Job) -> None:
    Job.objects.filter(pk=small.pk).update(starts=timezone.localdate())
    small.refresh_from_db()
    day = timezone.localdate() + timedelta(days=6)
    data = {"what": "Hides arrive", "before": "the first colour", "day": day.isoformat(), "group": "Chair"}
    assert visitor.post(f"/jobs/{small.pk}/milestones/add/", data).status_code == 302
    assert colour_starts(small) == {"C1": 6 * 1440, "C2": 0}
    page = visitor.get(f"/jobs/{small.pk}/milestones/").content.decode()
    assert "Hides arrive" in page
    row = Milestone.objects.get()
    visitor.post(f"/jobs/{small.pk}/milestones/{row.pk}/")
    assert colour_starts(small) == {"C1": 0, "C2": 0}
    acts.undo(Act.objects.filter(undo_name="rest.milestone").first().pk)  # type: ignore[union-attr]
    assert colour_starts(small) == {"C1": 6 * 1440, "C2": 0}


def test_loading_waits_for_the_truck(small: Job) -> None:
    steps.add_milestone(small, "The truck", "loading", date(2026, 3, 20))
    loads = [o for _, o in gather.problem_of(small).operations() if o.name == "load"]
    assert [o.release for o in loads] == [18 * 1440]


def test_an_approval_with_a_day_is_not_waited_for_twice(small: Job) -> None:
    def wait() -> int:
        return max(o.dry for _, o in gather.problem_of(small).operations() if o.name == "make the sample")

    assert wait() > 1440
    steps.add_milestone(small, "The owner approves", "the first colour", date(2026, 3, 5))
    assert wait() == 0


def test_what_nobody_waits_with_is_refused(small: Job) -> None:
    with pytest.raises(Refusal):
        steps.add_milestone(small, " ", "loading", date(2026, 3, 20))
    with pytest.raises(Refusal):
        steps.add_milestone(small, "The truck", "loading", date(2026, 3, 20), "No such chair")
