"""What waits: a snag decided “wait” holds its piece up in the plan until it is decided; days of their own; a plan that is behind says so."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.planning.problem.model import Job as PlanJob
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.shipped_routes import SHIPPED
from hidewright.refusals import Refusal, Refusals
from hidewright.workshop.days import actions as day_steps
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days.changes import changed_since
from hidewright.workshop.days.models import Due, Hold, Plan
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.inspection import snag_actions as steps
from hidewright.workshop.inspection.actions import note_checks
from hidewright.workshop.inspection.models import Decision, Snag
from hidewright.workshop.inspection.snag_queries import snags
from hidewright.workshop.pieces import route_actions as route_steps
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.quantities.actions import set_figures
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.drying_actions import note_dry
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("quick_planning")]

PIECES = """key,name,group,shape,length,width,thickness,material,condition,sat_on,turned,strip
C1,Seat,Chair,panel,500,400,,leather,worn,yes,yes,yes
C2,Back,Chair,panel,500,400,,leather,sound,,,
"""


WEEK = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@pytest.fixture
def job(transactional_db: None) -> Job:
    """A job of two pieces that begins today, in a shop that works every day."""
    made = open_job("A job under test", starts=timezone.localdate())
    room.import_tables("key,name,length,depth\na,Table A,3.6,0.9\n")
    room.import_hours(
        "weekday,hours\n" + "".join(f"{day},08:00-17:00\n" for day in WEEK), "key,name\nana,Ana\n"
    )
    import_csv(made, PIECES)
    return made


def in_days(count: int) -> date:
    return timezone.localdate() + timedelta(days=count)


def waits(job: Job, piece: str = "C1") -> dict[str, int]:
    """Act key → days from the first day before which it does not start, where it waits."""
    found: PlanJob = next(one for one in gather.problem_of(job).jobs if one.piece == piece)
    return {o.key: o.release // 1440 for o in found.operations if o.release}


def decide(row: Snag, decision: str, until: date | None = None) -> None:
    row.refresh_from_db()
    steps.decide(row, decision, version=row.version, until=until)


def plan(visitor: Client, job: Job, how: str = "keep") -> Plan:
    answer = visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10", "how": how})
    assert answer.status_code == 302, answer.content.decode()
    run = job.runs.first()
    assert run is not None
    assert run.state == "done", run.error
    row = gather.plan_row(job)
    assert row is not None
    return row


def test_a_snag_that_waits_holds_up_whatever_comes_next_on_its_piece(job: Job, only_coating: None) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    decide(row, Decision.WAIT, in_days(4))
    assert waits(job) == {"C1/prep/strip": 4}
    assert waits(job, "C2") == {}
    tap(job, "C1/prep/strip", "done", "t1")
    assert waits(job) == {"C1/prep/clean": 4}, "what is done waits for nothing"


def test_the_day_goes_on_and_the_next_plan_works_round_it(
    visitor: Client, job: Job, only_coating: None
) -> None:
    first = plan(visitor, job, "anew")
    row = steps.add(job, "Seam open", piece="C1")
    decide(row, Decision.WAIT, in_days(5))
    page = visitor.get(f"/jobs/{job.pk}/days/").content.decode()
    assert "The plan does not know of this yet" in page
    assert f"C1 Seat waits until {in_days(5):%a} {in_days(5).day} {in_days(5):%b}: Seam open" in page
    assert page.count('class="tap-box"') > 0, "the day's list is still there to be tapped"
    second = plan(visitor, job)
    assert second.pk != first.pk
    assert changed_since(job, second) == ()
    shown = gather.plan_in_force(job)
    assert shown is not None
    starts = {
        act.piece: min(a.start.date() for a in shown.acts if a.piece == act.piece) for act in shown.acts
    }
    assert starts["C1"] >= in_days(5)
    assert starts["C2"] == min(act.start.date() for act in shown.acts)


@pytest.mark.parametrize("end", ["repair", "close", "take back"])
def test_the_hold_is_lifted_when_it_is_decided_closed_or_taken_back(job: Job, end: str) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    added = Act.objects.order_by("-id")[0]
    decide(row, Decision.WAIT, in_days(4))
    assert waits(job)
    row.refresh_from_db()
    if end == "close":
        steps.close(row, version=row.version)
    elif end == "take back":
        acts.undo(added.pk)
    else:
        decide(row, end)
    assert waits(job) == {}
    assert not Hold.objects.filter(lifted=None).exists()


def test_undoing_and_opening_again_bring_the_hold_back(job: Job, only_coating: None) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    decide(row, Decision.WAIT, in_days(4))
    decide(row, Decision.REPAIR)
    acts.undo(Act.objects.order_by("-id")[0].pk)
    assert waits(job) == {"C1/prep/strip": 4}
    row.refresh_from_db()
    assert row.decision == Decision.WAIT
    steps.close(row, version=row.version)
    row.refresh_from_db()
    steps.reopen(row, version=row.version)
    assert waits(job) == {"C1/prep/strip": 4}
    acts.undo(Act.objects.filter(undone=None).order_by("-id")[0].pk)
    assert waits(job) == {}


def test_deciding_to_wait_longer_leaves_one_hold(job: Job, only_coating: None) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    decide(row, Decision.WAIT, in_days(4))
    decide(row, Decision.WAIT, in_days(9))
    assert waits(job) == {"C1/prep/strip": 9}
    assert Hold.objects.filter(lifted=None).count() == 1


def test_a_snag_past_its_day_keeps_waiting_until_it_is_decided(
    visitor: Client, job: Job, only_coating: None
) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    decide(row, Decision.WAIT, in_days(1))
    plan(visitor, job, "anew")
    Hold.objects.update(until=in_days(-2))
    assert waits(job) == {"C1/prep/strip": 1}
    page = visitor.get(f"/jobs/{job.pk}/days/").content.decode()
    assert "was expected" in page
    assert "The plan does not know of this yet" in page


def test_the_page_of_the_snags_says_that_it_waits(visitor: Client, job: Job) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    where, key = f"/jobs/{job.pk}/snags/{row.pk}/", f"s{row.pk}"
    sent = {f"{key}-decision": "wait", f"{key}-until": in_days(3).isoformat(), f"{key}-version": "0"}
    assert visitor.post(where, {**sent, "decide": "1"}).status_code == 302
    page = visitor.get(f"/jobs/{job.pk}/snags/").content.decode()
    assert "C1 Seat waits in the plan" in page
    assert f"C1 waits in the plan until {in_days(3):%a} {in_days(3).day}" in page
    late = {**sent, f"{key}-until": in_days(0).isoformat(), f"{key}-version": "1"}
    answer = visitor.post(where, {**late, "decide": "1"})
    assert answer.status_code == 422
    assert "It waits until a day to come" in answer.content.decode()
    answer = visitor.post(where, {**late, f"{key}-until": "soon", "decide": "1"})
    assert "This is no day" in answer.content.decode()
    assert len(waits(job)) == 1


def test_a_snag_on_no_piece_of_the_list_says_that_nothing_waits(job: Job) -> None:
    row = steps.add(job, "Heater broken", piece="the room")
    decide(row, Decision.WAIT)
    assert "nothing waits in the plan" in row.entries.last().text
    assert not Hold.objects.exists()
    (shown,), _ = snags(job)
    assert shown.waits is None


def test_the_list_marks_what_waits(visitor: Client, job: Job, only_coating: None) -> None:
    plan(visitor, job, "anew")
    row = steps.add(job, "Seam open", piece="C1")
    decide(row, Decision.WAIT, in_days(3))
    page = visitor.get(f"/jobs/{job.pk}/days/").content.decode()
    assert 'class="act-wait">C1 Seat waits until' in page
    assert 'class="act-wait">C2' not in page


# A day of its own


def test_a_piece_with_a_day_of_its_own_is_done_by_then(visitor: Client, job: Job, only_coating: None) -> None:
    plan(visitor, job, "anew")
    where = f"/jobs/{job.pk}/days/due/"
    assert visitor.post(where, {"due-piece": "C2", "due-day": in_days(3).isoformat()}).status_code == 302
    assert {one.piece: one.due for one in gather.problem_of(job).jobs[:2]} == {"C1": None, "C2": in_days(3)}
    row = plan(visitor, job)
    shown = gather.plan_in_force(job)
    assert shown is not None
    assert max(act.end.date() for act in shown.acts if act.piece == "C2") <= in_days(3)
    due = Due.objects.get()
    visitor.post(f"{where}{due.pk}/lift/")
    assert changed_since(job, row) == ("C2 Back has no day of its own any more",)
    acts.undo(Act.objects.order_by("-id")[0].pk)
    assert changed_since(job, row) == ()


def test_a_day_before_the_sample_is_approved_is_refused(visitor: Client, job: Job) -> None:
    plan(visitor, job, "anew")
    answer = visitor.post(f"/jobs/{job.pk}/days/due/", {"due-piece": "C1", "due-day": in_days(3).isoformat()})
    assert answer.status_code == 422
    assert not Due.objects.exists()


def test_a_day_by_which_it_cannot_be_done_is_refused(visitor: Client, job: Job) -> None:
    plan(visitor, job, "anew")
    answer = visitor.post(f"/jobs/{job.pk}/days/due/", {"due-piece": "C1", "due-day": in_days(0).isoformat()})
    assert answer.status_code == 422
    assert "alone in the shop it cannot be done before" in answer.content.decode()
    assert not Due.objects.exists()
    with pytest.raises(Refusals):
        day_steps.set_due(job, "C1", in_days(-4))


def test_pieces_due_too_early_together_are_refused_at_once(job: Job, only_coating: None) -> None:
    import_csv(job, "\n".join([PIECES.splitlines()[0], *(f"E{n},Seat,Chair,panel,1000,850,,leather,sound,,," for n in range(9))]))  # fmt: skip
    room.import_hours("weekday,hours\n" + "".join(f"{day},08:00-10:00\n" for day in WEEK), "key,name\nana,Ana\n")  # fmt: skip

    def ask_for_all() -> None:
        for n in range(9):
            day_steps.set_due(job, f"E{n}", in_days(2))

    with pytest.raises(Refusals, match=r"together they take [\d.]+ h of hands") as refused:
        ask_for_all()
    assert "Give some of them a later day, or add hours" in str(refused.value)
    assert Due.objects.filter(lifted=None).count() < 9, "the one that was too much is not kept"


# A plan that is behind


def test_every_change_that_a_plan_must_take_in_is_told(visitor: Client, job: Job) -> None:
    row = plan(visitor, job, "anew")
    assert changed_since(job, row) == ()
    import_csv(job, PIECES.splitlines()[0] + "\nC3,Arm,Chair,panel,500,400,,leather,worn,,,\n")
    day_steps.do_again(job, "C2", [Kind.SAND])
    day_steps.hold(job, "C2", "sand", in_days(3), "thread")
    set_figures(job, {"colour_coats": 3}, version=0, odds=0.9)
    route_steps.remove_step("vinyl", 0, 0)
    route_steps.use("vinyl", 1)
    route_steps.choose(job, ["C2"], "vinyl")
    note_dry("cure", 900)
    day = f"{in_days(3):%a} {in_days(3).day} {in_days(3):%b}"
    assert changed_since(job, row) == (
        "not planned yet: C3 Arm",
        f"C2 Back waits until {day}: thread",
        "C2 Back goes again through sand",
        "C2 Back takes another route",
        f"the litres now count on {gather.coats_of(job).words}",
        "the route Vinyl was changed",
        "1 entry about drying",
    )
    answer = visitor.get(f"/jobs/{job.pk}/days/").content.decode()
    assert "Plan again round it" in answer
    assert changed_since(job, plan(visitor, job)) == ()


def test_a_plan_of_the_first_release_is_not_behind_because_words_have_changed(
    visitor: Client, job: Job
) -> None:
    """0.1.0 kept coats and rules by the words of then; only another figure is a change."""
    row = plan(visitor, job, "anew")
    room = row.facts["room"]
    old = dict(room["work"].values())
    old["To mix, crosslink and strain a load"] = old.pop(room["work"]["load"][0])
    row.facts["room"] = {**room, "work": old}
    del row.facts["coat_figures"]
    row.facts["coats"] = (
        "2 coats of colour (starting value), 2 of clear (starting value); colour is wiped in first where it is sat on"
    )
    assert gather.coats_of(job).figures == [2, 2, 1]
    assert changed_since(job, row) == ()
    row.facts["coats"] = "1 coat of colour (the recipe), 2 of clear (starting value)"
    row.facts["room"]["work"][room["work"]["flush"][0]] = "99 min"
    assert changed_since(job, row) == (
        f"the litres now count on {gather.coats_of(job).words}",
        f"{room['work']['flush'][0][:1].lower()}{room['work']['flush'][0][1:]}: {room['work']['flush'][1]}",
    )


def test_what_has_to_be_done_again_is_told_on_the_page(visitor: Client, job: Job) -> None:
    """A wipe-down of yesterday does not serve today's coat: the replan plans it once more, and the page says so."""
    plan(visitor, job, "anew")
    now = timezone.now()
    long_ago = now - timedelta(hours=30)
    Job.objects.filter(pk=job.pk).update(starts=in_days(-2))
    job.refresh_from_db()
    plan(visitor, job, "anew")
    for number, key in enumerate(("front/mask", "front/clean", "front/wipe down")):
        tap(job, f"C2/{key}", "done", f"t{number}", at=long_ago + timedelta(minutes=number))
    row = plan(visitor, job)
    assert row.facts["again"] == ["wipe down: C2 Back"]
    assert (
        "<strong>Do again:</strong> wipe down: C2 Back"
        in visitor.get(f"/jobs/{job.pk}/days/").content.decode()
    )


def test_what_the_inspection_wants_done_again_is_work_until_it_is_planned(visitor: Client, job: Job) -> None:
    row = plan(visitor, job, "anew")
    note_checks(job, ["C1"], "sun", result="again")
    (change,) = changed_since(job, row)
    assert change.startswith("C1 Seat goes again through sand, ")
    assert change in visitor.get(f"/jobs/{job.pk}/days/").content.decode()
    row = plan(visitor, job)
    assert changed_since(job, row) == ()
    shown = gather.plan_in_force(job)
    assert shown is not None
    assert any("/redo1/" in act.key for act in shown.acts if act.piece == "C1")
    note_checks(job, ["C1"], "sun", result="good")
    assert changed_since(job, gather.plan_row(job) or row) == ()


@pytest.mark.parametrize("change", ["fewer steps", "more coats", "another route", "longer drying"])
def test_routes_may_change_while_the_work_goes_on(visitor: Client, job: Job, change: str) -> None:
    """What is done stays done; the rest goes by the new route; the plan passes its audit or the run says why."""
    begun = timezone.now() - timedelta(hours=30)
    Job.objects.filter(pk=job.pk).update(starts=in_days(-2))
    job.refresh_from_db()
    plan(visitor, job, "anew")
    done = (
        "prep/strip",
        "prep/clean",
        "front/mask",
        "front/wipe down",
        "front/wipe in colour",
        "front/spray colour",
    )
    for number, key in enumerate(done):
        tap(job, f"C1/{key}", "done", f"t{number}", at=begun + timedelta(hours=4 * number))
    if change == "fewer steps":
        steps_of = list(SHIPPED[0].steps)
        number = next(n for n, step in enumerate(steps_of) if step.kind is Kind.WIPE_IN)
        route_steps.remove_step("leather", 0, number)
        route_steps.use("leather", 1)
    elif change == "more coats":
        set_figures(job, {"colour_coats": 5, "clear_coats": 3}, version=0, odds=0.9)
    elif change == "another route":
        route_steps.choose(job, ["C1"], "wood")
    else:
        for _ in range(8):
            note_dry("colour", 200)
    plan(visitor, job)
    shown = gather.plan_in_force(job)
    assert shown is not None
    keys = {act.key for act in shown.acts if act.piece == "C1"}
    assert "C1/front/spray colour" in keys
    later = [act for act in shown.acts if act.piece == "C1" and act.key.startswith(("C1/back", "C1/end"))]
    assert min(act.start for act in later) > timezone.localtime().replace(tzinfo=None) - timedelta(minutes=5)
    assert ("C1/front/spray second coat 4" in keys) is (change == "more coats")
    assert ("C1/back/wipe in colour" in keys) is (change in ("more coats", "longer drying"))


def test_a_wait_beyond_the_reach_of_any_plan_is_refused(job: Job) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    for far in (in_days(400), date(9999, 12, 31)):
        with pytest.raises(Refusal, match="150 days at most"):
            decide(row, Decision.WAIT, far)
        with pytest.raises(Refusal, match="150 days at most"):
            day_steps.hold(job, "C1", "sand", far)
    assert not Hold.objects.exists()
