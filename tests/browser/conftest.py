"""A real Chromium, and a device that came in through the door."""

from collections.abc import Iterator

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from browser.eyes import launch
from hidewright.workshop.shop.door import make_link

COOKIE = "hidewright"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test of this folder as one for the browser that needs committed rows."""
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker(pytest.mark.browser)


def is_complaint(line: ConsoleMessage) -> bool:
    """Whether a line of the console is an error; a refused form (422) is none, though Chromium calls it one."""
    return line.type == "error" and not line.text.startswith("Failed to load resource")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One Chromium for all tests."""
    with sync_playwright() as play:
        chromium = launch(play)
        yield chromium
        chromium.close()


@pytest.fixture
def context(browser: Browser, live_server: object, transactional_db: None) -> Iterator[BrowserContext]:
    """A device that is in, with pages that know the server's address."""
    visitor = Client()
    visitor.post(make_link(), {"name": "test bench"})
    address = str(live_server)
    made = browser.new_context(base_url=address, reduced_motion="reduce", service_workers="block")
    made.add_cookies([{"name": COOKIE, "value": visitor.cookies[COOKIE].value, "url": address}])
    yield made
    made.close()


@pytest.fixture
def page(context: BrowserContext) -> Iterator[Page]:
    """A page of that device; the test fails where the page's scripts or its content policy complained."""
    made = context.new_page()
    complaints: list[str] = []
    made.on("pageerror", lambda error: complaints.append(str(error)))
    made.on("console", lambda line: complaints.append(line.text) if is_complaint(line) else None)
    yield made
    assert not complaints, "\n".join(complaints)
