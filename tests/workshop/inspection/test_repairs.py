"""A snag decided “repair” is work of its piece: planned before the next coat, tapped with a session, shown repaired, and undone."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.planning.problem.kinds import COATS
from hidewright.refusals import Refusal
from hidewright.workshop.days.changes import changed_since
from hidewright.workshop.days.queries import plan_in_force, plan_row, problem_of
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.inspection import snag_actions as steps
from hidewright.workshop.inspection.models import Decision, Snag
from hidewright.workshop.inspection.repair_actions import RepairWork
from hidewright.workshop.inspection.snag_queries import snags
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.room import actions as room
from hidewright.workshop.sessions.actions import tell
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo

pytestmark = pytest.mark.django_db(transaction=True)

PIECES = """key,name,group,shape,length,width,thickness,material,condition,sat_on,turned,strip
C1,Seat,Chair,panel,500,400,,leather,worn,yes,,
C2,Back,Chair,panel,500,400,,leather,sound,,,
"""
KEY = "C1/repair{}/repair: Seam open · other preparation"


@pytest.fixture
def job(quick_planning: None, only_coating: None, monkeypatch: pytest.MonkeyPatch) -> Job:
    """A job of two pieces that begins today, in a shop that works day and night."""
    made = open_job("A job under test", starts=timezone.localdate())
    room.import_tables("key,name,length,depth\na,Table A,3.6,0.9\n")
    week = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
    hours = "".join(f"{day},00:00-24:00\n" for day in week)
    room.import_hours(f"weekday,hours\n{hours}", "key,name\nana,Ana\n")
    import_csv(made, PIECES)
    return made


def open_seam(job: Job, piece: str = "C1") -> Snag:
    return steps.add(job, "Seam open", piece=piece)


def names(job: Job, piece: str = "C1") -> list[str]:
    return [o.key for o in problem_of(job).job(piece).operations]


def last_undone(job: Job) -> None:
    act = Act.objects.filter(job=job, undone=None).exclude(undo_name="").first()
    assert act is not None
    undo(act.pk)


def key_of(row: Snag) -> str:
    row.refresh_from_db()
    return KEY.format(row.repair_id)


def test_from_decision_to_the_tap_and_back(visitor: Client, job: Job) -> None:
    """Planned, found, decided on the page, planned again, tapped with a session, shown repaired; then undone step by step."""
    where = f"/jobs/{job.pk}/days/plan/"
    visitor.post(where, {"seconds": "10", "how": "anew"})
    first = plan_row(job)
    assert first is not None
    row = open_seam(job)
    before = names(job)
    form = f"s{row.pk}"
    sent = {f"{form}-decision": "repair", f"{form}-minutes": "45", f"{form}-dry": "2"}
    sent |= {f"{form}-family": "other preparation", f"{form}-version": "0", "decide": "1"}
    assert visitor.post(f"/jobs/{job.pk}/snags/{row.pk}/", sent).status_code == 302
    key = key_of(row)
    assert [name for name in names(job) if name != key] == before
    operations = problem_of(job).job("C1").operations
    at = [o.key for o in operations].index(key)
    assert (operations[at].minutes, operations[at].dry) == (45, 120)
    assert at < next(n for n, o in enumerate(operations) if o.kind in COATS)
    assert "C1 Seat: repair: Seam open" in changed_since(job, first)
    page = visitor.get(f"/jobs/{job.pk}/snags/").content.decode()
    assert "45 min" in page
    assert "Plan the days again" in page

    visitor.post(where, {"seconds": "10", "how": "keep"})
    assert job.runs.filter(kind="days.replan").get().state == "done"
    second = plan_in_force(job)
    row_now = plan_row(job)
    assert second is not None
    assert row_now is not None
    act = next(act for act in second.acts if act.key == key)
    assert act.act == "repair: Seam open"
    later = [a for a in second.acts if a.piece == "C1" and a.key.split("/")[-1] in {str(k) for k in COATS}]
    assert later
    assert min(a.start for a in later) >= act.end + timedelta(minutes=120), "it dries before the coat"
    assert not list(changed_since(job, row_now))

    tell(job, [key], "done", "one")
    opened, _ = snags(job)
    assert opened[0].repaired is not None
    assert opened[0].repaired.done
    assert "<strong>Repaired</strong>" in visitor.get(f"/jobs/{job.pk}/snags/").content.decode()
    last_undone(job)
    opened, _ = snags(job)
    assert opened[0].repaired is not None
    assert not opened[0].repaired.done
    plan_undo = Act.objects.filter(job=job, undo_name="snags.stand").first()
    assert plan_undo is not None
    undo(plan_undo.pk)
    assert names(job) == before
    opened, _ = snags(job)
    assert opened[0].repaired is None


@pytest.mark.parametrize("other", [Decision.LEAVE, Decision.ASK, "close", "add"])
def test_what_is_no_longer_to_be_repaired_leaves_the_plan_and_undo_brings_it_back(
    job: Job, other: str
) -> None:
    row = open_seam(job)
    before = names(job)
    steps.decide(row, Decision.REPAIR, version=0)
    key = key_of(row)
    assert key in names(job)
    if other == "close":
        steps.close(row, version=1)
    elif other == "add":
        for _ in range(2):
            last_undone(job)
        assert names(job) == before
        return
    else:
        steps.decide(row, other, version=1)
    assert names(job) == before
    last_undone(job)
    assert names(job) == sorted([*before, key], key=names(job).index)
    assert key in names(job)


def test_decided_once_more_it_takes_the_new_minutes_and_is_not_doubled(job: Job) -> None:
    row = open_seam(job)
    steps.decide(row, Decision.REPAIR, version=0)
    row.refresh_from_db()
    steps.decide(row, Decision.REPAIR, version=1, work=RepairWork(minutes=90))
    mine = [o for o in problem_of(job).job("C1").operations if "repair:" in o.key]
    assert [o.minutes for o in mine] == [90]
    last_undone(job)
    mine = [o for o in problem_of(job).job("C1").operations if "repair:" in o.key]
    assert [o.minutes for o in mine] == [30]


def test_what_was_repaired_stays_done_whatever_is_decided_later(job: Job) -> None:
    row = open_seam(job)
    steps.decide(row, Decision.REPAIR, version=0)
    key = key_of(row)
    tell(job, [key], "done", "one")
    steps.close(row, version=1)
    assert key in names(job)


def test_on_no_piece_of_the_list_it_is_said_that_no_plan_knows_of_it(job: Job) -> None:
    row = open_seam(job, "the floor")
    steps.decide(row, Decision.REPAIR, version=0)
    assert "nothing is added to the plan" in row.entries.last().text  # type: ignore[union-attr]
    row.refresh_from_db()
    assert row.repair is None


def test_minutes_that_cannot_be_are_refused_and_nothing_is_decided(job: Job) -> None:
    row = open_seam(job)
    with pytest.raises(Refusal, match="Enter 1 to 480"):
        steps.decide(row, Decision.REPAIR, version=0, work=RepairWork(minutes=481))
    row.refresh_from_db()
    assert row.decision == ""
