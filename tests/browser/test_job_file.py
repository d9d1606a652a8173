"""The job file on a phone, from the first call to the closing file: intake with pictures, three variants, one agreed and later changed, a blocking
snag, its repair, a failed look, an expired paper, the sign-off, the hand-over, and what came back later.

The shop is invented; everything that happens to the job is done with a thumb, but for the colour that was read.
"""

import io
import re
import zipfile
from datetime import date, time, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader
from pytest_django import Settings

from hidewright.workshop.approvals.models import Agreement
from hidewright.workshop.colours.actions import set_target, type_colour
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.intake.picture_actions import keep_waiting
from hidewright.workshop.room.actions import set_week
from hidewright.workshop.shop.models import Job
from workshop.sends import PICTURE

pytestmark = pytest.mark.django_db(transaction=True)

LONG = 60_000


@pytest.fixture
def shop(transactional_db: None, settings: Settings, tmp_path: Path) -> None:
    """Somebody who works and hours; no job."""
    settings.PICTURES_ROOT = tmp_path / "pictures"
    add_person("Ana")
    set_week(None, {day: [(time(8), time(17))] for day in range(5)})


class Thumb:
    """Somebody with a phone."""

    def __init__(self, page: Page) -> None:
        page.set_viewport_size({"width": 390, "height": 844})
        page.set_default_timeout(LONG)
        self.page, self.at = page, "/calls/"

    def sign(self) -> None:
        """Draw a signature in the field."""
        field = self.page.locator("canvas")
        field.scroll_into_view_if_needed()
        box = field.bounding_box()
        assert box is not None
        mouse, x, y = self.page.mouse, box["x"], box["y"] + box["height"] / 2
        mouse.move(x + 30, y)
        mouse.down()
        for step in (60, 120, 200):
            mouse.move(x + step, y + step % 50)
        mouse.up()

    def press(self, words: str, within: str = "main") -> None:
        """Press a button and wait for the page that comes."""
        with self.page.expect_navigation(timeout=LONG):
            self.page.locator(within).get_by_role("button", name=words, exact=True).first.click()

    def said(self, words: str) -> None:
        """See that the page says this, and that nothing runs out of the screen."""
        expect(self.page.locator("body")).to_contain_text(words)
        assert self.page.evaluate("document.documentElement.scrollWidth") <= 390


def test_from_the_first_call_to_the_closing_file(page: Page, shop: None) -> None:
    thumb = Thumb(page)
    job = begin_with_a_call(thumb)
    take_it_in(thumb, job)
    agree_and_change(thumb, job)
    note_a_snag(thumb)
    have_it_repaired(thumb)
    pass_it_on(thumb)
    let_a_paper_expire(thumb)
    fail_and_sign(thumb)
    hand_it_over(thumb)
    close_the_job(thumb)
    let_it_come_back(thumb, job)


def begin_with_a_call(thumb: Thumb) -> Job:
    """Two counted chairs become a ballpark, and the ballpark a list of pieces."""
    page = thumb.page
    page.goto(thumb.at)
    page.get_by_label("Chairs without arms").fill("1")
    page.get_by_label("Who calls?").fill("Mrs Lind")
    page.get_by_label("What is it?").fill("Car Larkspur, an invented one")
    thumb.press("Work it out")
    thumb.said("likely, before tax")
    thumb.press("Begin the survey")
    job = Job.objects.get()
    thumb.at = f"/jobs/{job.pk}/"
    return job


def take_it_in(thumb: Thumb, job: Job) -> None:
    """Everything comes in with a driver who signs; a picture waits for the worker, and is there once it was at work."""
    page = thumb.page
    page.goto(f"{thumb.at}intake/")
    page.get_by_label("Who brought it?").fill("A driver")
    page.get_by_text("All that is not here yet").click()
    thumb.press("Take them in")
    thumb.said("2 of 2")
    page.get_by_role("link", name="Sign", exact=True).click()
    page.get_by_label("Name").fill("A driver")
    thumb.sign()
    thumb.press("Sign")
    thumb.said("signed by A driver")
    page.get_by_label("Pictures", exact=True).set_input_files(
        [{"name": f"{n}.png", "mimeType": "image/png", "buffer": data} for n, data in (("p", PICTURE), ("torn", PICTURE[:30]))]
    )  # fmt: skip
    thumb.press("Bring the pictures")
    keep_waiting(job)
    page.reload()
    thumb.said("torn.png")
    expect(page.locator("ul.pictures img")).to_have_count(1)


def agree_and_change(thumb: Thumb, job: Job) -> None:
    """Three variants; one is agreed on, then another: the first stays on record."""
    page = thumb.page
    aimed, old = (type_colour(job, name, lab) for name, lab in (("Saddle", (55.0, 6.0, 14.0)), ("Old", (40.0, 6.0, 14.0))))  # fmt: skip
    set_target(job, aimed.pk, old.pk)
    page.goto(f"{thumb.at}approvals/")
    page.get_by_label("As aimed at").uncheck()
    thumb.press("Put them side by side")
    expect(page.locator(".variant")).to_have_count(3)
    for name in ("As it was", "A little lighter"):
        page.get_by_role("link", name="Somebody agrees").click()
        page.get_by_role("radio", name=re.compile(f"^{name}")).check()
        page.get_by_label("Who agrees?").fill("Mrs Lind")
        thumb.sign()
        thumb.press("It is agreed")
        expect(page.locator(".variant.agreed")).to_contain_text(name)
    thumb.said("As it was")
    assert [row.variant.name for row in Agreement.objects.order_by("id")] == ["As it was", "A little lighter"]


def note_a_snag(thumb: Thumb) -> None:
    """Two taps and a picture, from a page where something else was going on."""
    page = thumb.page
    page.goto(f"{thumb.at}quantities/")
    page.get_by_role("link", name="Snag", exact=True).click()
    page.get_by_label("Picture", exact=True).set_input_files(
        {"name": "p.png", "mimeType": "image/png", "buffer": PICTURE}
    )
    page.get_by_label("Which piece?").fill("C1-1")
    thumb.press("Blocks")
    assert page.url.endswith("/quantities/"), "back where it was seen"
    thumb.said("Noted a snag")
    assert Snag.objects.get().picture


def have_it_repaired(thumb: Thumb) -> None:
    """The repair is work of the piece before its next coat; that it is planned and tapped done is walked in `test_two_days`."""
    page = thumb.page
    page.goto(f"{thumb.at}snags/")
    page.locator(".snag select[name$=decision]").select_option("repair")
    thumb.press("Note the decision")
    thumb.said("is work of C1-1 seat before its next coat")


def pass_it_on(thumb: Thumb) -> None:
    """Somebody must act; the letter goes out."""
    page = thumb.page
    page.goto(f"{thumb.at}contacts/")
    page.get_by_label("Name").fill("Élodie Brandão")
    page.get_by_label("Mail or telephone").fill("e@example.org")
    thumb.press("Add")
    page.goto(f"{thumb.at}snags/")
    page.get_by_text("Who it waits for, letter").click()
    page.get_by_label("Who does it wait for?").select_option(label="Élodie Brandão")
    page.get_by_label("How far?").select_option("ordered")
    thumb.press("Note who and how far")
    thumb.said("Élodie Brandão: ordered")
    page.get_by_text("Who it waits for, letter").click()
    expect(page.get_by_role("link", name="Send as mail")).to_have_attribute(
        "href", re.compile("^mailto:e%40example")
    )
    letter = page.request.get(
        page.get_by_role("link", name="Letter as PDF").get_attribute("href") or ""
    ).body()
    assert "Élodie Brandão" in PdfReader(io.BytesIO(letter)).pages[0].extract_text()


def let_a_paper_expire(thumb: Thumb) -> None:
    """The header says what is missing and what is over."""
    page = thumb.page
    page.goto(f"{thumb.at}credentials/")
    page.get_by_label("Rules").select_option("rail")
    thumb.press("Go by these")
    thumb.said("3 papers missing")
    page.get_by_label("What is it?").select_option("training")
    page.get_by_label("What does it say?").fill("Course in solvents")
    page.get_by_label("Good until").fill((date.today() - timedelta(days=1)).isoformat())
    thumb.press("Keep it")
    thumb.said("2 papers missing")
    thumb.said("1 expired")


def fail_and_sign(thumb: Thumb) -> None:
    """The final sign-off says what it waits for, until it is done."""
    page = thumb.page
    page.goto(f"{thumb.at}inspection/")
    for words, mark in (("Sun: good", "Mark all pieces"), ("Lamp: again", "Mark all pieces")):
        page.get_by_text(mark, exact=True).click()
        thumb.press(words)
    sign_off(thumb)
    thumb.said("A blocking snag is open")
    thumb.said("Work is not done on: C1-1 seat")
    thumb.said("To be done again: C1-2 back")
    page.goto(f"{thumb.at}snags/")
    thumb.press("It is dealt with: close")
    page.goto(f"{thumb.at}inspection/")
    page.get_by_text("Mark all pieces", exact=True).click()
    thumb.press("Lamp: good")
    thumb.said("Nothing is left before the final sign-off.")
    sign_off(thumb)
    thumb.said("final sign-off")
    paper = page.request.get(f"{thumb.at}inspection/paper.pdf").body()
    assert "C1-2" in PdfReader(io.BytesIO(paper)).pages[0].extract_text()


def sign_off(thumb: Thumb) -> None:
    """Sign for the whole job."""
    form = thumb.page.locator("form", has=thumb.page.get_by_role("heading", name="Sign", exact=True))
    form.get_by_label("Who signs").select_option(label="Ana")
    form.get_by_text("This is the final sign-off").click()
    thumb.page.once("dialog", lambda dialog: dialog.accept())
    with thumb.page.expect_navigation(timeout=LONG):
        form.get_by_role("button", name="Sign", exact=True).click()


def hand_it_over(thumb: Thumb) -> None:
    """What came in goes out, signed at the other end."""
    page = thumb.page
    page.goto(f"{thumb.at}handover/")
    page.get_by_text("All (2)").click()
    thumb.press("Packed")
    page.get_by_role("link", name="Hand it over and sign").click()
    page.get_by_label("Who takes it over?").fill("Mrs Lind")
    thumb.sign()
    thumb.press("Handed over")
    thumb.said("2 of 2")


def let_it_come_back(thumb: Thumb, job: Job) -> None:
    """A scuff months later opens a touch-up on the same colour."""
    page = thumb.page
    page.goto(f"{thumb.at}account/")
    page.get_by_text("Something came back").click()
    page.get_by_label("What is wrong?").fill("A scuff")
    page.locator("[name=claim-pieces]").first.check()
    thumb.press("Note it and open the touch-up")
    thumb.said("Claim 1")
    page.get_by_role("link", name="Its touch-up").click()
    thumb.said("Touch-up: Car Larkspur")


def close_the_job(thumb: Thumb) -> None:
    """The closing file is saved, and has the picture in it."""
    page = thumb.page
    page.goto(f"{thumb.at}papers/")
    page.get_by_role("link", name=re.compile("Closing file")).first.click()
    thumb.said("Seal as it is now")
    with page.expect_download(timeout=LONG) as saved:
        page.get_by_role("link", name="Save the zip").click()
    with zipfile.ZipFile(saved.value.path()) as packed:
        names = packed.namelist()
        assert packed.testzip() is None
        assert {"about.json", "closing.pdf"} <= set(names)
        assert sum(name.startswith("pictures/") for name in names) >= 2
        assert "rows/agreement.jsonl" in names
