"""A new shop without any reading, on a phone: a word, a cup of its own in parts, looks wet and dry, a jar, the mix made again and held against it by a stick photo; then an instrument."""

import csv
import os
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from browser.test_whole_cup import act, fits, opened, press
from hidewright import demo
from hidewright.workshop.colours.eye_queries import eye_state
from hidewright.workshop.colours.queries import chosen_recipe, target
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pigments import actions as pigment_steps
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf.models import MixVessel
from workshop.few_pigments import few_fits
from workshop.sticks import stick_picture

pytestmark = pytest.mark.django_db(transaction=True)


def look(page: Page, state: str, **said: str) -> None:
    """Say what an eye sees of the cup against what is offered first."""
    page.locator("[name=eye-state]").select_option(state)
    for name, words in said.items():
        page.locator(f"[name=eye-{name}]").select_option(label=words)
    press(page, "Keep it")


def picture(page: Page, name: str, *parts: str) -> None:
    """Photograph parts of the page for the guide, into the folder that `HIDEWRIGHT_SHOTS` names; else nothing."""
    if "HIDEWRIGHT_SHOTS" in os.environ:
        for number, part in enumerate(parts, 1):
            page.locator(part).first.screenshot(
                path=Path(os.environ["HIDEWRIGHT_SHOTS"]) / f"{name}{number if len(parts) > 1 else ''}.png"
            )


def a_reading() -> str:
    """The demonstration's target as the only reading of a file."""
    rows = list(csv.reader(StringIO(demo.text("readings.csv"))))
    wanted = next(row for row in rows[1:] if row[rows[0].index("use")] == "target")
    out = StringIO()
    csv.writer(out).writerows([rows[0], wanted])
    return out.getvalue()


def test_a_shop_without_a_reading_and_the_same_shop_with_an_instrument(
    context: BrowserContext, transactional_db: None, tmp_path: Path
) -> None:
    job = open_job("Two chairs", starts=date(2026, 3, 2))
    pigment_steps.import_pigments(demo.text("pigments.csv"))
    for key, fit in few_fits().items():
        keep.keep_fit(key, fit)
    page = opened(context, f"/jobs/{job.pk}/colour/")
    page.get_by_role("link", name="Mix a cup of your own").first.click()
    page.locator("[name=word]").select_option("tan")
    press(page, "Begin to pour")
    own_at = page.url
    for what, value, unit in (("PW6", "1", "parts"), ("PY42", "1/2", "parts"), ("PR101", "40", "drops"), ("base", "7", "parts")):  # fmt: skip
        page.locator("[name=what]").select_option(what)
        page.locator("[name=value]").fill(value)
        page.locator("[name=unit]").select_option(unit)
        press(page, "It is in")
    expect(page.get_by_role("heading", name="What it should be")).to_be_visible()
    fits(page)
    picture(page, "by-eye-pour", "form:has([name=what])", "section:has(#should-h)", "section:has(#much-h)")

    page.get_by_role("link", name="Hold it against the piece").click()
    for words in ("much lighter", "clearly lighter", "a touch lighter"):
        page.locator("[name=eye-light]").select_option(label=words)
        picture(page, "by-eye-look", "form:has([name=eye-light])")
        look(page, "wet", light=words)
        expect(page.locator("#by-eye")).to_be_visible()
        picture(page, "by-eye-next", "#by-eye")
    look(page, "wet")
    look(page, "dry")
    cup = MixVessel.objects.get()
    assert [row.state for row in CupSight.objects.order_by("pk")] == ["wet"] * 4 + ["dry"]
    fits(page)

    page.goto(own_at)
    page.locator("[name=like-name]").fill("Chair tan")
    press(page, "Make it the recipe")
    expect(page.get_by_text("It is the recipe.")).to_be_visible()
    page.goto(f"/jobs/{job.pk}/mixing/{cup.pk}/")
    act(page, "jar", amount="120 mL", name="Chair tan, first")
    press(page, "Keep it and make a label")
    page.get_by_role("button", name="again", exact=False).first.click()
    expect(page.get_by_role("button", name="Poured as shown")).to_be_visible()
    while page.get_by_role("button", name="Poured as shown").count():
        press(page, "Poured as shown")
    again = MixVessel.objects.latest("pk")
    assert again.like is not None
    assert again.like.name == "Chair tan, first"
    page.goto(f"/jobs/{job.pk}/colour/cups/{again.pk}/")
    page.get_by_role("link", name="Or take a photo of a stick").click()
    photo = tmp_path / "stick.png"
    photo.write_bytes(stick_picture((150, 112, 84), (154, 116, 88)))
    page.set_input_files("[name=photo]", photo)
    press(page, "Bring it in")
    if not page.get_by_role("button", name="Keep this difference").is_visible():
        press(page, "See the difference")
    picture(page, "by-eye-stick", "#marks")
    press(page, "Keep this difference")
    seen = CupSight.objects.latest("pk")
    assert (seen.source, seen.beside) == ("photo", again.like), "cup against jar"
    fits(page)

    before = eye_state(cup)
    assert before is not None
    readings = tmp_path / "readings.csv"
    readings.write_text(a_reading(), encoding="utf-8")
    page.goto(f"/jobs/{job.pk}/colour/")
    page.locator("summary", has_text="Bring readings").click()
    page.set_input_files("[name=file-file]", readings)
    page.locator("#bring button").click()
    expect(page.get_by_text("like the pigments").first).to_be_visible()
    aimed, after = target(job), eye_state(cup)
    assert aimed is not None
    assert aimed.target.source == "file", "the column use aims at it"
    assert after is not None
    assert len(after.rows) == 6, "nothing that was seen is lost or entered twice"
    assert after.target_spread < before.target_spread
    assert chosen_recipe(job) is not None
    fits(page)
