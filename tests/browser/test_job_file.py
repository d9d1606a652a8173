"""The shop's side of the job file on a phone: a snag from a page, who must act, a failed look, an expired paper, the sign-off, the closing file.

The two pieces and the shop are invented rows; everything that happens to them is done with a thumb.
"""

import io
import re
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader
from pytest_django import Settings

from hidewright.survey import make_piece
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.shop.models import Job
from workshop.sends import PICTURE

pytestmark = pytest.mark.django_db(transaction=True)

LONG = 60_000


@pytest.fixture
def job(transactional_db: None, settings: Settings, tmp_path: Path) -> Job:
    """Two pieces in an invented car."""
    settings.PICTURES_ROOT = tmp_path / "pictures"
    made = open_job("Car Larkspur, an invented one", starts=date.today())
    for key in ("C1", "C2"):
        piece = make_piece(key=key, name="Seat", group="Chair", shape="panel", length=0.6, width=0.5)
        add_pieces(made, piece)
    add_person("Ana")
    return made


class Thumb:
    """Somebody with a phone."""

    def __init__(self, page: Page, job: Job) -> None:
        page.set_viewport_size({"width": 390, "height": 844})
        page.set_default_timeout(LONG)
        self.page, self.at = page, f"/jobs/{job.pk}/"

    def press(self, words: str, within: str = "main") -> None:
        """Press a button and wait for the page that comes."""
        with self.page.expect_navigation(timeout=LONG):
            self.page.locator(within).get_by_role("button", name=words, exact=True).first.click()

    def said(self, words: str) -> None:
        """See that the page says this, and that nothing runs out of the screen."""
        expect(self.page.locator("body")).to_contain_text(words)
        assert self.page.evaluate("document.documentElement.scrollWidth") <= 390


def test_from_a_snag_to_the_closing_file(page: Page, job: Job) -> None:
    thumb = Thumb(page, job)
    note_a_snag(thumb)
    pass_it_on(thumb)
    let_a_paper_expire(thumb)
    fail_and_sign(thumb)
    close_the_job(thumb)


def note_a_snag(thumb: Thumb) -> None:
    """Two taps and a picture, from a page where something else was going on."""
    page = thumb.page
    page.goto(f"{thumb.at}quantities/")
    page.get_by_role("link", name="Snag", exact=True).click()
    page.get_by_label("Picture", exact=True).set_input_files(
        {"name": "p.png", "mimeType": "image/png", "buffer": PICTURE}
    )
    thumb.press("Blocks")
    assert page.url.endswith("/quantities/"), "back where it was seen"
    thumb.said("Noted a snag")
    assert Snag.objects.get().picture


def pass_it_on(thumb: Thumb) -> None:
    """Somebody must act; the letter goes out."""
    page = thumb.page
    page.goto(f"{thumb.at}contacts/")
    page.get_by_label("Name").fill("Élodie Brandão")
    page.get_by_label("Mail or telephone").fill("e@example.org")
    thumb.press("Add")
    page.goto(f"{thumb.at}snags/")
    page.get_by_text("Who must act, letter").click()
    page.get_by_label("Who must act?").select_option(label="Élodie Brandão")
    page.get_by_label("How far?").select_option("ordered")
    thumb.press("Note who and how far")
    thumb.said("Élodie Brandão: ordered")
    page.get_by_text("Who must act, letter").click()
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
    thumb.said("To be done again: C1, C2")
    page.goto(f"{thumb.at}snags/")
    thumb.press("It is dealt with: close")
    page.goto(f"{thumb.at}inspection/")
    page.get_by_text("Mark all pieces", exact=True).click()
    thumb.press("Lamp: good")
    thumb.said("Nothing hinders the final sign-off.")
    sign_off(thumb)
    thumb.said("final sign-off")
    paper = page.request.get(f"{thumb.at}inspection/paper.pdf").body()
    assert "C2" in PdfReader(io.BytesIO(paper)).pages[0].extract_text()


def sign_off(thumb: Thumb) -> None:
    """Sign for the whole job."""
    form = thumb.page.locator("form", has=thumb.page.get_by_role("heading", name="Sign", exact=True))
    form.get_by_label("Who signs").select_option(label="Ana")
    form.get_by_text("This is the final sign-off").click()
    thumb.page.once("dialog", lambda dialog: dialog.accept())
    with thumb.page.expect_navigation(timeout=LONG):
        form.get_by_role("button", name="Sign", exact=True).click()


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
        assert sum(name.startswith("pictures/") for name in names) == 1
