"""Colour off a photo on a phone, and what a cup's readings teach, in a real browser: picked, read, learned, struck out, learned anew.

The photo is the demonstration's: an invented card of ten patches beside invented leather whose colour is known (L* 55, a* 9, b* 16).
"""

import csv
import re
from datetime import date
from io import BytesIO, StringIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from browser.eyes import look
from hidewright import demo
from hidewright.demo.make_photo import LEATHER, picture
from hidewright.workshop import demonstration
from hidewright.workshop.colours.queries import chosen_recipe
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job

pytestmark = pytest.mark.django_db(transaction=True)

PATCHES = list(csv.DictReader(StringIO(demo.text("patches.csv"))))


@pytest.fixture
def phone(browser: Browser, context: BrowserContext) -> Page:
    """A phone that is touched, with the same sign-in."""
    address = context.new_page()
    address.goto("/")
    made = browser.new_context(
        base_url=address.url, viewport={"width": 390, "height": 844}, has_touch=True, reduced_motion="reduce"
    )
    made.add_cookies(context.cookies())  # type: ignore[arg-type]
    return made.new_page()


def drag(page: Page, photo: Locator, patch: dict[str, str]) -> None:
    """Draw a rectangle on the photo over a patch."""
    photo.scroll_into_view_if_needed()
    frame = photo.bounding_box()
    assert frame is not None
    left, top, right, bottom = (float(patch[side]) / 100 for side in ("left", "top", "right", "bottom"))
    page.mouse.move(frame["x"] + left * frame["width"], frame["y"] + top * frame["height"])
    page.mouse.down()
    page.mouse.move(frame["x"] + right * frame["width"], frame["y"] + bottom * frame["height"], steps=4)
    page.mouse.up()


def bring(page: Page, job: Job, folder: Path, photo: bytes) -> Locator:
    """Bring a photo; returns where it is shown."""
    path = folder / "leather.jpg"
    path.write_bytes(photo)
    page.goto(f"/jobs/{job.pk}/colour/")
    page.get_by_role("link", name="Bring a photo").click()
    page.set_input_files("input[type=file]", path)
    page.locator("main form button.primary").click()
    shown = page.locator("[data-photo]")
    expect(shown.locator("img")).to_be_visible()
    return shown


def mark(page: Page, shown: Locator, *names: str) -> None:
    """Mark the leather and the named patches, each with what the card says of it."""
    page.fill("[name=name]", "Seat, off a photo")
    drag(page, shown, PATCHES[-1])
    if len(names) > 1:
        page.get_by_text("A card of known patches").click()
    for number, name in enumerate(names, 1):
        patch = next(p for p in PATCHES if p["name"] == name)
        page.locator(f"[name=mark][value=known{number}]").check()
        drag(page, shown, patch)
        for axis in "lab":
            page.fill(f"[name=known{number}-{axis}]", patch[axis])


def told(page: Page) -> tuple[float, ...]:
    """L*, a*, b* of the reading as the page shows it."""
    words = page.locator("main").inner_text()
    found = re.search(r"L\* (\S+) a\* (\S+) b\* (\S+)", words)
    assert found, words[:400]
    return tuple(float(number.replace("−", "-")) for number in found.groups())


def test_a_card_of_known_patches_gives_the_colour_on_a_phone(phone: Page, tmp_path: Path) -> None:
    job = open_job("Seat", starts=date(2026, 3, 2))
    shown = bring(phone, job, tmp_path, picture())
    assert not look(phone)
    phone.set_viewport_size({"width": 390, "height": 844})
    mark(phone, shown, *(p["name"] for p in PATCHES[:-1]))
    boxes = phone.locator("[name=sample-box]").input_value().split()
    assert [float(v) for v in boxes] == pytest.approx([92.73, 10, 98.18, 90], abs=2.0)
    phone.get_by_role("button", name="Read the colour").click()
    expect(phone.get_by_text("it may be off by about")).to_be_visible()
    assert np.abs(np.subtract(told(phone), LEATHER)).max() < 2.5


def test_a_grey_card_alone_gives_a_wider_spread(phone: Page, tmp_path: Path) -> None:
    job = open_job("Seat", starts=date(2026, 3, 2))
    shown = bring(phone, job, tmp_path, picture())
    mark(phone, shown, "grey")
    phone.get_by_role("button", name="Read the colour").click()
    said = phone.get_by_text("it may be off by about").inner_text()
    spread = float(re.search(r"about ([\d.]+)", said)[1])  # type: ignore[index]
    assert spread >= 3.0
    assert np.abs(np.subtract(told(phone), LEATHER)).max() < 3 * spread


def spoiled(how: str) -> bytes:
    """The photo overexposed, or with light that falls off from left to right."""
    pixels = np.asarray(Image.open(BytesIO(picture())).convert("RGB")).astype(float)
    if how == "clipped":
        pixels *= 2.2
    else:
        ramp = np.linspace(1.0, 0.35, pixels.shape[0])[:, None, None]
        pixels *= ramp
    out = BytesIO()
    Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=95)
    return out.getvalue()


@pytest.mark.parametrize(("how", "why"), [("clipped", "clipped"), ("uneven", "even")])
def test_a_photo_that_cannot_be_read_is_refused_with_the_reason_and_keeps_the_marks(
    phone: Page, tmp_path: Path, how: str, why: str
) -> None:
    job = open_job("Seat", starts=date(2026, 3, 2))
    shown = bring(phone, job, tmp_path, spoiled(how))
    mark(phone, shown, "grey")
    phone.get_by_role("button", name="Read the colour").click()
    error = phone.locator("main .error[role=alert]").first
    expect(error).to_be_visible()
    assert why in error.inner_text()
    assert phone.locator("[name=sample-box]").input_value(), "what was marked is not lost"


def test_readings_of_a_cup_teach_its_pigments_and_can_be_taken_back(page: Page) -> None:
    def nobody(fraction: float, words: str) -> None:
        """Nobody watches."""

    job = demonstration.open_the_job(date.today())
    demonstration.find_pigments(nobody)
    demonstration.find_recipe(job, nobody)
    demonstration.mix_first_cup(job)
    cup = MixVessel.objects.get(job=job)
    chosen = chosen_recipe(job)
    assert chosen is not None
    name = max(chosen.recipe.pigments, key=lambda part: part.mass).name
    page.set_default_timeout(20_000)
    page.goto(f"/jobs/{job.pk}/colour/cups/{cup.pk}/")
    page.locator("summary", has_text="Type its colour").click()
    for axis, value in (("l", "61,8"), ("a", "6.4"), ("b", "11.2")):
        page.fill(f"[name=lab-{axis}]", value)
    page.locator("form[action$='/typed/'] button").click()
    expect(page.locator("#sights-h + ul li").first).to_contain_text("after")
    expect(page.locator("#add-h")).to_be_visible()
    page.goto("/pigments/")
    page.locator("#listed summary", has=page.get_by_text(name, exact=True)).click()
    page.get_by_role("link", name=f"Open {name}").click()
    lots = page.locator("section", has=page.get_by_role("heading", name="What the cups taught"))
    expect(lots).to_contain_text("from 1 reading of cups")
    page.on("dialog", lambda dialog: dialog.accept())
    lots.get_by_text("Readings that count").click()
    lots.get_by_role("link", name=re.compile("See or strike out")).first.click()
    page.locator("details.strike summary, summary:has-text('Strike out')").first.click()
    page.locator("form[action$='/strike/'] input[name=reason]").first.fill("wrong cup")
    page.locator("form[action$='/strike/'] button").first.click()
    expect(page.locator("#sights-h + ul li").first).to_contain_text("struck out: wrong cup")
    page.goto("/pigments/")
    page.locator("#listed summary", has=page.get_by_text(name, exact=True)).click()
    page.get_by_role("link", name=f"Open {name}").click()
    expect(lots).not_to_contain_text("from 1 reading of cups")
