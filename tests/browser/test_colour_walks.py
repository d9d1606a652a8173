"""Colour in a real browser, as a hand goes: said by eye and mended, read wet and dry, a cup that nobody logged, the target shifted.

The shop is the demonstration's, with four pigments known; what an instrument would read is worked out from a shop that strays from what the
pages believe, so that what they advise can be held against what is truly in the cup.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Locator, Page, expect

from browser.eyes import no_sideways_scroll, tap_targets
from hidewright import demo
from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.wet import Milk, look_dry, look_wet
from hidewright.mixing.recipe import recipe_of
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job
from workshop.few_pigments import choose_the_best, know_the_few

pytestmark = pytest.mark.django_db(transaction=True)

PHONE = {"width": 390, "height": 844}
LONG = 60_000
"""Milliseconds that a computation may take on a busy machine; it is waited for, not measured."""
MILKY = Milk(amplitude=0.05, power=2.5)
"""An invented base, milkier than the starting values say."""


@pytest.fixture
def aimed(transactional_db: None) -> Job:
    """A job with a target, four known pigments and a chosen recipe."""
    job = open_job("Three seats", starts=date(2026, 3, 2))
    know_the_few()
    steps.import_readings(job, demo.text("readings.csv"))
    choose_the_best(job)
    return job


@pytest.fixture
def phone(page: Page) -> Page:
    """A device as wide as a phone, that says yes when it is asked."""
    page.set_viewport_size(PHONE)
    page.set_default_timeout(15_000)
    page.set_default_navigation_timeout(LONG)
    page.on("dialog", lambda dialog: dialog.accept())
    return page


def a_cup(job: Job, **times: float) -> MixVessel:
    """A cup of the chosen recipe with some pigments poured so many times as much."""
    chosen = gather.chosen_recipe(job)
    assert chosen is not None
    recipe = recipe_of(chosen.name, chosen.components)
    row = mixing.begin_cup(job, recipe, 150.0, capacity=400.0, hexes=chosen.hexes, mixed_hex=chosen.hex)
    for key, amount in recipe.amounts(150_000).items():
        mixing.pour(row, key, round(amount * times.get(key, 1.0)))
    return row


def held(job: Job, **times: float) -> Contents:
    """What such a cup holds, in mL."""
    chosen = gather.chosen_recipe(job)
    assert chosen is not None
    scale = 150.0 / 1000.0
    volumes = {part.key: part.volume * scale * times.get(part.key, 1.0) for part in chosen.recipe.pigments}
    return Contents(volumes, chosen.recipe.parts[-1].volume * scale)


def sheet(folder: Path, name: str, *spectra: Sequence[float]) -> Path:
    """A file of an instrument, a row a reading."""
    head = ",".join(["name", *(f"{nm:g}" for nm in WAVELENGTHS)])
    rows = [",".join([name, *(f"{value:.5f}" for value in read)]) for read in spectra]
    path = folder / "reading.csv"
    path.write_text("\n".join([head, *rows]), encoding="utf-8")
    return path


def press(page: Page, words: str, within: Locator | None = None) -> None:
    """Press a button, and wait for the page that comes."""
    button = (within or page.locator("main")).get_by_role("button", name=words, exact=True).first
    with page.expect_navigation(timeout=LONG):
        button.click(no_wait_after=True)


def number(place: Locator, pattern: str) -> float:
    """The figure that a pattern finds in what a place says, what a tap on its words shows included."""
    words = re.sub(r'title="([^"]*)"[^>]*>', r">\1 ", place.inner_html())
    words = " ".join(re.sub(r"<[^>]*>", " ", words).split())
    found = re.search(pattern, words)
    assert found, words
    return float(found[1])


def off_now(page: Page) -> float:
    """ΔE00 of the cup to the target, as the page shows it."""
    return number(
        page.locator("section[aria-labelledby=now-h]"), r"ΔE00 (\d+\.\d+) [a-z ]+ against the target"
    )


def form_of(page: Page, field: str) -> Locator:
    """The form that holds a field."""
    return page.locator("form").filter(has=page.locator(f"[name={field}]"))


def first_way(page: Page) -> dict[str, float]:
    """Grams by name of the first way to mend the cup."""
    rows = page.locator("section").filter(has=page.get_by_role("heading", name="What to add"))
    cells = rows.locator(".recipe").first.locator("tbody tr")
    expect(cells.first).to_be_visible()
    return {
        row.locator("td").nth(0).inner_text(): float(row.locator("td").nth(1).inner_text().removesuffix(" g"))
        for row in cells.all()
    }


def true_off(job: Job, contents: Contents) -> float:
    """ΔE00 between what truly stands in a cup, dry, and the target."""
    aimed = gather.target(job)
    assert aimed is not None
    return float(
        delta_e00(lab(look_dry(contents, gather_values.pigments(), Surface())), lab(aimed.target.reflectance))
    )


def with_grams(contents: Contents, grams: Mapping[str, float]) -> Contents:
    """What a cup holds after pours in g, by name."""
    known, base = {p.name: p for p in gather_values.pigments()}, gather_values.base()
    volumes = dict(contents.volumes)
    clear = contents.base_ml
    for name, amount in grams.items():
        if name == base.name:
            clear += amount / base.density
        else:
            volumes[known[name].key] = volumes.get(known[name].key, 0.0) + amount / known[name].density
    return Contents(volumes, clear)


def test_what_an_eye_says_is_mended_poured_and_can_be_taken_back(phone: Page, aimed: Job) -> None:
    cup = a_cup(aimed)
    phone.goto(f"/jobs/{aimed.pk}/colour/cups/{cup.pk}/")
    before = off_now(phone)
    expect(phone.get_by_text("Nothing was read of this cup yet").first).to_be_visible()
    phone.locator("[name=eye-yellow]").select_option(label="clearly yellower")
    phone.locator("[name=eye-light]").select_option(label="a touch darker")
    press(phone, "Keep it", form_of(phone, "eye-yellow"))
    said = phone.locator("section[aria-labelledby=sights-h] li").first
    expect(said).to_contain_text("clearly yellower")
    now = off_now(phone)
    assert now > before + 0.5, "the cup is believed to be off as the eye says"
    advice = phone.locator("#by-eye")
    for _ in range(3):
        if advice.get_by_role("button", name="Poured as shown").count():
            break
        phone.locator("[name=eye-yellow]").select_option(label="clearly yellower")
        press(phone, "Keep it", form_of(phone, "eye-yellow"))
    ways = advice.locator("li strong:first-child").all_text_contents()[::2]
    assert "Yellow oxide" not in ways, "no yellow goes into a cup that is too yellow"
    assert ways, "something is advised"
    no_sideways_scroll(phone)
    tap_targets(phone)
    poured = len(mixing_rows(phone))
    press(phone, "Poured as shown")
    assert len(mixing_rows(phone)) > poured
    expect(advice).to_contain_text("say what you see")
    said.get_by_text("Strike out").click()
    said.get_by_label("Why").fill("looked at it wet")
    press(phone, "Strike it out", said)
    expect(said).to_contain_text("struck out: looked at it wet")


def mixing_rows(page: Page) -> list[str]:
    """What is in the cup, in the order in which it was poured."""
    return page.locator("#in tbody tr").all_text_contents()


def test_a_wet_and_a_dry_reading_teach_how_the_base_dries(phone: Page, aimed: Job, tmp_path: Path) -> None:
    cup, contents, known = a_cup(aimed), held(aimed), gather_values.pigments()
    address = f"/jobs/{aimed.pk}/colour/cups/{cup.pk}/"
    phone.goto(address)
    now = phone.locator("section[aria-labelledby=now-h]")
    expect(now).to_contain_text("by usual figures")
    pattern = r"Wet in the cup it looks ΔE00 (\d+\.\d)"
    believed = number(now, pattern)
    wet, dry = look_wet(contents, known, MILKY), look_dry(contents, known)
    for state, read in (("wet", wet), ("dry", dry)):
        phone.set_input_files("[name=sight-file]", sheet(tmp_path, state, read))
        phone.locator("[name=sight-state]").select_option(state)
        press(phone, "Bring it in", form_of(phone, "sight-file"))
    expect(now).to_contain_text("learned from 1 pair of wet and dry readings")
    truly = float(delta_e00(lab(wet), lab(dry)))
    assert abs(number(now, pattern) - truly) < abs(believed - truly), (
        "the forecast came nearer to what was read"
    )
    other = a_cup(aimed, PY42=1.5)
    phone.goto(f"/jobs/{aimed.pk}/colour/cups/{other.pk}/")
    expect(now).to_contain_text("learned from 1 pair")
    contents = held(aimed, PY42=1.5)
    truly = float(delta_e00(lab(look_wet(contents, known, MILKY)), lab(look_dry(contents, known))))
    assert number(now, pattern) == pytest.approx(truly, abs=0.6), (
        "the next cup is forecast by what was learned"
    )
    phone.goto(address)
    assert len(phone.locator("section[aria-labelledby=sights-h] li").all()) == 2


def test_a_cup_that_nobody_logged_is_mended_by_its_reading_alone(
    phone: Page, aimed: Job, tmp_path: Path
) -> None:
    truth = held(aimed, PY42=0.6, PBk7=1.5)
    read = look_dry(truth, gather_values.pigments())
    phone.goto(f"/jobs/{aimed.pk}/colour/")
    phone.get_by_role("link", name="A cup that nobody logged").click()
    expect(phone.get_by_label("Its reading")).to_be_visible()
    phone.goto(f"/jobs/{aimed.pk}/colour/")
    phone.locator("summary", has_text="Bring readings").click()
    phone.set_input_files("[name=file-file]", sheet(tmp_path, "Tub without a label", read))
    press(phone, "Bring it in", form_of(phone, "file-file"))
    phone.get_by_role("link", name="A cup that nobody logged").click()
    phone.get_by_label("Its reading").select_option(label="Tub without a label")
    phone.get_by_label("How much is in it").fill("150")
    press(phone, "What to add")
    told = phone.locator("section").filter(has=phone.get_by_role("heading", name="What to add"))
    before = true_off(aimed, truth)
    assert number(told, r"It is off the target by ΔE00 (\d+\.\d+)") == pytest.approx(before, abs=0.02)
    assert before > 1.5
    ways = first_way(phone)
    assert true_off(aimed, with_grams(truth, ways)) < before / 2, "it truly comes nearer"
    expect(phone.get_by_role("button", name="Poured like this")).to_have_count(0)
    no_sideways_scroll(phone)
    tap_targets(phone)


def test_the_target_is_shifted_looked_at_first_and_comes_back(phone: Page, aimed: Job) -> None:
    first = gather.target(aimed)
    assert first is not None
    address = f"/jobs/{aimed.pk}/colour/"
    phone.goto(address)
    phone.get_by_role("link", name="Lighter, more neutral").click()
    phone.get_by_label("Way").select_option(label="lighter, L*")
    phone.get_by_label("How far").fill("3")
    press(phone, "Look at it")
    expect(phone.get_by_role("heading", name="Before and after")).to_be_visible()
    expect(phone.get_by_role("heading", name="What it changes")).to_be_visible()
    no_sideways_scroll(phone)
    tap_targets(phone)
    same = gather.target(aimed)
    assert same is not None
    assert same.id == first.id, "looking changes nothing"
    press(phone, "Aim at the shifted colour")
    expect(phone.locator("main")).to_contain_text("It was found for another target")
    lighter = gather.target(aimed)
    assert lighter is not None
    assert lighter.target.labs["D65"][0] == pytest.approx(first.target.labs["D65"][0] + 3, abs=0.05)

    phone.get_by_role("link", name="Lighter, more neutral").click()
    phone.get_by_label("Way").select_option(label="more neutral, %")
    phone.get_by_label("How far").fill("25")
    press(phone, "Look at it")
    press(phone, "Aim at the shifted colour")
    greyer = gather.target(aimed)
    assert greyer is not None
    chroma = [float(np.hypot(*each.target.labs["D65"][1:])) for each in (lighter, greyer)]
    assert chroma[1] == pytest.approx(0.75 * chroma[0], rel=0.02)
    phone.locator(".toast").get_by_role("button", name="Undo").click()
    expect(phone.locator("section[aria-labelledby=target-h] p strong").first).to_have_text(
        lighter.target.name
    )
    phone.locator("#find details.more > summary").click()
    phone.locator("[name=most]").select_option("3")
    press(phone, "Find recipes")
    press(phone, "Choose Recipe 2-1")
    expect(phone.locator("#chosen-h")).to_have_text("Recipe 2-1 is chosen")
    expect(phone.locator("main")).not_to_contain_text("It was found for another target")
