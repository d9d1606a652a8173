"""The papers of what came in: the receipt of a delivery, and the tags of pieces."""

from collections.abc import Callable, Iterable
from datetime import date

from hidewright.charts.signature import signature_of
from hidewright.dates import long_day, show_day
from hidewright.papers.piece_list import ListedPiece, PieceList, SignedAs
from hidewright.papers.tags import Tag
from hidewright.workshop.intake.models import Delivery
from hidewright.workshop.intake.queries import intake
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


def signed_as(role: str, name: str, strokes: object, when: str = "") -> SignedAs:
    """A place for a signature, with it where it was signed on the screen."""
    if not strokes:
        return SignedAs(role, name)
    return SignedAs(
        role, f"{name}{', ' if when else ''}{when}", signature_of(strokes).svg(f"Signature of {name}")
    )


def receipt(row: Delivery, *, made_on: date, paper: str, page_url: str = "") -> PieceList:
    """The receipt of one delivery: what came with it and how it looked, what is missing, and what is done elsewhere."""
    found = intake(row.job)
    groups = [
        (group.name, tuple(_line(p.row, p.arrival.condition) for p in group.pieces if p.arrival and p.arrival.delivery_id == row.pk))
        for group in found.groups
    ]  # fmt: skip
    missing = tuple(_line(p.row, "") for p in found.missing)
    elsewhere = tuple(_line(p.row, "not by us") for p in found.others)
    taken = f"Brought by {row.brought_by} on {long_day(row.day)}"
    when = f"{show_day(row.signed)} {row.signed:%H:%M}" if row.signed else ""
    return PieceList(
        title=f"Receipt {row.number}",
        job=row.job.name,
        client=row.job.client,
        shop=the_shop().name,
        made_on=made_on,
        facts=(f"{taken}{f', taken in by {row.person.name}' if row.person else ''}.",),
        groups=tuple((name, pieces) for name, pieces in groups if pieces),
        others=tuple(
            (name, pieces)
            for name, pieces in (("Not here yet", missing), ("Done elsewhere, not by us", elsewhere))
            if pieces
        ),
        notes=(row.note,) if row.note else (),
        signatures=(
            signed_as("Brought by", row.signed_by or row.brought_by, row.signature, when),
            SignedAs("For the shop", row.person.name if row.person else ""),
        ),
        paper=paper,
        page_url=page_url,
    )


def _line(piece: Piece, words: str) -> ListedPiece:
    condition = "" if piece.condition == "sound" else piece.condition
    return ListedPiece(piece.key, piece.name, words or condition)


def tags(job: Job, pieces: Iterable[Piece], address: Callable[[Piece], str]) -> tuple[Tag, ...]:
    """A tag for each piece; `address` of the page it leads to."""
    return tuple(Tag(row.key, row.name, row.group, address(row)) for row in pieces)
