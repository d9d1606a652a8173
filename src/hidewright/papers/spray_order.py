"""The spray order card: for every like piece the same stops of the gun, in the same order, sides and corners."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.charts.faces import SprayStop, unfolded
from hidewright.dates import long_day
from hidewright.papers.paper_size import PAPER
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal
from hidewright.units import counted

USUAL_CAUTIONS = (
    "Spray only with the air moving and every flame and spark out. Wear the breathing protection that the product's "
    "data sheet names. The local code rules.",
    "Do not spray over a spot that still looks wet from the wipe-down.",
)


@dataclass(frozen=True)
class LikePieces:
    """Pieces that are sprayed alike: their codes, how they lie, and the stops of the gun; `by_name` their codes under what they are called."""

    name: str
    codes: tuple[str, ...]
    stops: tuple[SprayStop, ...]
    lies: str = ""
    coats: str = ""
    by_name: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def __post_init__(self) -> None:
        if not self.codes or not self.stops:
            raise Refusal("A spray order needs pieces and stops.", where=self.name)
        names = [stop.name for stop in self.stops]
        if len(set(names)) != len(names):
            raise Refusal("A stop is in the order twice.", where=self.name, remedy="Name each stop once.")


@dataclass(frozen=True)
class SprayOrderCard:
    """Everything that stands on the card: a block for each kind of piece."""

    job: str
    colour: str
    kinds: tuple[LikePieces, ...]
    made_on: date
    cautions: tuple[str, ...] = USUAL_CAUTIONS
    page_url: str = ""

    def __post_init__(self) -> None:
        if not self.kinds:
            raise Refusal("There is nothing to spray.", where=self.job)

    def content(self) -> dict[str, Any]:
        """The card as the template takes it: text only."""
        return {
            "title": "Spray order",
            "job": self.job,
            "colour": self.colour,
            "made_on": long_day(self.made_on),
            "kinds": [
                {
                    "name": kind.name,
                    "count": counted(len(kind.codes), "piece"),
                    "groups": [
                        {"name": name, "codes": list(codes)}
                        for name, codes in kind.by_name or (("Pieces", kind.codes),)
                    ],
                    "lies": kind.lies,
                    "coats": kind.coats,
                    "picture": unfolded(kind.stops, label=kind.name),
                    "stops": [{"name": stop.name, "hint": stop.hint} for stop in kind.stops],
                }
                for kind in self.kinds
            ],
            "cautions": list(self.cautions),
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }


def spray_order_pdf(card: SprayOrderCard, paper: str = PAPER) -> bytes:
    """The card as PDF; a kind of piece is never torn over two pages."""
    return press("spray_order", card.content(), made_on=card.made_on, paper=paper)
