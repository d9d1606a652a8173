"""What changed in the room since the plan was made is said on the page, and planning again takes it in."""

from collections.abc import Callable
from datetime import date, time, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright import demo
from hidewright.workshop.days import actions as days
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days.changes import changed_for_all, changed_since
from hidewright.workshop.front import shop_actions as shop_steps
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.room import absence_actions as absences
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.changes import differences
from hidewright.workshop.room.models import Hours, WorkTable
from hidewright.workshop.room.queries import room_rules
from hidewright.workshop.shop.models import Job, Person

pytestmark = pytest.mark.django_db(transaction=True)


def tomorrow() -> date:
    return timezone.localdate() + timedelta(days=1)


@pytest.fixture
def planned(visitor: Client, job: Job, quick_planning: None) -> Job:
    """A small job that starts today, planned in a moment."""
    Job.objects.filter(pk=job.pk).update(starts=timezone.localdate(), promised=None)
    job.refresh_from_db()
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    import_csv(job, "\n".join(demo.text("pieces.csv").splitlines()[:6]))
    assert visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10", "how": "anew"}).status_code == 302
    run = job.runs.first()
    assert run is not None
    assert run.state == "done", run.error
    assert behind(job) == ()
    return job


def behind(job: Job) -> tuple[str, ...]:
    row = gather.plan_row(job)
    assert row is not None
    return changed_since(job, row)


def rowan() -> Person:
    return Person.objects.get(key="rowan")


def away(job: Job) -> None:
    absences.add_absence(rowan(), tomorrow(), tomorrow() + timedelta(days=9), why="flu")


def closed(job: Job) -> None:
    absences.add_absence(None, tomorrow())


def gone(job: Job) -> None:
    shop_steps.remove_person(rowan())


def more(job: Job) -> None:
    shop_steps.add_person("Zoe")


def hours(job: Job) -> None:
    room.set_week(rowan(), {0: [(time(9), time(12))]})


def table(job: Job) -> None:
    room.remove_table(WorkTable.objects.get(key="short"))


def promised(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(promised=timezone.localdate() + timedelta(days=30))
    job.refresh_from_db()


def damp(job: Job) -> None:
    rules = room_rules()
    rules.humidity = 0.8
    rules.save()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (away, "Rowan (invented) is away from"),
        (closed, "nobody works on"),
        (gone, "Rowan (invented) does not work here any more"),
        (more, "Zoe works here too"),
        (hours, "Rowan (invented) works other hours"),
        (table, "the table Short table is gone"),
        (promised, "it must leave on"),
        (damp, "times their usual time, not 1.00"),
    ],
)
def test_each_change_of_the_room_is_said(
    visitor: Client, planned: Job, change: Callable[[Job], None], words: str
) -> None:
    change(planned)
    told = behind(planned)
    assert any(words in line for line in told), told
    page = visitor.get(f"/jobs/{planned.pk}/days/").content.decode()
    assert "The plan does not know of this yet" in page


def test_planning_again_takes_the_helper_s_day_off_in(visitor: Client, planned: Job) -> None:
    away(planned)
    visitor.post(f"/jobs/{planned.pk}/days/plan/", {"seconds": "10", "how": "keep"})
    assert behind(planned) == ()
    shown = gather.plan_in_force(planned)
    assert shown is not None
    gone = [tomorrow() + timedelta(days=number) for number in range(10)]
    assert not [a for a in shown.acts if a.person.startswith("Rowan") and a.start.date() in gone]


def test_a_change_of_the_room_concerns_every_piece_and_a_wait_only_its_own(
    visitor: Client, planned: Job
) -> None:
    """What holds for all is not told as if some pieces were not concerned."""
    row = gather.plan_row(planned)
    assert row is not None
    piece = sorted(row.facts["slack"])[0]
    days.hold(planned, piece, "inspect", tomorrow(), "the photo")
    assert changed_for_all(planned, row) == ()
    table(planned)
    assert changed_for_all(planned, row) == ("the table Short table is gone",)
    visitor.post(f"/jobs/{planned.pk}/days/plan/", {"seconds": "10", "how": "keep"})
    page = visitor.get(f"/jobs/{planned.pk}/days/").content.decode()
    assert "What changed concerns every piece: the table Short table is gone." in page
    assert "does not concern" not in page


def test_a_shop_that_lost_its_hours_is_told_and_the_page_stands(visitor: Client, planned: Job) -> None:
    Hours.objects.all().delete()
    assert behind(planned) == ("The shop has no hours yet.",)
    assert visitor.get(f"/jobs/{planned.pk}/days/").status_code == 200


def test_a_day_off_that_is_over_says_nothing() -> None:
    person = {"week": {}, "off": [], "skills": None}
    then = {
        "people": {"Ana": person}, "tables": {}, "closed": [], "guns": 1, "fan_off": [], "rack": None,
        "factor": 1.0, "promised": "",
    }  # fmt: skip
    now = {**then, "people": {"Ana": {**person, "off": ["2026-03-02", "2026-03-09"]}}}
    assert list(differences(then, now, date(2026, 3, 5))) == ["Ana is away on Mon 9 Mar"]
    assert list(differences(now, then, date(2026, 3, 5))) == ["Ana is there on Mon 9 Mar after all"]
    weeks = {**then, "people": {"Ana": {**person, "off": [["2026-03-02", "2026-03-13", 780]]}}}
    assert list(differences(now, weeks, date(2026, 3, 5))) == [
        "Ana is away from Thu 5 Mar to Sun 8 Mar",
        "Ana is away from Tue 10 Mar to Fri 13 Mar",
    ], "Mon 9 Mar was known before; stretches are said as stretches"
    early = {**then, "closed": [["2026-03-06", "2026-03-06", 720]]}
    assert list(differences(then, early, date(2026, 3, 5))) == ["nobody works on Fri 6 Mar from 12:00"]
    assert list(differences(then, {**then, "guns": 2, "fan_off": [4, 5], "rack": 8}, date(2026, 3, 5))) == [
        "2 spray guns in use at once, not 1",
        "the fan is off on the nights of Fri, Sat",
        "the racks hold 8",
    ]
