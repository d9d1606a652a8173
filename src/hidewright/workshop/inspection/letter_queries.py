"""The letter about a snag, out of its row."""

from datetime import date

from hidewright.papers.letter import SnagLetter
from hidewright.workshop.frame.prints import paper_size, printed
from hidewright.workshop.inspection.models import Snag, Weight
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.door import the_shop

WEIGHT_WORDS = {
    Weight.BLOCKS: "We cannot finish the job before this is settled.",
    Weight.LATER: "The work goes on; we mean to touch it up before the hand-over.",
}


def snag_letter(row: Snag, *, made_on: date, with_picture: bool = True) -> SnagLetter:
    """The letter to whoever must act on a snag, with its picture and piece."""
    shop = the_shop()
    name = (
        Piece.objects.filter(job=row.job, key=row.piece, removed=None).values_list("name", flat=True).first()
    )
    piece = f"{row.piece} ({name})" if name else row.piece
    picture = printed(row.picture, row.what) if with_picture and row.picture else None
    return SnagLetter(
        shop=shop.name,
        job=row.job.name,
        word=shop.snag_word,
        to=str(row.acts) if row.acts else "",
        what=row.what,
        piece=piece,
        made_on=made_on,
        weight=WEIGHT_WORDS[Weight(row.weight)],
        by=row.expected,
        picture=picture,
        paper=paper_size(),
    )
