"""The care sheet: how a new finish on leather is treated, in the shop's own words, for those who use the interior."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.dates import long_day
from hidewright.papers.paper_size import PAPER, check_paper
from hidewright.papers.press import press

FIRST_WEEKS = (
    "The finish goes on hardening for some weeks. Sit on it, but keep hot cups, wet cloths, new jeans and sharp buckles off it at first.",
    "Let it breathe: no plastic covers, no rugs with a rubber back.",
)
USUAL_STEPS = (
    "Dust once a week with a soft, dry cloth.",
    "Wipe spills at once with a dry cloth. Dab, do not rub.",
    "Clean with lukewarm water and a little mild soap on a cloth that is damp, not wet. Dry it after.",
    "Keep it out of strong sun and away from heaters where you can.",
    "Try any cleaner on a hidden place first.",
)
NEVER = (
    "No alcohol, acetone, thinner or stain remover: they take the colour off.",
    "No wax, oil or silicone spray: a later touch-up does not hold on them.",
    "No scouring pads, no steam.",
)
USUAL_CAUTIONS = (
    "Common practice; the data sheets of the products on your leather rule.",
    "In an aircraft, a rail car or a ship ask the licensed or authorised person before anything is put on a seat: it may count for the burn rules.",
)


@dataclass(frozen=True)
class CareSheet:
    """Everything that stands on the sheet."""

    job: str
    shop: str
    made_on: date
    client: str = ""
    first: tuple[str, ...] = FIRST_WEEKS
    steps: tuple[str, ...] = USUAL_STEPS
    never: tuple[str, ...] = NEVER
    cautions: tuple[str, ...] = USUAL_CAUTIONS
    paper: str = PAPER

    def __post_init__(self) -> None:
        check_paper(self.paper)

    def content(self) -> dict[str, Any]:
        """The sheet as the template takes it: text only."""
        return {
            "title": "Care sheet",
            "job": self.job,
            "client": self.client,
            "shop": self.shop,
            "made_on": long_day(self.made_on),
            "parts": [
                ["In the first weeks", list(self.first)],
                ["From then on", list(self.steps)],
                ["Never", list(self.never)],
            ],
            "cautions": list(self.cautions),
            "paper": self.paper,
            "qr": "",
            "url": "",
        }


def care_sheet_pdf(sheet: CareSheet) -> bytes:
    """The sheet as PDF."""
    return press("care_sheet", sheet.content(), made_on=sheet.made_on)
