"""Jobs, undo, tokens and runs."""

from typing import Any

import pytest
from django.test import Client

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.workshop.colours.actions import set_target, type_colour
from hidewright.workshop.front.header import job_header
from hidewright.workshop.front.way import way
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.pieces.colour_actions import add_colour
from hidewright.workshop.shop import runs
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Job, Run, RunState

pytestmark = pytest.mark.django_db


def test_a_double_tap_opens_one_job(visitor: Client) -> None:
    form = {"name": "Saloon", "starts": "2026-03-02", "act": "token-1"}
    visitor.post("/jobs/new/", form)
    visitor.post("/jobs/new/", form)
    assert Job.objects.count() == 1


def test_a_refused_form_can_be_put_right_and_sent_again(visitor: Client) -> None:
    form = {"name": "Saloon", "starts": "2026-03-02", "promised": "2026-02-01", "act": "token-2"}
    refused = visitor.post("/jobs/new/", form)
    assert refused.status_code == 422
    assert "before the first working day" in refused.content.decode()
    assert visitor.post("/jobs/new/", {**form, "promised": "2026-03-20"}).status_code == 302
    assert Job.objects.count() == 1


def test_putting_away_can_be_undone_once(visitor: Client, job: Job) -> None:
    visitor.post(f"/jobs/{job.pk}/put-away/", {"act": "a"})
    job.refresh_from_db()
    assert job.put_away
    act = job.acts.first()
    assert act is not None
    visitor.post(f"/undo/{act.pk}/", {"act": "b"})
    job.refresh_from_db()
    assert job.put_away is None
    with pytest.raises(Refusal):
        acts.undo(act.pk)


@pytest.mark.parametrize(
    "elsewhere",
    ["//elsewhere.example/", "/\\elsewhere.example/", "https://elsewhere.example/", "javascript:alert(1)"],
)
def test_undo_leads_to_no_foreign_address(visitor: Client, job: Job, elsewhere: str) -> None:
    visitor.post(f"/jobs/{job.pk}/put-away/", {"act": "a"})
    act = job.acts.first()
    assert act is not None
    answer = visitor.post(f"/undo/{act.pk}/", {"act": "b", "back": elsewhere})
    assert answer.headers["Location"] == "/"


def _run(job: Job, kind: str) -> Run:
    return Run.objects.create(job=job, kind=kind, asked={"n": 2})


def test_a_run_ends_as_what_it_was(job: Job) -> None:
    @runs.runner("test.good")
    def good(handle: runs.RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
        handle.progress(0.5, "half way", best={"text": "one"})
        return {"twice": 2 * asked["n"]}

    @runs.runner("test.refused")
    def refused(handle: runs.RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
        raise Refusal("No.", remedy="Do this instead.")

    @runs.runner("test.broken")
    def broken(handle: runs.RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
        raise KeyError("lost")

    states = {}
    for kind in ("test.good", "test.refused", "test.broken"):
        run = _run(job, kind)
        runs.carry_out(run.pk)
        run.refresh_from_db()
        states[kind] = run
    assert states["test.good"].state == RunState.DONE
    assert states["test.good"].result == {"twice": 4}
    assert states["test.good"].best == {"text": "one"}
    assert states["test.refused"].state == RunState.REFUSED
    assert "Do this instead." in states["test.refused"].error
    assert states["test.broken"].state == RunState.FAILED


def test_a_run_is_carried_out_once_and_a_stop_is_kept(job: Job) -> None:
    seen = []

    @runs.runner("test.stopped")
    def stopped(handle: runs.RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
        seen.append(handle.should_stop())
        return {}

    run = _run(job, "test.stopped")
    assert runs.stop_run(run.pk)
    runs.carry_out(run.pk)
    runs.carry_out(run.pk)
    run.refresh_from_db()
    assert seen == [True]
    assert run.state == RunState.STOPPED
    assert not runs.stop_run(run.pk)


def test_the_panel_of_an_ended_run_loads_the_page_again(visitor: Client, job: Job) -> None:
    run = _run(job, "test.never")
    assert "HX-Refresh" not in visitor.get(f"/runs/{run.pk}/").headers
    Run.objects.update(state=RunState.DONE)
    assert visitor.get(f"/runs/{run.pk}/").headers["HX-Refresh"] == "true"


def test_the_first_page_says_what_comes_next(visitor: Client, job: Job) -> None:
    """The way through the job: the first thing that is not done is the next, and what is done says how it stands."""

    def next_of() -> list[str]:
        return [point.what for point in way(job, job_header(job), "metric") if point.next]

    assert next_of() == ["List the pieces"]
    page = visitor.get(f"/jobs/{job.pk}/").content.decode()
    assert page.count('aria-current="step"') == 1
    import_csv(job, demo.text("pieces.csv"))
    assert next_of() == ["Say which colour"]
    page = visitor.get(f"/jobs/{job.pk}/").content.decode()
    assert "86 listed, 37.2 m² to coat." in page
    assert "0 of 86 good in sunlight" in page
    read = type_colour(job, "seat", (45.0, 8.0, 20.0))
    set_target(job, read.pk, None)
    assert next_of() == ["Choose a recipe"]
    number = add_colour(job, "Piping").number
    point = way(job, job_header(job), "metric")[2]
    assert (point.what, point.next, point.colour) == ("Say which colour", True, number), "every colour counts"
    assert point.words.startswith("Piping: ")
    assert f"/jobs/{job.pk}/colour/?of={number}" in visitor.get(f"/jobs/{job.pk}/").content.decode()
    set_target(job, read.pk, None, number=number)
    assert way(job, job_header(job), "metric")[2].words == "The target is read for each of the 2 colours."
