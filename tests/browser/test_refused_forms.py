"""A form that was refused is shown where it was refused, with its first fault in view, on a phone."""

from datetime import date

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.shop.models import Job

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def phone(context: BrowserContext) -> Page:
    """A page as wide as a phone."""
    page = context.new_page()
    page.set_viewport_size({"width": 390, "height": 844})
    return page


@pytest.fixture
def job(transactional_db: None) -> Job:
    """An empty job."""
    return open_job("Six seats", starts=date(2026, 3, 2))


def test_a_fault_at_the_foot_of_a_long_page_comes_into_view(phone: Page, job: Job) -> None:
    phone.goto(f"/jobs/{job.pk}/survey/add/")
    phone.locator("[name=key]").fill("S1-seat")
    phone.locator("[name=name]").fill("seat")
    phone.locator("[name=length]").fill("560")
    phone.locator("[name=width]").fill("wide")
    phone.get_by_role("button", name="Add", exact=True).click()
    expect(phone.get_by_text("“wide” cannot be read")).to_be_in_viewport()
    expect(phone.locator("[name=width]")).to_be_focused()
    assert phone.locator("[name=width]").input_value() == "wide", "what was typed is kept"


def test_a_fault_inside_a_fold_opens_it(phone: Page, job: Job) -> None:
    phone.goto(f"/jobs/{job.pk}/inspection/")
    phone.get_by_text("Its number and figures").click()
    phone.get_by_role("button", name="Keep it").click()
    fault = phone.locator(".field.wrong .error").first
    expect(fault).to_be_in_viewport()


def test_a_page_without_a_fault_stays_at_its_top(phone: Page, job: Job) -> None:
    phone.goto(f"/jobs/{job.pk}/survey/add/")
    assert phone.evaluate("scrollY") == 0
    assert phone.evaluate("document.activeElement === document.body")
