"""Tags for pieces and panels: a name, a square code that leads to the page, on sheets to cut apart."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.charts.swatches import Swatch
from hidewright.dates import long_day
from hidewright.papers.paper_size import PAPER, check_paper
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

SHORT = 34
"""Letters of the job's name on a tag."""


@dataclass(frozen=True)
class Tag:
    """One tag: a mark in large letters, what it is, what it belongs to, the page it leads to, and a colour where it is a panel's."""

    mark: str
    name: str
    group: str = ""
    page_url: str = ""
    hex: str = ""

    def __post_init__(self) -> None:
        if not self.mark.strip():
            raise Refusal("A tag needs a mark.", where="tag")
        if self.hex:
            Swatch(self.hex, self.mark)


def tags_pdf(tags: tuple[Tag, ...], *, job: str, made_on: date, paper: str = PAPER) -> bytes:
    """A sheet (or several) of tags, three by seven on A4 and three by six on Letter, with lines to cut along; refuses none."""
    if not tags:
        raise Refusal("There is no piece to tag.", where=job, remedy="List the pieces first (Survey).")
    check_paper(paper)
    content: dict[str, Any] = {
        "title": "Tags",
        "job": job,
        "short": job if len(job) <= SHORT else f"{job[: SHORT - 1].rstrip()}…",
        "made_on": long_day(made_on),
        "paper": paper,
        "tags": [
            {"mark": t.mark, "name": t.name, "group": t.group, "hex": t.hex, "qr": qr_svg(t.page_url)}
            for t in tags
        ],
        "cautions": [],
        "qr": "",
        "url": "",
    }
    return press("tags", content, made_on=made_on)
