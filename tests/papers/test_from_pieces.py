"""Spray order cards out of the list of pieces."""

from datetime import date

import pytest

from hidewright.papers.from_pieces import SIDES_OF, spray_order_of
from hidewright.papers.spray_order import spray_order_pdf
from hidewright.refusals import Refusal
from hidewright.survey import SHAPES, Piece, make_piece

DAY = date(2026, 3, 2)


def piece(key: str, shape: str = "cushion", *, turned: bool = False, name: str = "cushion") -> Piece:
    return make_piece(
        key=key, name=name, group="", shape=shape, length=0.5, width=0.4, thickness=0.1, turned=turned
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_every_face_of_every_shape_has_its_sides(shape: str) -> None:
    made = piece("A", shape, turned=True)
    assert {face.name for face in made.faces} == set(SIDES_OF[shape])
    card = spray_order_of([made], job="x", colour="x", made_on=DAY)
    assert len(card.kinds) == 2


def test_like_pieces_share_one_order() -> None:
    card = spray_order_of(
        [piece("A"), piece("B"), piece("C", turned=True), piece("D", name="other")],
        job="x",
        colour="x",
        made_on=DAY,
    )
    assert [(k.name, k.codes) for k in card.kinds] == [
        ("cushion", ("A", "B")),
        ("cushion", ("C",)),
        ("cushion, turned", ("C",)),
        ("other", ("D",)),
    ]
    assert spray_order_pdf(card).startswith(b"%PDF")


def test_both_passes_together_visit_every_edge_and_corner_of_a_turned_cushion_once() -> None:
    first, second = spray_order_of([piece("A", turned=True)], job="x", colour="x", made_on=DAY).kinds
    stops = [stop.sides for kind in (first, second) for stop in kind.stops]
    assert len(stops) == len(set(stops)) == 26
    assert second.stops[-1].name == "bottom"


def test_no_pieces_no_card() -> None:
    with pytest.raises(Refusal, match="nothing to spray"):
        spray_order_of([], job="x", colour="x", made_on=DAY)
