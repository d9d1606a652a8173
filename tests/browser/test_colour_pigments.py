"""The pigments of a shop on a phone: how a new shop begins, and one found among many."""

from datetime import date
from io import BytesIO
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from browser.eyes import no_sideways_scroll, tap_targets
from hidewright.colour.pigments.generic import generic_set
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pigments import actions as pigments
from hidewright.workshop.pigments import illustrative_actions as generic
from hidewright.workshop.shelf.models import Pigment

pytestmark = pytest.mark.django_db(transaction=True)

PHONE = {"width": 390, "height": 844}
SCREENS = 2.5
"""Screens of a phone that fourteen pigments and all else on their page may take."""


@pytest.fixture
def phone(page: Page) -> Page:
    """A device as wide as a phone."""
    page.set_viewport_size(PHONE)
    page.set_default_timeout(15_000)
    return page


@pytest.mark.parametrize("where", ["/pigments/", "/jobs/{job}/colour/"])
def test_a_new_shop_begins_from_the_first_screen(phone: Page, where: str) -> None:
    job = open_job("First try", starts=date(2026, 3, 2))
    address = where.format(job=job.pk)
    phone.goto(address)
    button = phone.get_by_role("button", name="Take the generic pigments")
    expect(button).to_be_in_viewport(ratio=1)
    expect(button).to_have_class("button primary")
    expect(phone.get_by_text("For trying out")).to_be_in_viewport()
    expect(phone.get_by_role("link", name="Bring pigments and drawdowns")).to_be_visible()
    button.click()
    expect(button).to_have_count(0)
    expect(phone).to_have_url(address if "jobs" in address else "/pigments/")


def test_one_among_many_pigments_is_found_opened_and_marked_as_run_out(phone: Page) -> None:
    count = generic.load_illustrative()
    phone.goto("/pigments/")
    rows = phone.locator("#listed li")
    expect(rows).to_have_count(count)
    assert phone.evaluate("document.documentElement.scrollHeight") < SCREENS * PHONE["height"]
    expect(phone.get_by_role("heading", name="Bring drawdowns")).to_be_in_viewport()
    phone.locator("main").get_by_role("searchbox").press_sequentially("py42", delay=20)
    expect(rows).to_have_count(1)
    expect(phone.locator("main").get_by_role("searchbox")).to_be_focused()
    rows.locator("summary").click()
    no_sideways_scroll(phone)
    tap_targets(phone)
    rows.get_by_role("button", name="It has run out").click()
    phone.get_by_label("Find by").fill("oxide yellow")
    phone.locator("main").get_by_role("button", name="Find").click()
    expect(phone.get_by_role("status").filter(has_text="1 of")).to_contain_text(
        f"1 of {count} with “oxide yellow”"
    )
    expect(rows).to_contain_text("run out")
    rows.locator("summary").click()
    rows.get_by_role("link", name="Open Yellow oxide").click()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Yellow oxide")


def test_the_list_stands_on_paper_though_each_row_is_folded(page: Page) -> None:
    generic.load_illustrative()
    page.goto("/pigments/")
    paper = paper_of(page)
    missing = [one.pigment.name for one in generic_set() if one.pigment.name not in paper]
    assert not missing, missing
    assert "published optical constants" not in paper, "what asks stays off it"
    for control in ("It has run out", "Find by", "Choose File", "Bring them in"):
        assert control not in paper


def paper_of(page: Page) -> str:
    """What stands on the paper when the page is printed."""
    pages = PdfReader(BytesIO(page.pdf(format="A4"))).pages
    return " ".join(" ".join(one.extract_text() for one in pages).split())


def test_a_drawdown_in_grams_and_a_wet_film_is_entered_on_a_phone(phone: Page, tmp_path: Path) -> None:
    """What it becomes follows what is typed; after a refusal what was typed is there; kept, its pigment's page shows both."""
    pigments.add_pigment("PW6", name="White", index="PW6", density=1.95, solids=0.40, price=0, note="")
    phone.goto("/pigments/drawdowns/new/")
    phone.get_by_label("Name of the film").fill("White, thin")
    phone.get_by_label("How much of thing 1").fill("39")
    phone.get_by_label("How much of thing 2").fill("82.4")
    phone.get_by_label("How thick").fill("3 µm")
    becomes = phone.locator("#becomes")
    expect(becomes).to_contain_text("A wet film of 3 µm cannot be")
    phone.get_by_label("How thick").fill("100 µm")
    expect(becomes).to_contain_text("White 20 % by volume is 32.1 % by weight")
    expect(becomes).to_contain_text("28 µm")
    no_sideways_scroll(phone)
    tap_targets(phone)
    phone.get_by_role("button", name="Keep it").click()
    expect(phone.locator(".field.wrong")).to_contain_text("File of its readings")
    expect(phone.get_by_label("How much of thing 2")).to_have_value("82.4")
    readings = tmp_path / "film.csv"
    head = "name," + ",".join(str(nm) for nm in range(400, 701, 10))
    rows = {"black": "0.60", "white": "0.80", "card black": "0.05", "card white": "0.85"}
    readings.write_text(
        "\n".join([head, *(f"{name}," + ",".join([read] * 31) for name, read in rows.items())])
    )
    phone.get_by_label("File of its readings").set_input_files(readings)
    phone.get_by_role("button", name="Keep it").click()
    expect(phone.get_by_text("Kept the drawdown White, thin")).to_be_visible()
    phone.goto(f"/pigments/{Pigment.objects.get().pk}/")
    expect(phone.locator("main")).to_contain_text("PW6 39 g; base 82.4 g, wet 100 µm")
    expect(phone.locator("main")).to_contain_text("White 20 % by volume is 32.1 % by weight")
    no_sideways_scroll(phone)
