"""A record: what was looked at, kept or agreed, in parts with tables and pictures. The inspection, the closing file and letters are made with it."""

import base64
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from hidewright.dates import long_day
from hidewright.papers.paper_size import SIZES
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

PAPERS = tuple(SIZES)
"""Sizes of paper, as the press names them."""


@dataclass(frozen=True)
class RecordPicture:
    """A JPEG picture with its size in pixels and what it shows."""

    caption: str
    jpeg: bytes
    width: int
    height: int

    def __post_init__(self) -> None:
        if not self.jpeg.startswith(b"\xff\xd8") or self.width < 1 or self.height < 1:
            raise Refusal("This is no JPEG picture.", where=self.caption)

    def svg(self) -> str:
        """The picture as SVG, which carries it as text."""
        size = f'width="{self.width}" height="{self.height}"'
        data = base64.b64encode(self.jpeg).decode()
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width} {self.height}" {size}>'
            f'<image href="data:image/jpeg;base64,{data}" {size}/></svg>'
        )


@dataclass(frozen=True)
class RecordDrawing:
    """A drawing as SVG with what it shows, such as a signature."""

    caption: str
    drawn: str

    def __post_init__(self) -> None:
        if not self.drawn.startswith("<svg"):
            raise Refusal("This is no drawing.", where=self.caption)

    def svg(self) -> str:
        """The drawing."""
        return self.drawn


@dataclass(frozen=True)
class RecordTable:
    """Rows under a head; `widths` are shares of the line, one a column (empty: alike)."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        wrong = next((row for row in self.rows if len(row) != len(self.head)), None)
        if wrong is not None:
            raise Refusal("A row does not fit under its head.", where=" ".join(wrong)[:80])
        if self.widths and (len(self.widths) != len(self.head) or min(self.widths) <= 0):
            raise Refusal("Each column needs a width above nothing.", where=", ".join(self.head)[:80])


@dataclass(frozen=True)
class RecordPart:
    """One part of a record: a title, lines of text, a table, pictures, and pairs of pictures that touch (before, after)."""

    title: str
    lines: tuple[str, ...] = ()
    table: RecordTable | None = None
    pictures: tuple[RecordPicture | RecordDrawing, ...] = ()
    pairs: tuple[tuple[RecordPicture, RecordPicture], ...] = ()


@dataclass(frozen=True)
class Record:
    """Everything that a record says; `to_sign` are the words under the lines for signatures."""

    title: str
    job: str
    headline: str
    made_on: date
    parts: tuple[RecordPart, ...]
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    to_sign: tuple[str, ...] = ()
    paper: str = "a4"
    page_url: str = ""
    letter: bool = field(default=False)
    """A letter has no code and no numbers of pages in its head."""

    def __post_init__(self) -> None:
        if not self.parts:
            raise Refusal("There is nothing on this paper.", where=self.title)
        if self.paper not in PAPERS:
            raise Refusal(f"“{self.paper}” is no size of paper.", remedy=f"Take one of {', '.join(PAPERS)}.")

    def content(self) -> dict[str, Any]:
        """The record as the template takes it: text only."""
        return {
            "title": self.title,
            "job": self.job,
            "headline": self.headline,
            "lines": list(self.lines),
            "made_on": long_day(self.made_on),
            "parts": [_part(part) for part in self.parts],
            "cautions": list(self.cautions),
            "to_sign": list(self.to_sign),
            "paper": self.paper,
            "letter": self.letter,
            "qr": "" if self.letter else qr_svg(self.page_url),
            "url": self.page_url,
        }


def _part(part: RecordPart) -> dict[str, Any]:
    table = part.table
    return {
        "title": part.title,
        "lines": list(part.lines),
        "head": list(table.head) if table else [],
        "rows": [list(row) for row in table.rows] if table else [],
        "widths": [float(share) for share in (table.widths or (1.0,) * len(table.head))] if table else [],
        "pictures": [_picture(one) for one in part.pictures],
        "pairs": [[_picture(one), _picture(two)] for one, two in part.pairs],
    }


def _picture(one: RecordPicture | RecordDrawing) -> dict[str, str]:
    return {"caption": one.caption, "svg": one.svg()}


def record_pdf(record: Record) -> bytes:
    """The record as PDF."""
    return press("record", record.content(), made_on=record.made_on)
