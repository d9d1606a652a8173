"""In a real browser: the list of the day and the cup open without a network, as last seen, and only for the person who saw them."""

from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, expect
from pytest_django.live_server_helper import LiveServer

from browser.conftest import COOKIE
from browser.wire import Wire
from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.days.models import Tap
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.shop.door import make_link
from hidewright.workshop.shop.models import Device, Job
from workshop.plans import PLAN

pytestmark = pytest.mark.django_db(transaction=True)

KEPT = """async () => (await (await caches.open('hidewright-kept')).keys()).map((r) => new URL(r.url).pathname).sort()"""


@pytest.fixture
def job(transactional_db: None) -> Job:
    made = open_job("A job under test", starts=PLAN.days[0])
    keep_plan(made, PLAN)
    return made


@pytest.fixture
def wire(live_server: LiveServer) -> Iterator[Wire]:
    """The network between the device and the server."""
    with Wire(urlsplit(str(live_server)).port or 80) as wire:
        yield wire


@pytest.fixture
def device(browser: Browser, wire: Wire, transactional_db: None) -> Iterator[BrowserContext]:
    """A device that is in and may keep pages."""
    visitor = Client()
    visitor.post(make_link(), {"name": "a phone"})
    made = browser.new_context(base_url=wire.address, reduced_motion="reduce")
    made.add_cookies([{"name": COOKIE, "value": visitor.cookies[COOKIE].value, "url": wire.address}])
    yield made
    made.close()


def worked(context: BrowserContext) -> Page:
    """A page whose worker has taken over."""
    page = context.new_page()
    page.goto("/")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    return page


def kept(page: Page, path: str) -> None:
    """Wait until a page is kept."""
    page.wait_for_function(f"({KEPT})().then((paths) => paths.includes('{path}'))")


def test_the_list_of_the_day_opens_without_a_network_and_says_so(
    device: BrowserContext, wire: Wire, job: Job
) -> None:
    page, path = worked(device), f"/jobs/{job.pk}/days/2026-03-02/"
    page.goto(path)
    expect(page.locator(".kept-words")).to_have_count(0)
    kept(page, path)
    wire.cut()
    page.reload()
    expect(page.locator(".kept-words")).to_contain_text("as this device saw it on")
    page.locator("button.tap").nth(0).click()
    expect(page.locator(".act").nth(0)).to_have_attribute("data-state", "done")
    expect(page.locator("#taps-state")).to_contain_text("1 tap kept on this device")
    page.goto(f"/jobs/{job.pk}/survey/")
    expect(page.locator("h1")).to_have_text("No network")
    page.locator(f"a[href='{path}']").click()
    expect(page.locator(".act").nth(0)).to_have_attribute("data-state", "done")
    assert not Tap.objects.exists()
    wire.mend()
    expect(page.locator(".kept-words")).to_have_count(0, timeout=15000)
    expect(page.locator("#taps-state")).to_have_attribute("data-waiting", "0", timeout=15000)
    assert Tap.objects.count() == 1


def test_another_persons_device_forgets_what_it_kept(device: BrowserContext, wire: Wire, job: Job) -> None:
    page, path = worked(device), f"/jobs/{job.pk}/mixing/"
    page.goto(path)
    kept(page, path)
    Device.objects.update(person=add_person("Somebody else"))
    page.goto(f"/jobs/{job.pk}/survey/")
    assert page.evaluate(KEPT) == ["/kept-for"]
    page.goto(path)
    kept(page, path)
    Device.objects.update(shut_out="2026-03-02T12:00Z")
    page.goto(path)
    assert page.evaluate(KEPT) == ["/kept-for"]
    wire.cut()
    page.goto(path)
    expect(page.locator("main")).to_contain_text("Nothing is kept on this device yet")
