"""Every page prints: what is folded away on the screen stands on the paper, and nothing that can only be tapped."""

from datetime import date
from io import BytesIO

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from hidewright import demo
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.actions import import_csv

pytestmark = pytest.mark.django_db(transaction=True)


def printed(page: Page, path: str) -> str:
    """What stands on the paper when the page is printed."""
    page.goto(path)
    pages = PdfReader(BytesIO(page.pdf(format="A4"))).pages
    return " ".join(" ".join(one.extract_text() for one in pages).split())


@pytest.mark.parametrize("stage", ["survey", "inspection"])
def test_every_piece_stands_on_the_paper_though_its_group_is_folded(page: Page, stage: str) -> None:
    job = open_job("A long list", starts=date(2026, 3, 2))
    import_csv(job, demo.text("pieces.csv"))
    keys = [line.split(",")[0] for line in demo.text("pieces.csv").splitlines()[1:]]
    paper = printed(page, f"/jobs/{job.pk}/{stage}/")
    assert page.locator("main details:not([open])").count() > 3, "on the screen the groups are folded again"
    missing = [key for key in keys if key not in paper]
    assert not missing, missing[:5]
    for control in ("Add a piece", "Set this", "Remove them", "Sun: good", "Look at it", "Choose File"):
        assert control not in paper
