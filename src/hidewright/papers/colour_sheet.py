"""The colour sheet: up to four variants side by side for somebody to choose from, with what each takes."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.charts.swatches import CAUTION, Swatch
from hidewright.dates import long_day
from hidewright.papers.paper_size import PAPER, check_paper
from hidewright.papers.piece_list import SignedAs
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

MOST = 4
UNSIGNED = SignedAs("Agreed: name, day, and the light in which it was judged")
"""A line to sign on."""


@dataclass(frozen=True)
class SheetColour:
    """One variant: its name, sRGB colour, the code of its real panel, what it takes (label, words), and whether it was agreed, and replaced since."""

    name: str
    hex: str
    panel: str
    facts: tuple[tuple[str, str], ...] = ()
    agreed: bool = False
    replaced: bool = False

    def __post_init__(self) -> None:
        Swatch(self.hex, self.name)


@dataclass(frozen=True)
class ColourSheet:
    """Everything that stands on the sheet."""

    number: int
    job: str
    shop: str
    made_on: date
    colours: tuple[SheetColour, ...]
    client: str = ""
    colour: str = ""
    note: str = ""
    agreed: tuple[str, ...] = ()
    replaced: str = ""
    """Why what was agreed on it holds no more; empty while it holds."""
    signature: SignedAs = UNSIGNED
    page_url: str = ""
    paper: str = PAPER

    def __post_init__(self) -> None:
        if not 1 <= len(self.colours) <= MOST:
            raise Refusal(f"A colour sheet shows one to {MOST} colours.", where=self.job)
        check_paper(self.paper)

    def content(self) -> dict[str, Any]:
        """The sheet as the template takes it: text only."""
        return {
            "title": f"Colour sheet {self.number}",
            "job": self.job,
            "client": self.client,
            "shop": self.shop,
            "colour": self.colour,
            "note": self.note,
            "made_on": long_day(self.made_on),
            "colours": [
                {
                    "name": c.name,
                    "hex": c.hex,
                    "panel": c.panel,
                    "agreed": ("Agreed, then replaced" if c.replaced else "Agreed") if c.agreed else "",
                    "facts": [list(f) for f in c.facts],
                }
                for c in self.colours
            ],
            "agreed": list(self.agreed),
            "replaced": self.replaced,
            "signature": {
                "role": self.signature.role,
                "words": self.signature.words,
                "svg": self.signature.svg,
            },
            "cautions": [CAUTION, "The real panel with the code beside each colour decides, not this paper."],
            "paper": self.paper,
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }


def colour_sheet_pdf(sheet: ColourSheet) -> bytes:
    """The sheet as PDF."""
    return press("colour_sheet", sheet.content(), made_on=sheet.made_on)
