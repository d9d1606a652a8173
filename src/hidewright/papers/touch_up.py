"""The touch-up sheet: what goes with the interior so that a scuff can be mended months later."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.charts.swatches import CAUTION, Swatch
from hidewright.dates import long_day
from hidewright.papers.figures import fixed
from hidewright.papers.mixing_card import CardLine
from hidewright.papers.paper_size import PAPER
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

USUAL_STEPS = (
    "Clean the spot and a hand's breadth around it. Let it dry.",
    "Try the colour on a hidden place first. Let it dry fully before judging: it dries darker.",
    "Stir the jar. Dab thinly with the sponge, from the middle of the scuff outwards. Let it dry. Repeat rather than flood.",
    "Dab clear over the spot when the colour is dry. Keep off it for as long as the product's data sheet says.",
)
USUAL_CAUTIONS = (
    CAUTION,
    "Gloves and fresh air. Read the data sheet of each product; it rules.",
    "In an aircraft, a rail car or a ship any repair of the finish may count for the burn rules. Ask the licensed or "
    "authorised person first.",
)


@dataclass(frozen=True)
class KitItem:
    """One thing in the kit: what it is, how much, and where it is told from the others."""

    name: str
    amount: str
    code: str = ""


@dataclass(frozen=True)
class TouchUpSheet:
    """Everything that stands on the sheet; the recipe is written for 100 g of mixed colour, `source` says where it is told from."""

    job: str
    colour: str
    items: tuple[KitItem, ...]
    recipe: tuple[CardLine, ...]
    made_on: date
    source: str = ""
    swatches: tuple[Swatch, ...] = ()
    steps: tuple[str, ...] = USUAL_STEPS
    cautions: tuple[str, ...] = USUAL_CAUTIONS
    page_url: str = ""

    def __post_init__(self) -> None:
        if not self.items and not self.recipe:
            raise Refusal("The kit is empty.", where=self.job, remedy="Name its jars, or choose a recipe.")
        if self.recipe and sum(line.grams for line in self.recipe) <= 0:
            raise Refusal("The recipe has nothing in it.", where=self.colour)

    def content(self) -> dict[str, Any]:
        """The sheet as the template takes it: text only."""
        whole = sum(line.grams for line in self.recipe)
        return {
            "title": "Touch-up kit",
            "job": self.job,
            "colour": self.colour,
            "made_on": long_day(self.made_on),
            "items": [[item.name, item.amount, item.code] for item in self.items],
            "source": self.source,
            "recipe": [[line.name, fixed(100 * line.grams / whole, 2)] for line in self.recipe],
            "swatches": [{"hex": s.hex, "label": s.label, "note": s.note} for s in self.swatches],
            "steps": list(self.steps),
            "cautions": list(self.cautions),
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }


def touch_up_pdf(sheet: TouchUpSheet, paper: str = PAPER) -> bytes:
    """The sheet as PDF."""
    return press("touch_up", sheet.content(), made_on=sheet.made_on, paper=paper)
