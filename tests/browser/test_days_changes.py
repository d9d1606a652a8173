"""In a real browser: the plan meets the day. A piece that fails, pieces that come and go, a wait, a day that cannot be kept, hands that may not spray."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from hidewright import demo
from hidewright.charts.plan import ActShown
from hidewright.dates import short_day
from hidewright.planning.change.shared import plan_around
from hidewright.workshop.days import actions as days
from hidewright.workshop.days import around_actions
from hidewright.workshop.days import queries as gather
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop.models import Job

pytestmark = pytest.mark.django_db(transaction=True)

LONG = 60_000
"""Milliseconds that planning may take; in tests it is carried out within the request."""


def quickly(plan: Callable[..., Any]) -> Callable[..., Any]:
    """The same planner, thinking for a moment only."""

    def thinking(*given: Any, **how: Any) -> Any:
        return plan(*given, **{**how, "seconds": 0.4})

    return thinking


@pytest.fixture
def job(transactional_db: None, few_runs: None, monkeypatch: pytest.MonkeyPatch) -> Job:
    """Five pieces of the demonstration in its shop, planned by nobody yet; work starts on the coming Monday."""
    monkeypatch.setattr(days, "plan", quickly(days.plan))
    monkeypatch.setattr(days, "replan", quickly(days.replan))
    monkeypatch.setattr(days, "seconds_for_relief", lambda asked: 0.05)
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    today = timezone.localdate()
    made = open_job("A job that changes", starts=today + timedelta(days=7 - today.weekday()))
    import_csv(made, "\n".join(demo.text("pieces.csv").splitlines()[:6]))
    return made


@pytest.fixture
def planned(page: Page, job: Job) -> Page:
    """The page Days of that job on a tablet, with a plan made there."""
    page.set_viewport_size({"width": 820, "height": 1180})
    page.set_default_timeout(15_000)
    page.set_default_navigation_timeout(LONG)
    page.goto(f"/jobs/{job.pk}/days/")
    press(page.get_by_role("button", name="Plan the days"))
    expect(page.get_by_role("heading", name="Plan again")).to_be_visible()
    return page


def press(button: Locator) -> None:
    """Press a button, and wait for the page that comes."""
    with button.page.expect_navigation(timeout=LONG):
        button.click(no_wait_after=True)


def part(page: Page, words: str) -> Locator:
    """A folded part of the page, unfolded."""
    box = page.locator("details").filter(has=page.locator("summary", has_text=words)).last
    box.evaluate("(e) => { for (let b = e; b; b = b.parentElement.closest('details')) b.open = true; }")
    return box


def plan_again(page: Page) -> None:
    """Plan again round what the page says has changed; afterwards the plan knows of it."""
    press(page.get_by_role("button", name="Plan again round it"))
    expect(page.locator(".behind")).to_have_count(0)
    expect(page.locator(".error:visible")).to_have_count(0)


def acts(job: Job, piece: str) -> list[ActShown]:
    """The acts of a piece in the plan in force, in order."""
    plan = gather.plan_in_force(job)
    assert plan is not None
    return sorted((act for act in plan.acts if act.piece == piece), key=lambda act: act.start)


def pieces(job: Job) -> list[str]:
    plan = gather.plan_in_force(job)
    assert plan is not None
    return sorted({act.piece for act in plan.acts} - {"the job", "colour"})


def test_a_piece_that_failed_its_inspection_goes_again(planned: Page, job: Job) -> None:
    """“Lamp: again” on Inspection becomes work on Days; planning again gives it days, and the others keep theirs."""
    piece, before = pieces(job)[0], len(acts(job, pieces(job)[0]))
    planned.goto(f"/jobs/{job.pk}/inspection/")
    planned.locator("#eyes details").evaluate_all("(all) => all.forEach((e) => { e.open = true; })")
    planned.locator(f"#eyes input[name=piece][value='{piece}']").check()
    press(planned.get_by_role("button", name="Lamp: again"))
    planned.goto(f"/jobs/{job.pk}/days/")
    expect(planned.locator(".behind")).to_contain_text(f"{piece} left arm goes again through sand")
    plan_again(planned)
    expect(planned.locator(".behind")).to_have_count(0)
    assert len(acts(job, piece)) > before
    assert any("/redo1/spray clear" in act.key for act in acts(job, piece))
    expect(part(planned, "The plan ends")).to_contain_text("4 pieces that the change does not concern")


def test_a_piece_comes_and_another_goes(planned: Page, job: Job) -> None:
    gone = pieces(job)[-1]
    planned.goto(f"/jobs/{job.pk}/survey/")
    planned.evaluate("() => document.querySelectorAll('main details').forEach((e) => { e.open = true; })")
    press(planned.get_by_role("link", name=gone).first)
    press(planned.get_by_role("button", name="Remove this piece"))
    import_csv(
        job, "key,name,shape,length,width,material,condition\nNEW-1,hatch,panel,500,400,leather,worn\n"
    )
    planned.goto(f"/jobs/{job.pk}/days/")
    expect(planned.locator(".behind")).to_contain_text("ot planned yet: NEW-1")
    expect(planned.locator(".behind")).to_contain_text(f"o longer on the list: {gone}")
    plan_again(planned)
    assert "NEW-1" in pieces(job)
    assert gone not in pieces(job)
    expect(part(planned, "What moved since the plan before")).to_contain_text("NEW-1")


def test_a_piece_waits_before_a_step_until_its_part_is_there(planned: Page, job: Job) -> None:
    piece = pieces(job)[0]
    until = job.starts + timedelta(days=7)
    wait = part(planned, "Pieces that have to wait")
    wait.get_by_label("Which piece").select_option(piece)
    wait.get_by_label("Before which step").select_option("spray colour")
    wait.get_by_label("Until").fill(until.isoformat())
    wait.get_by_label("What for").fill("the client's yes")
    press(wait.get_by_role("button", name="Let it wait"))
    day = f"{until:%a} {until.day} {until:%b}"
    expect(planned.locator(".behind")).to_contain_text(
        f"{piece} left arm waits until {day}: the client's yes"
    )
    plan_again(planned)
    held = [act for act in acts(job, piece) if act.act == "spray colour"]
    assert held
    assert all(act.start.date() >= until for act in held)
    planned.goto(f"/jobs/{job.pk}/days/pieces/{piece}/")
    expect(planned.locator(".act-wait").first).to_contain_text(f"{piece} left arm waits until {day}")
    planned.goto(f"/jobs/{job.pk}/days/")
    press(part(planned, "Pieces that have to wait: 1").get_by_role("button", name="It is there"))
    expect(planned.locator(".behind")).to_contain_text(f"{piece} left arm waits no longer")
    plan_again(planned)
    assert any(act.start.date() < until for act in acts(job, piece) if act.act == "spray colour")


def test_a_day_that_cannot_be_kept_is_refused_with_the_first_that_can(planned: Page, job: Job) -> None:
    """The page names the piece, why, and the day; on that day it is taken."""
    piece = pieces(job)[0]

    def ask(day: date) -> Locator:
        due = part(planned, "Pieces that must be done before the rest")
        due.get_by_label("Which piece").select_option(piece)
        due.get_by_label("Done by the end of").fill(day.isoformat())
        press(due.get_by_role("button", name="Set the day"))
        return part(planned, "Pieces that must be done before the rest")

    refused = ask(job.starts)
    expect(refused).to_contain_text(f"{piece}: It is due on")
    expect(refused).to_contain_text("alone in the shop it cannot be done before")
    first = next(
        day
        for day in (job.starts + timedelta(days=n) for n in range(1, 30))
        if f"Make it due on {short_day(day)}" in refused.inner_text()
    )
    taken = ask(first)
    expect(taken.locator(".error:visible")).to_have_count(0)
    expect(planned.locator(".behind")).to_contain_text(f"{piece} left arm must be done by")
    plan_again(planned)
    # Alone in the shop it could be done by then; among the others it is either done by then, or the page says that it is not.
    late = planned.locator("#own-days")
    if acts(job, piece)[-1].end.date() > first:
        expect(late).to_contain_text(piece)
        assert acts(job, piece)[-1].end.date() <= first + timedelta(days=3)
    else:
        expect(late).to_have_count(0)


def test_a_promise_that_cannot_be_met_is_said_with_what_would_help(planned: Page, job: Job) -> None:
    """The plan is kept and said to be late by so many days, with what holds it up and the what-ifs beside it."""
    Job.objects.filter(pk=job.pk).update(promised=job.starts)
    planned.goto(f"/jobs/{job.pk}/days/")
    expect(planned.locator(".behind")).to_contain_text("t must leave on")
    plan_again(planned)
    late = part(planned, "late")
    row = gather.plan_row(job)
    assert row is not None
    count = (row.finish - job.starts).days
    expect(late.locator("summary").first).to_contain_text(
        f"The plan ends {count} day{'s' * (count > 1)} late"
    )
    expect(late).to_contain_text("What holds it up")
    expect(late).to_contain_text("at the very earliest")
    expect(planned.get_by_role("heading", name="What if")).to_be_visible()
    expect(planned.locator(".job-head")).to_contain_text("late")


def test_hands_that_may_not_spray_make_it_impossible_and_the_page_says_what_would_do(
    planned: Page, job: Job
) -> None:
    """Rule, piece and the smallest change; the plan in force stays. One person's skill given back makes it possible again."""
    before = gather.plan_row(job)

    def may_spray(name: str, may: bool) -> None:
        planned.goto("/tables/")
        press(planned.get_by_role("link", name=name))
        box = planned.get_by_role("checkbox", name="Spray clear", exact=True)
        box.set_checked(may)
        press(planned.locator("form[action$='/skills/']").get_by_role("button", name="Save"))

    for name in ("Imre", "Rowan"):
        may_spray(name, may=False)
    planned.goto(f"/jobs/{job.pk}/days/")
    expect(planned.locator(".behind")).to_contain_text("does other kinds of work")
    press(planned.get_by_role("button", name="Plan again round it"))
    error = planned.locator(".run .error")
    told = error.inner_text()
    assert told.count("Nobody does “spray clear”. Give one person the skills for spray clear.") == 1
    assert all(piece in told for piece in pieces(job)), "each piece is named, and once"
    assert gather.plan_row(job) == before, "the plan in force stays"
    may_spray("Rowan", may=True)
    planned.goto(f"/jobs/{job.pk}/days/")
    plan_again(planned)
    plan = gather.plan_in_force(job)
    assert plan is not None
    assert {act.person for act in plan.acts if "clear" in act.act} == {"Rowan (invented)"}


def test_a_second_job_goes_around_the_first_and_the_calendar_says_when_there_is_room(
    planned: Page, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a phone: the second job says around whom it goes; the calendar, one tap from the jobs, shows both and names a day to promise."""
    monkeypatch.setattr(around_actions, "plan_around", quickly(plan_around))
    second = open_job("A second job", starts=job.starts)
    import_csv(second, "\n".join(demo.text("pieces.csv").splitlines()[:3]))
    planned.set_viewport_size({"width": 390, "height": 844})
    planned.goto(f"/jobs/{second.pk}/days/")
    press(planned.get_by_role("button", name="Plan the days"))
    expect(part(planned, "The plan ends")).to_contain_text(f"Planned around what {job.name} holds")
    planned.goto("/")
    press(planned.get_by_role("main").get_by_role("link", name="Calendar"))
    expect(planned.get_by_text("nothing twice")).to_be_visible()
    expect(planned.locator(".shop-week").first).to_contain_text(second.name)
    expect(planned.locator(".shop-week").first).to_contain_text(job.name)
    assert planned.evaluate("document.documentElement.scrollWidth") <= 390
    press(planned.get_by_role("button", name="From when, and what day to promise?"))
    expect(planned.locator("#room")).to_contain_text("you could promise")
