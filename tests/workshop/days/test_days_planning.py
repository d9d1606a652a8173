"""Planning a job from its rows: runs, what-ifs, refusals in words."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from hidewright import demo
from hidewright.charts.plan import ActShown
from hidewright.planning.change.replan import ReplanResult, replan
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import plan_from_data
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.routes import PACE
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days.comparison_queries import held_up, held_up_words, kept_words, tightest
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.quantities.actions import set_figures
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, RunState

pytestmark = pytest.mark.django_db(transaction=True)

FEW = 14
"""Pieces of the demonstration that these tests plan: enough to share tables, few enough to be quick."""


def clock(moment: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let it be this moment."""
    there = moment.replace(tzinfo=timezone.get_current_timezone())
    monkeypatch.setattr(timezone, "now", lambda: there)


@pytest.fixture
def surveyed(job: Job, monkeypatch: pytest.MonkeyPatch) -> Job:
    """A job with pieces, in a shop with tables, hours and people, early on its first day."""
    clock(datetime(2026, 3, 2, 7), monkeypatch)
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    import_csv(job, "\n".join(demo.text("pieces.csv").splitlines()[: FEW + 1]))
    return job


def plan_now(visitor: Client, job: Job) -> None:
    answer = visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10", "how": "anew"})
    assert answer.status_code == 302, answer.content.decode()


def test_a_plan_of_the_rows_is_kept_shown_and_passes_the_audit(
    visitor: Client, surveyed: Job, quick_planning: None
) -> None:
    plan_now(visitor, surveyed)
    row = gather.plan_row(surveyed)
    assert row is not None
    assert row.run is not None
    assert row.run.state == RunState.DONE
    assert audit(gather.problem_of(surveyed), plan_from_data(row.data["plan"])) == ()
    assert row.bound is not None
    assert date(2026, 3, 2) < row.bound <= row.finish
    shown = gather.plan_in_force(surveyed)
    assert shown is not None
    assert len({act.piece for act in shown.acts} - {"the job", "colour"}) == FEW
    assert len({act.key for act in shown.acts}) == len(shown.acts)
    page = visitor.get(f"/jobs/{surveyed.pk}/days/").content.decode()
    lines = held_up(row)
    assert lines
    assert lines[0].what
    assert any(line.told for line in lines), "something that might end it sooner was tried"
    assert held_up_words(lines) in page
    assert all(f"{line.change}: " in page for line in lines if line.told)
    assert row.facts["bottleneck"].startswith(f"{lines[0].what}: {lines[0].words}.")
    slacks = [hours for _, hours in tightest(row)]
    assert len(slacks) == min(12, FEW)
    assert slacks == sorted(slacks)
    assert slacks[0] >= 0
    assert "Which pieces may slip least" in page
    assert visitor.get(f"/jobs/{surveyed.pk}/papers/table-maps.pdf").content.startswith(b"%PDF")


def test_keys_of_acts_stay_the_same_in_the_next_plan(
    visitor: Client, surveyed: Job, quick_planning: None
) -> None:
    plan_now(visitor, surveyed)
    first = gather.plan_in_force(surveyed)
    assert first is not None
    done = min(first.acts, key=lambda act: act.start)
    tap(surveyed, done.key, "done", "t")
    plan_now(visitor, surveyed)
    second = gather.plan_in_force(surveyed)
    assert second is not None
    assert {act.key for act in first.acts} == {act.key for act in second.acts}
    assert gather.moved(surveyed) is not None


def test_what_cannot_be_planned_is_refused_in_words(visitor: Client, surveyed: Job) -> None:
    import_csv(surveyed, "key,name,shape,length,width,material\nBIG,ceiling panel,panel,7500,2400,vinyl\n")
    plan_now(visitor, surveyed)
    run = surveyed.runs.get()
    assert run.state == RunState.REFUSED
    assert "BIG" in run.error
    assert "BIG" in visitor.get(f"/jobs/{surveyed.pk}/days/").content.decode()
    assert gather.plan_row(surveyed) is None


def test_what_ifs_stand_side_by_side(
    visitor: Client, surveyed: Job, quick_planning: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hidewright.workshop.days.views.SECONDS_EACH", 0.2)
    assert visitor.post(f"/jobs/{surveyed.pk}/days/what-if/").status_code == 422
    plan_now(visitor, surveyed)
    visitor.post(f"/jobs/{surveyed.pk}/days/what-if/")
    run = surveyed.runs.filter(kind="days.what_if").first()
    assert run is not None
    assert run.state == RunState.DONE, run.error
    assert len(run.result["rows"]) >= 4
    page = visitor.get(f"/jobs/{surveyed.pk}/days/").content.decode()
    for row in run.result["rows"]:
        assert row["words"] in page
        assert row["told"] in page
    plan_now(visitor, surveyed)
    later = visitor.get(f"/jobs/{surveyed.pk}/days/").content.decode()
    assert 'data-label="Would end"' in page
    assert 'data-label="Would end"' not in later, "what-ifs belong to the plan they were asked of"


@pytest.fixture
def at_work(surveyed: Job, visitor: Client, quick_planning: None, monkeypatch: pytest.MonkeyPatch) -> Job:
    """A planned job on the afternoon of its first day."""
    plan_now(visitor, surveyed)
    clock(datetime(2026, 3, 2, 15), monkeypatch)
    return surveyed


def tap_until(job: Job, clock: datetime) -> set[str]:
    """Tap everything done that was planned to end before `clock`; returns the keys."""
    shown = gather.plan_in_force(job)
    assert shown is not None
    over = [act for act in shown.acts if act.end <= clock]
    for act in over:
        tap(job, act.key, "done", act.key, at=act.end.replace(tzinfo=timezone.get_current_timezone()))
    return {act.key for act in over}


def assert_goes_on(
    before: dict[str, ActShown], after: dict[str, ActShown], done: set[str], now: datetime
) -> None:
    """What hands are at `now` goes on to its end; all else that is not done comes later."""
    begun = {key for key, act in before.items() if act.start < now < act.end and after[key].start < now}
    assert all((after[key].start, after[key].end) == (before[key].start, before[key].end) for key in begun)
    assert all(after[key].start >= now for key in set(after) - done - begun)


def test_planning_again_keeps_what_is_done_and_the_days_of_what_is_not_concerned(
    visitor: Client, at_work: Job
) -> None:
    done = tap_until(at_work, datetime(2026, 3, 2, 15))
    assert done
    first = gather.plan_in_force(at_work)
    visitor.post(f"/jobs/{at_work.pk}/days/plan/", {"how": "keep", "seconds": "30", "because": "after lunch"})
    run = at_work.runs.filter(kind="days.replan").get()
    assert run.state == RunState.DONE, run.error
    row = gather.plan_row(at_work)
    second = gather.plan_in_force(at_work)
    assert row is not None
    assert row.because == "after lunch"
    assert first is not None
    assert second is not None
    before = {act.key: act for act in first.acts}
    after = {act.key: act for act in second.acts}
    assert set(before) == set(after)
    assert all(after[key].end == before[key].end for key in done)
    assert_goes_on(before, after, done, datetime(2026, 3, 2, 15))
    assert float(row.facts["kept"]) >= 0.8
    page = visitor.get(f"/jobs/{at_work.pk}/days/").content.decode()
    assert "Planned again from where the work was" in page


def test_a_first_plan_begins_now_and_not_in_the_past(
    visitor: Client, surveyed: Job, quick_planning: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock(datetime(2026, 3, 3, 14), monkeypatch)
    plan_now(visitor, surveyed)
    shown = gather.plan_in_force(surveyed)
    assert shown is not None
    assert min(act.start for act in shown.acts) >= datetime(2026, 3, 3, 14)
    assert len({act.piece for act in shown.acts} - {"the job", "colour"}) == FEW


def test_a_job_whose_first_day_is_long_past_can_still_be_planned(
    visitor: Client, surveyed: Job, quick_planning: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock(datetime(2026, 11, 25, 10), monkeypatch)
    plan_now(visitor, surveyed)
    row = gather.plan_row(surveyed)
    assert row is not None
    assert date(2026, 11, 25) < row.finish < date(2026, 12, 24)
    visitor.post(f"/jobs/{surveyed.pk}/days/plan/", {"how": "keep", "seconds": "10"})
    run = surveyed.runs.filter(kind="days.replan").get()
    assert run.state == RunState.DONE, run.error


def test_what_is_left_can_be_planned_anew_and_what_is_done_stays(visitor: Client, at_work: Job) -> None:
    done = tap_until(at_work, datetime(2026, 3, 2, 15))
    first = gather.plan_in_force(at_work)
    visitor.post(f"/jobs/{at_work.pk}/days/plan/", {"how": "rest", "seconds": "10"})
    run = at_work.runs.filter(kind="days.replan").get()
    assert run.state == RunState.DONE, run.error
    row, second = gather.plan_row(at_work), gather.plan_in_force(at_work)
    assert row is not None
    assert first is not None
    assert second is not None
    before, after = ({act.key: act for act in plan.acts} for plan in (first, second))
    assert set(before) == set(after)
    assert all(after[key].end == before[key].end for key in done)
    assert_goes_on(before, after, done, datetime(2026, 3, 2, 15))
    assert row.facts["all_new"] == "asked"
    assert (
        "What was left was planned from scratch" in visitor.get(f"/jobs/{at_work.pk}/days/").content.decode()
    )


def test_a_piece_that_failed_goes_through_its_steps_again(visitor: Client, at_work: Job) -> None:
    tap_until(at_work, datetime(2026, 3, 2, 15))
    first = gather.plan_in_force(at_work)
    assert first is not None
    piece = next(act.piece for act in reversed(first.acts) if act.piece != "the job")
    data = {"again-piece": piece, "again-kinds": ["sand", "spray clear"], "again-why": "runs at the corner"}
    assert visitor.post(f"/jobs/{at_work.pk}/days/again/", data).status_code == 302
    run = at_work.runs.filter(kind="days.replan").get()
    assert run.state == RunState.DONE, run.error
    second = gather.plan_in_force(at_work)
    assert second is not None
    new = {act.key for act in second.acts} - {act.key for act in first.acts}
    assert {key.split("/")[0] for key in new} == {piece}
    assert {key.rsplit("/")[-1] for key in new} >= {"sand", "spray clear"}
    acts.undo(Act.objects.filter(undo_name="days.redo").get().pk)
    assert {o.key for _, o in gather.problem_of(at_work).operations()} == {act.key for act in first.acts}


@pytest.mark.parametrize("data", [{"again-piece": "nobody", "again-kinds": ["sand"]}, {"again-kinds": []}])
def test_steps_again_for_nothing_are_refused(visitor: Client, at_work: Job, data: dict[str, object]) -> None:
    shown = gather.plan_in_force(at_work)
    assert shown is not None
    told = {"again-piece": shown.acts[0].piece, **data}
    assert visitor.post(f"/jobs/{at_work.pk}/days/again/", told).status_code == 422
    assert not at_work.runs.filter(kind="days.replan").exists()


def test_a_changed_first_day_wants_a_new_plan(visitor: Client, at_work: Job) -> None:
    Job.objects.filter(pk=at_work.pk).update(starts=date(2026, 3, 3))
    visitor.post(f"/jobs/{at_work.pk}/days/plan/", {"how": "keep", "seconds": "10"})
    run = at_work.runs.filter(kind="days.replan").get()
    assert run.state == RunState.REFUSED
    assert "first working day was changed" in run.error


def test_minutes_that_were_told_are_learned_and_used_in_the_next_plan(visitor: Client, at_work: Job) -> None:
    shown = gather.plan_in_force(at_work)
    assert shown is not None
    strips = [act for act in shown.acts if act.act == "strip"]
    assert len(strips) >= 5
    planned = sum((act.end - act.start).total_seconds() / 60 for act in strips)
    data = {
        "act_key": [act.key for act in strips],
        "kind": "done",
        "token": "m",
        "minutes": f"{2 * planned:.0f}",
    }
    assert visitor.post(f"/jobs/{at_work.pk}/days/tap/", data).status_code == 302
    kept = {tap.act_key: tap.minutes for tap in at_work.taps.all()}
    assert sum(kept.values()) == pytest.approx(2 * planned, abs=1)
    before = {o.key: o.minutes for _, o in gather.problem_with(at_work, PACE).operations()}
    after = {o.key: o.minutes for _, o in gather.problem_of(at_work).operations()}
    assert sum(after[a.key] for a in strips) > 1.3 * sum(before[a.key] for a in strips)
    cleaned = [key for key in before if key.endswith("/clean")]
    assert all(after[key] == before[key] for key in cleaned), "what was not told is not learned"
    assert "times the usual figure" in visitor.get(f"/jobs/{at_work.pk}/days/").content.decode()


def test_a_slip_of_the_finger_teaches_nothing(at_work: Job) -> None:
    shown = gather.plan_in_force(at_work)
    assert shown is not None
    act = next(act for act in shown.acts if act.act == "tack")
    tap(at_work, act.key, "done", "slip", minutes=1440)
    assert all(not one.entries for one in gather.learned()[1].values())


def test_a_piece_that_waits_is_planned_after_its_day_until_it_is_lifted(
    visitor: Client, at_work: Job
) -> None:
    shown = gather.plan_in_force(at_work)
    assert shown is not None
    piece = "LC1-seat"
    data = {
        "hold-piece": piece,
        "hold-before": "spray clear",
        "hold-until": "2026-03-18",
        "hold-why": "approval",
    }
    assert visitor.post(f"/jobs/{at_work.pk}/days/hold/", data).status_code == 302
    page = visitor.get(f"/jobs/{at_work.pk}/days/").content.decode()
    assert "approval" in page
    plan_now(visitor, at_work)
    held = gather.plan_in_force(at_work)
    assert held is not None
    clears = [act for act in held.acts if act.piece == piece and act.act == "spray clear"]
    assert min(act.start.date() for act in clears) >= date(2026, 3, 18)
    visitor.post(f"/jobs/{at_work.pk}/days/hold/{at_work.holds.get().pk}/lift/")
    assert gather.problem_of(at_work) == gather.problem_with(at_work, gather.learned()[0])
    plan_now(visitor, at_work)
    free = gather.plan_in_force(at_work)
    assert free is not None
    assert free.finish.date() < date(2026, 3, 18)


@pytest.mark.parametrize(
    "data",
    [{"hold-before": "repair"}, {"hold-piece": "nobody"}, {"hold-until": ""}, {"hold-before": "dance"}],
)
def test_waits_that_cannot_be_are_refused(visitor: Client, at_work: Job, data: dict[str, str]) -> None:
    told = {"hold-piece": "LC1-seat", "hold-before": "strip", "hold-until": "2026-03-18", **data}
    assert visitor.post(f"/jobs/{at_work.pk}/days/hold/", told).status_code == 422
    assert not at_work.holds.exists()


def test_a_plan_that_breaks_a_rule_is_not_kept(
    visitor: Client, at_work: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hidewright.planning.plan.audit import Fault
    from hidewright.planning.solve.planner import AuditError
    from hidewright.workshop.days import actions as days

    def broken(*_: object, **__: object) -> None:
        raise AuditError((Fault("no touching", "LC1-seat", "lies on LC2-seat"),))

    monkeypatch.setattr(days, "replan", broken)
    before = gather.plan_row(at_work)
    visitor.post(f"/jobs/{at_work.pk}/days/plan/", {"how": "keep", "seconds": "10"})
    run = at_work.runs.filter(kind="days.replan").get()
    assert run.state == RunState.REFUSED
    assert "broke a rule of the shop and was not kept" in run.error
    assert gather.plan_row(at_work) == before


def test_the_coats_of_the_litres_are_the_coats_of_the_days(
    visitor: Client, surveyed: Job, quick_planning: None
) -> None:
    """One thread: the number of coats that the take-off reckons with is what is planned, told in words; a change is noticed."""
    before = gather.problem_of(surveyed)
    plan_now(visitor, surveyed)
    page = visitor.get(f"/jobs/{surveyed.pk}/days/").content.decode()
    assert "Planned with 2 coats of colour (usual figure), 2 of clear (usual figure)" in page
    assert "now count on" not in page
    set_figures(surveyed, {"colour_coats": 4, "clear_coats": 1}, version=0, odds=0.9)
    after = gather.problem_of(surveyed)
    sprayed = [
        sum(o.kind in (Kind.SPRAY, Kind.SECOND) for o in problem.jobs[0].operations if o.pass_key == "front")
        for problem in (before, after)
    ]
    assert sprayed == [2, 4]
    assert after.minutes > before.minutes
    page = visitor.get(f"/jobs/{surveyed.pk}/days/").content.decode()
    assert "now count on 4 coats of colour (set here), 1 of clear (set here)" in page
    plan_now(visitor, surveyed)
    shown = gather.plan_in_force(surveyed)
    assert shown is not None
    assert "spray fourth coat" in {act.act for act in shown.acts}


def test_what_keeping_days_costs_is_told(
    visitor: Client, at_work: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where everything planned anew would end sooner, the page says on which day."""

    def sooner(*given: Any, **more: Any) -> ReplanResult:
        found = replan(*given, **{**more, "seconds": 0.3})
        assert found.result.finish_day is not None
        return replace(found, anew_day=found.result.finish_day - timedelta(days=1))

    monkeypatch.setattr("hidewright.workshop.days.actions.replan", sooner)
    visitor.post(f"/jobs/{at_work.pk}/days/plan/", {"how": "keep", "seconds": "10"})
    row = gather.plan_row(at_work)
    assert row is not None
    day = row.finish - timedelta(days=1)
    page = visitor.get(f"/jobs/{at_work.pk}/days/").content.decode()
    assert f"it could end on {day:%a} {day.day} {day:%b}." in page
    assert 'name="how" value="rest"' in page


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({}, ""),
        (
            {"tight": [["Hands", "the people are at work 92 % of their hours"]]},
            "Hands hold the plan up.",
        ),
        (
            {
                "tight": [["Table length", "98 % full"], ["Hands", "at work"]],
                "eased": [
                    ["One more 2 m trestle", "the same day", 0],
                    ["One more helper", "1 day sooner", 1],
                ],
            },
            "Table length and hands hold the plan up. One more helper would end it 1 day sooner.",
        ),
        (
            {
                "tight": [["Table length", "98 % full"]],
                "eased": [["One more 2 m trestle", "the same day", 0]],
            },
            "Table length holds the plan up. No change that was tried ends it on an earlier day.",
        ),
    ],
)
def test_what_holds_a_plan_up_is_said_in_a_plain_sentence(facts: dict[str, Any], words: str) -> None:
    lines = held_up(Plan(facts=facts))
    assert held_up_words(lines) == words
    assert {line.change for line in lines if line.told} == {row[0] for row in facts.get("eased", ())}


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({}, ""),
        ({"untouched": 84, "kept": "0.667"}, "56 of the 84 pieces keep all their days."),
        (
            {"untouched": 83, "kept": "1.000", "free": 1},
            "All 83 pieces that the change does not concern keep all their days.",
        ),
        (
            {"untouched": 84, "kept": "0.667", "for_all": ["the racks hold 8"]},
            "56 of the 84 pieces with no change of their own keep all their days. "
            "What changed concerns every piece: the racks hold 8.",
        ),
        (
            {"untouched": 0, "kept": "1.000", "free": 5},
            "Every piece that is left was changed, and may be on other days.",
        ),
        ({"untouched": 0, "kept": "1.000"}, ""),
        ({"untouched": 1, "kept": "0.000"}, "The one piece does not keep all its days."),
        ({"untouched": 3, "kept": "0.333"}, "1 of the 3 pieces keeps all its days."),
        ({"untouched": 3, "kept": "0.000"}, "None of the 3 pieces keeps all its days."),
    ],
)
def test_how_many_pieces_keep_their_days_is_counted_and_worded(facts: dict[str, Any], words: str) -> None:
    assert kept_words(Plan(facts=facts)) == words
