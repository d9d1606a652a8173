"""How a brought list of pieces is taken: added to the job's list, or put in its place."""

from collections.abc import Mapping

from django.utils.safestring import SafeString

from hidewright import survey
from hidewright.lists.draft import Draft
from hidewright.survey.pieces_in import PIECES
from hidewright.units import show_area
from hidewright.workshop.lists.queries import Prospect, Taker, Way, takes
from hidewright.workshop.pieces.actions import put_in
from hidewright.workshop.pieces.queries import compare, copied, drawings, picture, totals
from hidewright.workshop.shop.models import Act, Job

SHOWN_DOUBTS = 40
"""No more marks of doubtful sizes are named."""


def _take(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    assert job is not None
    return put_in(job, draft.values, replace=how == "replace", source=name)


def _prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    assert job is not None
    pieces: tuple[survey.Piece, ...] = draft.values
    facts, compared = totals(pieces), compare(job, pieces)
    new = len(compared.new)
    ways = []
    if new:
        kept = "" if new == len(pieces) else " new"
        ways.append(Way("add", f"Add the {new}{kept} piece{'s' if new > 1 else ''}"))
    if compared.known or compared.missing:
        ways.append(Way("replace", "Replace the whole list"))
    doubtful = [p.key for p in pieces if p.looks_mistyped][:SHOWN_DOUBTS]
    return Prospect(
        tuple(ways),
        (
            ("Coated area", f"{show_area(facts.area, units)} ± {show_area(facts.sd, units)}"),
            ("New to the list", str(new)),
            ("On the list already", str(len(compared.known))),
            ("On the list, not in it", str(len(compared.missing))),
        ),
        (f"Very small or very large: are the units right? {', '.join(doubtful)}.",) if doubtful else (),
    )


def shape_pictures(meaning: str) -> Mapping[str, SafeString]:
    """Every shape's picture, where a word is asked for its shape."""
    if meaning != "shape":
        return {}
    made = (
        survey.make_piece(key=key, name=key, group="", shape=key, length=0.5, width=0.4, thickness=0.1)
        for key in survey.SHAPES
    )
    return {piece.shape: picture(piece) for piece in made}


takes(
    Taker(
        PIECES,
        of_job=True,
        to="survey",
        take=_take,
        prospect=_prospect,
        picture=copied,
        drawings=drawings,
        pictures=shape_pictures,
        stage="survey",
    )
)
