"""A paper that lists pieces by group: the receipt of what came in, the packing list of what goes out; signed at its end."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.dates import long_day
from hidewright.papers.paper_size import PAPER, check_paper
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal
from hidewright.units import counted


@dataclass(frozen=True)
class ListedPiece:
    """One piece: its mark, its name, and a few words beside it."""

    mark: str
    name: str
    words: str = ""


@dataclass(frozen=True)
class SignedAs:
    """A place for a signature: whose it is, and the signature as SVG where it was signed on the screen (empty: a line to sign on)."""

    role: str
    words: str = ""
    svg: str = ""


@dataclass(frozen=True)
class PieceList:
    """Everything that stands on the paper; `groups` name → pieces, `facts` and `notes` a line each."""

    title: str
    job: str
    shop: str
    made_on: date
    groups: tuple[tuple[str, tuple[ListedPiece, ...]], ...]
    client: str = ""
    facts: tuple[str, ...] = ()
    others: tuple[tuple[str, tuple[ListedPiece, ...]], ...] = ()
    notes: tuple[str, ...] = ()
    signatures: tuple[SignedAs, ...] = ()
    cautions: tuple[str, ...] = ()
    page_url: str = ""
    paper: str = PAPER
    tick: bool = False

    def __post_init__(self) -> None:
        if not any(pieces for _, pieces in (*self.groups, *self.others)):
            raise Refusal("There is no piece to list.", where=self.title, remedy="Take pieces in first.")
        check_paper(self.paper)

    def content(self) -> dict[str, Any]:
        """The paper as the template takes it: text only."""
        count = sum(len(pieces) for _, pieces in self.groups)
        return {
            "title": self.title,
            "job": self.job,
            "client": self.client,
            "shop": self.shop,
            "made_on": long_day(self.made_on),
            "count": counted(count, "piece"),
            "facts": list(self.facts),
            "groups": [_group(name, pieces) for name, pieces in self.groups if pieces],
            "others": [_group(name, pieces) for name, pieces in self.others if pieces],
            "notes": list(self.notes),
            "signatures": [{"role": s.role, "words": s.words, "svg": s.svg} for s in self.signatures],
            "cautions": list(self.cautions),
            "tick": self.tick,
            "paper": self.paper,
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }


def _group(name: str, pieces: tuple[ListedPiece, ...]) -> dict[str, Any]:
    return {"name": name or "Others", "pieces": [[p.mark, p.name, p.words] for p in pieces]}


def piece_list_pdf(paper: PieceList) -> bytes:
    """The paper as PDF."""
    return press("piece_list", paper.content(), made_on=paper.made_on)
