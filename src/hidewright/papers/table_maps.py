"""Table maps: how the tables look at chosen moments, day by day, to hang on the wall."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.dates import long_day
from hidewright.papers.day_sheet import TablePicture
from hidewright.papers.paper_size import PAPER
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

USUAL_CAUTIONS = ("Do not touch, turn or move a part that is marked wet.",)


@dataclass(frozen=True)
class MapDay:
    """The pictures of one day, in the order of time."""

    day: date
    pictures: tuple[TablePicture, ...]
    named: tuple[str, ...] = ()
    """What the marks in the pictures are called, “C1 Seat”."""
    empty: bool = False
    """Nothing lies on a table at the moments of this day: it is said in words."""


@dataclass(frozen=True)
class TableMaps:
    """Everything that stands on the maps."""

    job: str
    days: tuple[MapDay, ...]
    made_on: date
    cautions: tuple[str, ...] = USUAL_CAUTIONS
    page_url: str = ""

    def __post_init__(self) -> None:
        if not any(day.pictures or day.empty for day in self.days):
            raise Refusal("There is no table to draw.", where=self.job, remedy="Make a plan first.")

    def content(self) -> dict[str, Any]:
        """The maps as the template takes them."""
        return {
            "title": "Table maps",
            "job": self.job,
            "made_on": long_day(self.made_on),
            "days": [
                {
                    "name": long_day(day.day),
                    "named": ", ".join(day.named),
                    "pictures": [{"caption": p.caption, "svg": p.svg} for p in day.pictures],
                    "empty": day.empty,
                }
                for day in self.days
                if day.pictures or day.empty
            ],
            "cautions": list(self.cautions),
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }


def table_maps_pdf(maps: TableMaps, paper: str = PAPER) -> bytes:
    """The maps as PDF, two pictures side by side."""
    return press("table_maps", maps.content(), made_on=maps.made_on, paper=paper)
