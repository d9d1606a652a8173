"""Next year, on a phone: from the home page to the first pour of 100 mL like a jar, in no more than six taps."""

from datetime import date

import pytest
from playwright.sync_api import Locator, Page, expect

from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job
from workshop.kept_jar import keep_a_jar

pytestmark = pytest.mark.django_db(transaction=True)

PHONE = {"width": 390, "height": 844}
LONG = 60_000
MOST = 6


class Taps:
    """Counts what a finger does; typing into the field that was tapped is none."""

    def __init__(self) -> None:
        self.count = 0

    def tap(self, place: Locator) -> None:
        """Tap it."""
        self.count += 1
        place.click(timeout=LONG)


@pytest.fixture
def jar(transactional_db: None) -> MixVessel:
    job = open_job("Saloon of the Heron", starts=date(2026, 3, 2), client="R. Holm", registration="HRN-7")
    return keep_a_jar(job)


@pytest.mark.parametrize("words", ["HRN-7", "tan spare"])
def test_from_the_home_page_to_the_first_pour(page: Page, jar: MixVessel, words: str) -> None:
    page.set_viewport_size(PHONE)
    page.set_default_timeout(LONG)
    page.goto("/")
    assert "No job yet" not in page.content()
    taps = Taps()
    field = page.locator("header input[type=search]")
    taps.tap(field)
    field.fill(words)
    taps.count += 1  # the key “search” of the phone's own keyboard: there is no room for a button
    field.press("Enter")
    taps.tap(page.get_by_role("link", name="Tan, spare").first)
    expect(page.get_by_text("is the smallest that a balance")).to_be_visible()
    taps.tap(page.get_by_role("button", name="Mix 100 mL again"))
    expect(page.get_by_text("Made again like Tan, spare")).to_be_visible()
    taps.tap(page.locator("main form button.big").first)
    page.wait_for_load_state()
    cup = MixVessel.objects.latest("pk")
    assert cup.like == jar
    assert cup.aim == 100_000
    assert gather.state_of(cup).volume > 0, "the first pour is in the book"
    assert Job.objects.filter(put_away=None).count() == 1
    assert taps.count <= MOST
