"""The whole line in a real browser, by its keys alone: a new job from the CSV of its pieces to a cup, a printed day sheet and a first tap.

A person's eyes and keyboard only: nothing is put into the database but what the pages put there. The interior is one invented
lounge chair; pigments, drawdowns and readings are the demonstration's.
"""

import io
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect
from pypdf import PdfReader

from browser.keys import Keys
from hidewright import demo

pytestmark = pytest.mark.django_db(transaction=True)

LONG = 120_000
"""Milliseconds that a computation may take; in tests it is carried out within the request."""

PIECES = """key,name,group,shape,length,width,thickness,material,condition,sat_on,turned,strip,count,notes
LC1-seat,seat cushion,Lounge chair 1,cushion,560,540,130,leather,overcoated,yes,yes,,1,
LC1-back,back shell,Lounge chair 1,shell,720,560,,leather,worn,yes,no,,1,
LC1-arm,arm,Lounge chair 1,arm,520,95,180,leather,worn,yes,no,,2,
LC1-trim,side panel,Lounge chair 1,panel,600,300,,vinyl,sound,no,no,,1,
"""


class Craftsperson:
    """Somebody who works through the pages as they come."""

    def __init__(self, page: Page, folder: Path) -> None:
        self.page = page
        self.keys = Keys(page)
        self.folder = folder
        page.set_default_timeout(8_000)
        page.set_default_navigation_timeout(LONG)

    def file(self, name: str, text: str) -> Path:
        """A file of theirs."""
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        return path

    def go(self, stage: str) -> None:
        """Open a stage of the job by its link."""
        self.keys.press(self.page.locator(".stages").get_by_role("link", name=stage, exact=True))
        expect(self.page.locator(".stages [aria-current]")).to_have_text(stage)

    def go_in_shop(self, name: str) -> None:
        """Open one of the shop's pages by the menu."""
        self.keys.press(self.page.locator(".shop-nav summary"))
        with self.page.expect_navigation(timeout=LONG):
            self.keys.press(self.page.locator(".shop-nav").get_by_role("link", name=name, exact=True))
        expect(self.page.get_by_role("heading", level=1)).to_be_visible()

    def press(self, words: str) -> None:
        """Press a button, and wait for the page that comes."""
        self.follow(self.page.get_by_role("button", name=words, exact=True).first)

    def follow(self, wanted: Locator) -> None:
        """Press a link or a button, and wait for the page that comes."""
        with self.page.expect_navigation(timeout=LONG):
            self.keys.press(wanted)

    def said(self, words: str) -> None:
        """See that the page says this."""
        expect(self.page.locator("body")).to_contain_text(words, timeout=LONG)


@pytest.fixture
def hands(page: Page, tmp_path: Path) -> Craftsperson:
    """Somebody at a tablet who is in."""
    page.set_viewport_size({"width": 820, "height": 1180})
    page.goto("/")
    return Craftsperson(page, tmp_path)


def furnish(hands: Craftsperson) -> None:
    """A table, the shop's hours and a person, by hand."""
    hands.go_in_shop("Tables and hours")
    form = hands.page.locator("details.panel").filter(
        has=hands.page.get_by_role("heading", name="Add a table")
    )
    hands.keys.unfold(form)
    hands.keys.write(form.get_by_label("Name"), "Long bench")
    hands.keys.write(form.get_by_label("Length, metres"), "3.6")
    hands.keys.write(form.get_by_label("Depth, metres"), "0.9")
    hands.keys.press(form.get_by_role("button", name="Add"))
    hands.said("Long bench")
    hours = hands.page.locator("section.panel").filter(
        has=hands.page.get_by_role("heading", name="Hours of the shop")
    )
    hands.follow(hours.get_by_role("link", name="Change"))
    for day in ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday"):
        hands.keys.write(hands.page.get_by_label(day), "08:00-12:00, 12:30-17:00")
    hands.press("Save")
    hands.go_in_shop("People")
    hands.keys.write(hands.page.get_by_label("Name"), "Hand One")
    hands.press("Add")
    hands.said("Hand One")


def stock(hands: Craftsperson) -> None:
    """The shop's pigments, with what their drawdowns say."""
    hands.go_in_shop("Pigments")
    page = hands.page
    lists = page.locator("details.panel").filter(
        has=page.get_by_role("heading", name="Bring a list of pigments")
    )
    hands.keys.unfold(lists)
    hands.follow(lists.get_by_role("link", name="Bring a list"))
    hands.keys.bring(page.get_by_label("File"), hands.file("pigments.csv", demo.text("pigments.csv")))
    hands.press("Look at it")
    hands.follow(page.locator("button.primary", has_text="Take").first)
    hands.go_in_shop("Pigments")
    films = page.locator("details.panel").filter(has=page.get_by_role("heading", name="Bring drawdowns"))
    hands.keys.unfold(films)
    hands.keys.bring(films.get_by_label("File"), hands.file("drawdowns.csv", demo.text("drawdowns.csv")))
    hands.press("Bring them in")
    hands.said("its drawdowns fit")


def open_job(hands: Craftsperson) -> None:
    """A new job, with its list of pieces; a wrong list first, which must change nothing."""
    page = hands.page
    page.goto("/")
    hands.follow(
        page.get_by_role("link", name="New job")
        .or_(page.get_by_role("link", name="Open the first job"))
        .first
    )
    hands.keys.write(page.get_by_label("What do you call this job?"), "One chair")
    hands.keys.write(page.get_by_label("First working day"), "2026-03-02")
    hands.keys.write(page.get_by_label("Must leave on"), "2026-03-20")
    hands.press("Open the job")
    hands.go("Survey")
    wrong = PIECES.replace("560,540,130", "560,wide,130")
    hands.keys.bring(page.get_by_label("File"), hands.file("wrong.csv", wrong))
    hands.press("Look at it")
    hands.said("Row 2")
    hands.said("Nothing has changed yet.")
    hands.follow(page.get_by_role("link", name="Leave it").first)
    hands.keys.bring(page.get_by_label("File"), hands.file("pieces.csv", PIECES))
    hands.press("Look at it")
    hands.press("This is right")
    hands.press("Add the 5 pieces")
    hands.said("LC1-seat")


def agree_colour(hands: Craftsperson) -> None:
    """Readings, a target, recipes, and one chosen."""
    page = hands.page
    hands.go("Colour")
    brought = page.locator("form").filter(has=page.get_by_role("button", name="Bring it in"))
    hands.keys.bring(brought.get_by_label("File"), hands.file("readings.csv", demo.text("readings.csv")))
    hands.press("Bring it in")
    hands.said("Target, under the cushion over Old coat, back of chair 3")
    hands.press("Find recipes")
    hands.said("Recipes found, best first")
    hands.press("Choose Recipe 1")
    hands.said("Recipe 1 is chosen")


def pour_first(hands: Craftsperson) -> None:
    """A cup is begun, and its first pour logged as shown."""
    hands.go("Mixing")
    hands.press("Begin the cup")
    hands.press("Poured as shown")
    hands.said("into Recipe 1")


def plan_days(hands: Craftsperson) -> None:
    """A plan of ten seconds' thought."""
    hands.go("Days")
    hands.keys.choose(hands.page.get_by_label("Think for"), "10")
    hands.press("Plan the days")
    expect(hands.page.locator("#verdict-h")).to_contain_text("The plan ends", timeout=LONG)
    hands.said("At the very earliest")


def read_day_sheets(hands: Craftsperson, context: BrowserContext) -> str:
    """The text of the first two days' sheets, by their links on the page of the papers: a plan that had little time puts the first piece on a table on the second."""
    hands.go("Papers")
    text = ""
    for link in hands.page.locator("a[href*='day-sheet']").all()[:2]:
        answer = context.request.get(str(link.get_attribute("href")))
        assert answer.status == 200
        text += "\n".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(answer.body())).pages)
    return text


def skip_to_the_work(hands: Craftsperson) -> None:
    """The first press of Tab shows a way past the header; it leads into the page's own part."""
    skip = hands.page.get_by_role("link", name="Skip to the work")
    hands.page.keyboard.press("Tab")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport(ratio=1)
    hands.page.keyboard.press("Enter")
    expect(hands.page.locator("main")).to_be_focused()
    hands.page.keyboard.press("Tab")
    expect(hands.page.locator("main :focus")).to_have_count(1)


def tap_the_first_session(hands: Craftsperson) -> None:
    """The first session of the list is done, and open again, by the space bar."""
    hands.go("Days")
    hands.keys.unfold(hands.page.locator(".person-day").first)
    first = hands.page.locator(".act").first
    for state in ("done", "open"):
        hands.keys.press(first.locator("button.tap").first, "Space")
        expect(first).to_have_attribute("data-state", state)
    hands.keys.unfold(first.locator("details.snag"))


def test_a_new_job_from_csv_to_printed_day_sheet(hands: Craftsperson, context: BrowserContext) -> None:
    """Every stage in its order, and what it says is carried on to the next."""
    skip_to_the_work(hands)
    furnish(hands)
    stock(hands)
    open_job(hands)
    agree_colour(hands)
    plan_days(hands)
    pour_first(hands)
    tap_the_first_session(hands)
    sheet = read_day_sheets(hands, context)
    assert "One chair" in sheet
    assert "Hand One" in sheet
    assert "Long bench" in sheet
    assert "LC1-" in sheet
