"""The time chart in a real browser: letters that can be read on a phone and on paper, names that stay in sight, a file that a printer takes."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from io import BytesIO

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from hidewright.charts.plan import ActShown, LyingShown, PlanShown
from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.shop.models import Job
from workshop.plans import PLAN

pytestmark = pytest.mark.django_db(transaction=True)

SMALLEST = """() => Math.min(...[...document.querySelectorAll('.time-frame svg')].flatMap((svg) => {
  const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
  return svg.getBoundingClientRect().width
    ? [...svg.querySelectorAll('text')].map((t) => scale * Number(t.getAttribute('font-size'))) : [];
}))"""
PAPER = {"width": 1047, "height": 718}
"""A4 laid across within margins of 10 mm, in CSS px."""


def weeks(count: int, pieces: int = 8) -> PlanShown:
    """The small plan's table and people through so many weeks of five days, with many pieces."""
    acts, lying, hours = [], [], []
    for number in range(5 * count):
        day = datetime(2026, 3, 2) + timedelta(days=number % 5 + 7 * (number // 5))
        hours.append((day.replace(hour=8), day.replace(hour=17)))
        for piece in range(pieces):
            begin, name = day.replace(hour=8) + timedelta(hours=piece), f"C{piece}"
            end = begin + timedelta(minutes=40)
            acts.append(
                ActShown(
                    f"{name}/{number}/spray", name, "", "Spray", "Ana", begin, end, "Table A", kind="gun"
                )
            )
            lying.append(
                LyingShown(name, "Table A", 0.4 * piece, 0.4, 0.4, end, day.replace(hour=19), "curing")
            )
    return replace(PLAN, acts=tuple(acts), lying=tuple(lying), hours=tuple(hours), finish=acts[-1].end)


@pytest.fixture
def job(transactional_db: None) -> Job:
    made = open_job("A job of three weeks", starts=date(2026, 3, 2))
    keep_plan(made, weeks(3))
    return made


@pytest.mark.parametrize("where", ["2026-03-02/pictures/", "whole/"])
def test_letters_of_the_clock_can_be_read_on_a_phone_and_on_paper(page: Page, job: Job, where: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"/jobs/{job.pk}/days/{where}")
    page.evaluate("() => document.querySelectorAll('main details').forEach((e) => { e.open = true; })")
    assert page.evaluate(SMALLEST) >= 11
    page.set_viewport_size(PAPER)
    page.emulate_media(media="print")
    assert 0.75 * page.evaluate(SMALLEST) >= 7
    widest = page.evaluate(
        "() => Math.max(...[...document.querySelectorAll('.chart-wide')].map((e) => e.getBoundingClientRect().right))"
    )
    assert widest <= PAPER["width"], "the chart is cut off on the paper"


def test_the_names_of_the_rows_stay_in_sight(page: Page, job: Job) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"/jobs/{job.pk}/days/whole/")
    frame = page.locator(".time-frame").first
    frame.evaluate("(e) => { e.scrollLeft = 400; }")
    box, names = frame.bounding_box(), frame.locator(".chart-names").bounding_box()
    assert box is not None
    assert names is not None
    assert abs(names["x"] - box["x"]) < 3


def test_the_whole_plan_prints_on_sheets_laid_across_into_a_small_file(page: Page, job: Job) -> None:
    page.goto(f"/jobs/{job.pk}/days/whole/")
    paper = page.pdf(prefer_css_page_size=True)
    assert len(paper) < 2_000_000
    sheets = PdfReader(BytesIO(paper)).pages
    assert all(float(sheet.mediabox.width) > float(sheet.mediabox.height) for sheet in sheets)
    told = " ".join(" ".join(sheet.extract_text() for sheet in sheets).split())
    for monday in ("Mon 2 Mar", "Mon 9 Mar", "Mon 16 Mar"):
        assert monday in told
