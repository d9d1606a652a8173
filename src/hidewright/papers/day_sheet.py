"""The day sheet: who does what today, in order, with the tables as they will look."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.dates import long_day
from hidewright.papers.paper_size import PAPER
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

USUAL_CAUTIONS = (
    "Do not touch, turn or move a part that is marked wet.",
    "Spray and wipe solvents only with the air moving and every flame and spark out. The product's data sheet and the "
    "local code rule.",
    "Gloves, eye and breathing protection as the data sheet names them.",
)


@dataclass(frozen=True)
class DayItem:
    """One act of one person; times are clock times as text, each piece is its mark and what it is called (“C1 Seat”)."""

    start: str
    end: str
    pieces: tuple[str, ...]
    part: str
    act: str
    place: str = ""
    caution: str = ""
    done: bool = False


@dataclass(frozen=True)
class PersonList:
    """What one person does, in order of time."""

    name: str
    hours: str
    items: tuple[DayItem, ...]

    def __post_init__(self) -> None:
        starts = [item.start for item in self.items]
        if starts != sorted(starts):
            raise Refusal(
                "The steps are not in the order of time.", where=self.name, remedy="Sort them by start."
            )


@dataclass(frozen=True)
class TablePicture:
    """The tables at one moment: a caption and an SVG picture."""

    caption: str
    svg: str


@dataclass(frozen=True)
class DaySheet:
    """Everything that stands on a day sheet."""

    job: str
    day: date
    headline: str
    people: tuple[PersonList, ...]
    pictures: tuple[TablePicture, ...]
    made_on: date
    cautions: tuple[str, ...] = USUAL_CAUTIONS
    overnight: str = ""
    how_to: tuple[tuple[str, str], ...] = ()
    """(title, what it says) of the shop's cards for the day's work."""
    page_url: str = ""

    def __post_init__(self) -> None:
        if not self.people:
            raise Refusal("Nobody works on this day.", where=f"{self.day}", remedy="Choose a working day.")

    def content(self) -> dict[str, Any]:
        """The sheet as the template takes it: text only."""
        return {
            "title": "Day sheet",
            "job": self.job,
            "day": long_day(self.day),
            "headline": self.headline,
            "made_on": long_day(self.made_on),
            "people": [
                {"name": p.name, "hours": p.hours, "items": [_item(i) for i in p.items]} for p in self.people
            ],
            "pictures": [{"caption": p.caption, "svg": p.svg} for p in self.pictures],
            "overnight": self.overnight,
            "how_to": [list(card) for card in self.how_to],
            "cautions": list(self.cautions),
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }


def day_sheet_pdf(sheet: DaySheet, paper: str = PAPER) -> bytes:
    """The sheet as PDF: a list for each person, then the tables."""
    return press("day_sheet", sheet.content(), made_on=sheet.made_on, paper=paper)


def _item(item: DayItem) -> dict[str, Any]:
    return {
        "time": f"{item.start}–{item.end}",
        "pieces": list(item.pieces),
        "part": item.part,
        "act": item.act,
        "place": item.place,
        "caution": item.caution,
        "done": item.done,
    }
