"""A whole cup on a phone: pours with one overshoot, the tablet closed in between, by eye, corrected, read, short at a chair, topped up, boxed, kept."""

import re
from datetime import date

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from hidewright import demo
from hidewright.colour.recipes.match import match
from hidewright.workshop.bench import queries as bench
from hidewright.workshop.colours import actions as colour_steps
from hidewright.workshop.colours import queries as gather_colour
from hidewright.workshop.colours import search_queries as shelf
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.pigments import actions as colour_steps_actions
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.quantities.queries import still_per_piece
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job
from workshop.few_pigments import few_fits

pytestmark = pytest.mark.django_db(transaction=True)

PHONE = {"width": 390, "height": 844}
HEAD = "key,name,group,shape,length,width,thickness,material,condition,sat_on,turned,strip,count,notes"
LONG = 60_000


def chairs(count: int) -> str:
    """Lounge chairs of one seat and one back each, invented."""
    rows = [HEAD]
    for n in range(1, count + 1):
        rows.append(f"LC{n}-seat,seat,Chair {n},cushion,560,540,130,leather,worn,yes,no,,1,")
        rows.append(f"LC{n}-back,back,Chair {n},shell,720,560,,leather,worn,yes,no,,1,")
    return "\n".join(rows)


@pytest.fixture
def aimed(transactional_db: None) -> Job:
    """A job of nine chairs with a target, four known pigments and a chosen recipe."""
    job = open_job("Nine chairs", starts=date(2026, 3, 2))
    import_csv(job, chairs(9))
    colour_steps_actions.import_pigments(demo.text("pigments.csv"))
    for key, fit in few_fits().items():
        keep.keep_fit(key, fit)
    colour_steps.import_readings(job, demo.text("readings.csv"))
    asked = {"load": [0.16, 0.20], "most": 4, "lights": ["D65", "A", "FL11"]}
    found = match(shelf.problem(job, asked))
    colour_steps.choose(colour_steps.keep_match(job, found)[0])
    return job


def opened(context: BrowserContext, path: str) -> Page:
    """A page on a phone."""
    page = context.new_page()
    page.set_viewport_size(PHONE)
    page.set_default_timeout(15_000)
    page.set_default_navigation_timeout(LONG)
    page.on("dialog", lambda dialog: dialog.accept())
    page.goto(path)
    return page


def press(page: Page, words: str) -> None:
    """Press the first button of these words, and wait for the page that comes."""
    with page.expect_navigation(timeout=LONG):
        page.get_by_role("button", name=words, exact=True).first.click(no_wait_after=True)


def fits(page: Page) -> None:
    """Nothing scrolls sideways."""
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def act(page: Page, key: str, **told: str) -> None:
    """Open one of the acts and fill in its form."""
    page.locator(f"#act-{key} > summary").click()
    for name, value in told.items():
        page.locator(f"#act-{key} [name={name}]").fill(value)


def test_a_whole_cup(context: BrowserContext, aimed: Job) -> None:
    likely = sum(mL for key, mL in still_per_piece(aimed).items() if key.split("-")[0] <= "LC6")
    begun = round(likely * 1.15 / 10) * 10
    page = opened(context, f"/jobs/{aimed.pk}/mixing/")
    fits(page)
    page.locator("[name=aim]").last.fill(f"{begun} mL")
    page.locator("[name=capacity]").fill("5 L")
    press(page, "Begin the cup")
    cup_at = page.url
    row = MixVessel.objects.get()

    press(page, "Poured as shown")
    shown = gather.state_of(row).next_step
    assert shown is not None
    page.locator("#id_value").fill(f"{shown.shows + 0.05 * shown.grams:.1f}")
    press(page, "Log what was poured")
    expect(page.get_by_text("went over by")).to_be_visible()
    fits(page)
    page.close()

    page = opened(context, cup_at)
    expect(page.get_by_text("went over by")).to_be_visible()
    for _ in range(8):
        if not page.get_by_role("button", name="Poured as shown").count():
            break
        press(page, "Poured as shown")
    expect(page.locator(".what")).to_have_text("Mixed")
    assert gather.state_of(row).volume > begun

    page.get_by_role("link", name="Compare and adjust").click()
    for _ in range(4):
        page.locator("[name=eye-yellow]").select_option(label="clearly bluer")
        press(page, "Keep it")
        expect(page.locator("#by-eye")).to_be_visible()
        if page.locator("#by-eye").get_by_role("button", name="Poured as shown").count():
            break
    before = gather.state_of(row).volume
    press(page, "Poured as shown")
    after = gather.state_of(row).volume
    assert after > before, "the correction is in the cup"
    page.locator("summary", has_text="Type its colour").click()
    target = gather_colour.target(aimed)
    assert target is not None
    for name, value in zip("lab", target.target.labs["D65"], strict=True):
        page.locator(f"[name=lab-{name}]").fill(f"{value:.2f}")
    page.locator("form").filter(has=page.locator("[name=lab-l]")).get_by_role(
        "button", name="Keep it"
    ).click()
    expect(page.get_by_text(re.compile("near enough|may stop|within what was agreed")).first).to_be_visible()

    page.goto(cup_at)
    act(page, "use", amount=f"{likely / 6:.0f} mL")
    page.locator("#act-use").get_by_label("Chair 1", exact=True).check()
    press(page, "Log what was sprayed")
    page.goto(f"/jobs/{aimed.pk}/mixing/")
    found = bench.enough(aimed, gather.states_of(gather.job_vessels(aimed)))
    assert found.short_at is not None
    assert found.short_at.part.group in {"Chair 6", "Chair 7", "Chair 8"}
    expect(page.get_by_text("the colour gives out at")).to_contain_text(found.short_at.part.group)
    expect(page.get_by_text(re.compile("Box before"))).to_be_visible()
    fits(page)
    page.get_by_role("button", name=re.compile("^Begin a top-up of")).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(", batch 2")
    top_up = MixVessel.objects.latest("pk")
    for _ in range(8):
        if not page.get_by_role("button", name="Poured as shown").count():
            break
        press(page, "Poured as shown")
    expect(page.locator(".what")).to_have_text("Mixed")

    page.goto(cup_at)
    page.locator("#act-box > summary").click()
    offered = page.locator(f"#act-box [name=vessel] option[value^='{top_up.pk}:']").first
    page.locator("#act-box [name=vessel]").select_option(offered.get_attribute("value"))
    press(page, "Box them")
    boxed = MixVessel.objects.get(pk=int(page.url.rstrip("/").split("/")[-1]))
    assert gather.state_of(boxed).volume > 80
    assert gather.state_of(top_up).volume == 0 or boxed.pk == top_up.pk
    act(page, "jar", amount="80 mL", name="Nine chairs, left over")
    press(page, "Keep it and make a label")
    expect(page.get_by_role("heading", level=1)).to_have_text("Nine chairs, left over")
    fits(page)
    label = context.request.get(page.get_by_role("link", name="Label (PDF)").get_attribute("href") or "")
    assert label.body().startswith(b"%PDF")
    page.close()
