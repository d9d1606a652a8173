"""In a real browser: a tap made without a connection is kept on the device and reaches the server once."""

from dataclasses import replace
from datetime import timedelta

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.days.models import Tap
from hidewright.workshop.days.progress_queries import snags_told, standings
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.shop.models import Job
from workshop.plans import PLAN

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def job(transactional_db: None) -> Job:
    made = open_job("A job under test", starts=PLAN.days[0])
    keep_plan(made, PLAN)
    return made


def day_page(context: BrowserContext, job: Job) -> Page:
    page = context.new_page()
    page.goto(f"/jobs/{job.pk}/days/2026-03-02/")
    return page


def test_taps_without_a_connection_are_kept_and_sent_once(context: BrowserContext, job: Job) -> None:
    page = day_page(context, job)
    context.set_offline(True)
    first, second = page.locator(".act").nth(0), page.locator(".act").nth(1)
    first.locator("button.tap").click()
    second.locator("button.tap").click()
    second.locator("button.tap").click()
    first.locator(".snag summary").click()
    first.locator("input[name=note]").fill("seam <open> #1")
    first.get_by_role("button", name="Note it and go on").click()
    expect(page.locator("#taps-state")).to_contain_text("4 taps kept on this device")
    expect(first).to_have_attribute("data-state", "done")
    assert not Tap.objects.exists()
    context.set_offline(False)
    expect(page.locator("#taps-state")).to_be_hidden(timeout=15000)
    assert Tap.objects.count() == 4
    stands = standings(job)
    assert [stands[key].done for key in ("C1/top/spray", "C2/top/strip")] == [True, False]
    assert [snag.note for snag in snags_told(job)] == ["seam <open> #1"]
    page.reload()
    expect(page.locator(".act").nth(0)).to_have_attribute("data-state", "done")
    expect(page.locator(".act").nth(0)).to_contain_text("seam <open> #1")


def test_an_answer_that_is_lost_does_not_make_two_taps(context: BrowserContext, job: Job) -> None:
    page = day_page(context, job)
    lost = []

    def lose_the_first_answer(route):
        if not lost:
            lost.append(route.request.post_data)
            route.fetch()
            route.abort()
        else:
            route.continue_()

    page.route("**/days/tap/", lose_the_first_answer)
    page.locator("button.tap").nth(0).click()
    expect(page.locator("#taps-state")).to_be_hidden(timeout=15000)
    expect(page.locator("#taps-state")).to_have_attribute("data-waiting", "0", timeout=15000)
    assert lost
    assert Tap.objects.count() == 1


def test_taps_survive_the_closing_of_the_page(context: BrowserContext, job: Job) -> None:
    page = day_page(context, job)
    context.set_offline(True)
    page.locator("button.tap").nth(0).click()
    page.close()
    context.set_offline(False)
    page = day_page(context, job)
    expect(page.locator("#taps-state")).to_have_attribute("data-waiting", "0", timeout=15000)
    assert Tap.objects.count() == 1


def test_a_group_is_done_when_its_last_act_is(context: BrowserContext, job: Job) -> None:
    begin = PLAN.acts[0].start
    step = timedelta(minutes=20)
    alike = [
        replace(PLAN.acts[0], key=f"S{n}", piece=f"S{n}", start=begin + n * step, end=begin + (n + 1) * step)
        for n in range(3)
    ]
    keep_plan(job, replace(PLAN, acts=tuple(alike)))
    page = day_page(context, job)
    group = page.locator(".act").nth(0)
    group.locator(".snag summary").click()
    ones = group.locator(".one-by-one > li")
    ones.nth(1).locator("button").click()
    expect(ones.nth(1)).to_have_attribute("data-state", "done")
    expect(group).to_have_attribute("data-state", "open")
    group.locator("button.tap").nth(0).click()
    expect(group).to_have_attribute("data-state", "done")
    expect(page.locator("#taps-state")).to_have_attribute("data-waiting", "0", timeout=15000)
    assert {key: standing.done for key, standing in standings(job).items()} == {
        "S0": True,
        "S1": True,
        "S2": True,
    }
    assert Tap.objects.count() == 3
    group.locator("button.tap").nth(0).click()
    expect(page.locator("#taps-state")).to_have_attribute("data-waiting", "0", timeout=15000)
    assert not any(standing.done for standing in standings(job).values())


def test_a_tap_on_the_page_of_a_piece_is_kept_and_sent_from_any_page(
    context: BrowserContext, job: Job
) -> None:
    """The network goes; the tap waits on the device, and the next page that opens, whichever it is, sends it once."""
    page = context.new_page()
    page.goto(f"/jobs/{job.pk}/days/pieces/C2/")
    context.set_offline(True)
    page.locator("button.tap").nth(0).click()
    expect(page.locator("#taps-state")).to_contain_text("1 tap kept on this device")
    assert not Tap.objects.exists()
    page.close()
    context.set_offline(False)
    other = context.new_page()
    other.goto(f"/jobs/{job.pk}/mixing/")
    expect(other.locator("#taps-state")).to_have_attribute("data-waiting", "0", timeout=15000)
    assert Tap.objects.count() == 1
    assert standings(job)["C2/top/strip"].done


def test_two_pages_at_once_send_each_tap_once(context: BrowserContext, job: Job) -> None:
    first, second = day_page(context, job), day_page(context, job)
    context.set_offline(True)
    first.locator("button.tap").nth(0).click()
    second.locator("button.tap").nth(1).click()
    context.set_offline(False)
    for page in (first, second):
        expect(page.locator("#taps-state")).to_be_hidden(timeout=15000)
    assert Tap.objects.count() == 2


def test_another_form_is_not_sent_into_the_void(context: BrowserContext, job: Job) -> None:
    """What was written in a snag stays on the page while the device is off the network, and goes with the next press."""
    page = context.new_page()
    page.goto(f"/jobs/{job.pk}/snags/")
    page.locator("#new input[name=what]").fill("thread missing")
    context.set_offline(True)
    page.locator("#new button.primary").click()
    expect(page.locator("#link-state")).to_contain_text("What you wrote stays here")
    expect(page.locator("#new input[name=what]")).to_have_value("thread missing")
    context.set_offline(False)
    page.locator("#new button.primary").click()
    expect(page.locator(".snag")).to_contain_text("thread missing")
    assert job.snags.count() == 1
