"""The papers of a hand-over: the packing list, and the care sheet."""

from datetime import date

from hidewright.dates import long_day, show_day
from hidewright.papers.care_sheet import CareSheet
from hidewright.papers.piece_list import ListedPiece, PieceList, SignedAs
from hidewright.workshop.handover.models import HandOver
from hidewright.workshop.handover.queries import Packing, PieceOut, packing
from hidewright.workshop.intake.paper_queries import signed_as
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


def packing_list(
    job: Job, row: HandOver | None, *, made_on: date, paper: str, page_url: str = ""
) -> PieceList:
    """The packing list of a hand-over, or of all that came in while none is begun."""
    found = packing(job)
    going = _of(found, row, stays=False) if row else _all(found)
    staying = tuple(piece for _, pieces in _of(found, row, stays=True) for piece in pieces) if row else ()
    over = row is not None and row.signed is not None
    facts = (f"Handed over to {row.to} on {long_day(row.day)}.",) if row and over and row.day else ()
    kit = tuple(ListedPiece(each, "") for each in row.kit) if row else ()
    when = f"{show_day(row.day)}" if row and row.day else ""
    return PieceList(
        title=f"Packing list {row.number}" if row else "Packing list",
        job=job.name,
        client=job.client,
        shop=the_shop().name,
        made_on=made_on,
        facts=facts,
        groups=going,
        others=tuple((name, pieces) for name, pieces in (("Stays with the shop", staying),) if pieces),
        notes=(
            *((f"Goes along for touching up: {', '.join(each.mark for each in kit)}.",) if kit else ()),
            *((row.note,) if row and row.note else ()),
        ),
        signatures=(
            signed_as(
                "Taken over, name and day", row.to if row else "", row.signature if row else None, when
            ),
            SignedAs("For the shop", row.person.name if row and row.person else ""),
        ),
        paper=paper,
        page_url=page_url,
        tick=not over,
    )


def _line(piece: PieceOut) -> ListedPiece:
    return ListedPiece(piece.row.key, piece.row.name, piece.line.stays if piece.line else "")


def _all(found: Packing) -> tuple[tuple[str, tuple[ListedPiece, ...]], ...]:
    return tuple((group.name, tuple(_line(p) for p in group.pieces)) for group in found.groups)


def _of(found: Packing, row: HandOver, *, stays: bool) -> tuple[tuple[str, tuple[ListedPiece, ...]], ...]:
    """The pieces of one hand-over by group: those that go, or those that stay."""
    lines = {line.piece_id: line for line in row.lines.filter(withdrawn=None)}
    made = []
    for group in found.groups:
        mine = [p for p in group.pieces if p.row.pk in lines and bool(lines[p.row.pk].stays) == stays]
        if mine:
            made.append(
                (group.name, tuple(ListedPiece(p.row.key, p.row.name, lines[p.row.pk].stays) for p in mine))
            )
    return tuple(made)


def care_sheet(job: Job, *, made_on: date, paper: str) -> CareSheet:
    """The care sheet that goes along."""
    return CareSheet(job.name, the_shop().name, made_on, client=job.client, paper=paper)
