"""Planning a job from its rows: runs, what-ifs, refusals in words."""

from datetime import date

import pytest
from django.test import Client

from hidewright import demo
from hidewright.planning.audit import audit
from hidewright.planning.schedule import plan_from_data
from hidewright.workshop.gather import days as gather
from hidewright.workshop.models.jobs import Job
from hidewright.workshop.models.runs import RunState
from hidewright.workshop.steps import room
from hidewright.workshop.steps.survey import import_csv
from hidewright.workshop.steps.taps import tap

pytestmark = pytest.mark.django_db(transaction=True)

FEW = 14
"""Pieces of the demonstration that these tests plan: enough to share tables, few enough to be quick."""


@pytest.fixture
def surveyed(job: Job) -> Job:
    """A job with pieces, in a shop with tables, hours and people."""
    room.take_in(*(demo.text(f"{name}.csv") for name in ("tables", "hours", "people")))
    import_csv(job, "\n".join(demo.text("pieces.csv").splitlines()[: FEW + 1]))
    return job


def plan_now(visitor: Client, job: Job) -> None:
    answer = visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10"})
    assert answer.status_code == 302, answer.content.decode()


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let planning think for a moment only: what is tested here is what becomes of the plan."""
    from hidewright.workshop.steps import days

    thinking = days.plan
    monkeypatch.setattr(days, "plan", lambda problem, **how: thinking(problem, **{**how, "seconds": 0.5}))


def test_a_plan_of_the_rows_is_kept_shown_and_passes_the_audit(
    visitor: Client, surveyed: Job, quick: None
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
    assert len({act.piece for act in shown.acts}) == FEW
    assert len({act.key for act in shown.acts}) == len(shown.acts)
    page = visitor.get(f"/jobs/{surveyed.pk}/days/").content.decode()
    assert row.facts["bottleneck"] in page
    assert visitor.get(f"/jobs/{surveyed.pk}/papers/table-maps.pdf").content.startswith(b"%PDF")


def test_keys_of_acts_stay_the_same_in_the_next_plan(visitor: Client, surveyed: Job, quick: None) -> None:
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
    visitor: Client, surveyed: Job, quick: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hidewright.workshop.pages.days.SECONDS_EACH", 0.2)
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
    assert run.result["rows"][0]["words"] not in later, "what-ifs belong to the plan they were asked of"
