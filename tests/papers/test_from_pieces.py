"""Spray order cards out of the list of pieces."""

from datetime import date

import pytest

from hidewright.charts.faces import unfolded
from hidewright.papers.from_pieces import SIDES_OF, spray_order_of
from hidewright.papers.spray_order import spray_order_pdf
from hidewright.refusals import Refusal
from hidewright.survey import SHAPES, Piece, Zone, make_piece

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


def test_like_pieces_share_one_order_whatever_they_are_called() -> None:
    """A turned cushion is sprayed in its first pass as one that is not turned; a leg rest of the same shape as a seat."""
    card = spray_order_of(
        [piece("A"), piece("B"), piece("C", turned=True), piece("D", name="leg rest"), piece("E", "panel")],
        job="x",
        colour="x",
        made_on=DAY,
        coats="2 coats of colour",
    )
    assert [(k.name, k.codes) for k in card.kinds] == [
        ("Cushion with a border, first side", ("A", "B", "C", "D")),
        ("Cushion with a border, second side", ("C",)),
        ("Flat panel, first side", ("E",)),
    ]
    told = card.content()["kinds"][0]
    assert told["groups"] == [
        {"name": "cushion", "codes": ["A", "B", "C"]},
        {"name": "leg rest", "codes": ["D"]},
    ]
    assert told["coats"] == "2 coats of colour"
    assert {stop.name for stop in card.kinds[0].stops} >= {"corner top/front/left", "edge top/front", "top"}
    assert spray_order_pdf(card).startswith(b"%PDF")


@pytest.mark.parametrize("shape", ["panel", "shell"])
def test_a_flat_piece_has_its_corners_too(shape: str) -> None:
    """A piece has its sides and its corners: the rim of a panel is not forgotten, on either side."""
    first, second = spray_order_of([piece("A", shape, turned=True)], job="x", colour="x", made_on=DAY).kinds
    for kind, face in ((first, "top"), (second, "bottom")):
        counts = [len(stop.sides) for stop in kind.stops]
        assert counts == [3] * 4 + [2] * 4 + [1]
        assert all(face in stop.sides for stop in kind.stops)
        assert kind.stops[-1].name == face


def test_a_side_that_is_not_sprayed_in_a_pass_is_hatched() -> None:
    first, second = spray_order_of([piece("A", turned=True)], job="x", colour="x", made_on=DAY).kinds
    hatched = [unfolded(kind.stops).count('fill="url(') for kind in (first, second)]
    assert hatched == [1, 5], "the underside at first; all but the underside when it is turned"


def test_both_passes_together_visit_every_edge_and_corner_of_a_turned_cushion_once() -> None:
    first, second = spray_order_of([piece("A", turned=True)], job="x", colour="x", made_on=DAY).kinds
    stops = [stop.sides for kind in (first, second) for stop in kind.stops]
    assert len(stops) == len(set(stops)) == 26
    assert second.stops[-1].name == "bottom"


def test_no_pieces_no_card() -> None:
    with pytest.raises(Refusal, match="nothing to spray"):
        spray_order_of([], job="x", colour="x", made_on=DAY)


def test_a_piece_in_zones_has_one_order_that_says_what_comes_first_and_what_is_masked() -> None:
    zones = (Zone("flap and arms", 0.4, "face"), Zone("back and face", 0.6, "arms", moved=True))
    seats = [
        make_piece(key=f"S{n}", name="Seat", group="", shape="cushion", length=0.6, width=0.5, thickness=0.1, zones=zones)
        for n in (1, 2)
    ]  # fmt: skip
    (kind,) = spray_order_of(seats, job="Job", colour="Tan", made_on=date(2026, 3, 2)).kinds
    assert kind.codes == ("S1", "S2")
    assert kind.name == "Cushion with a border, in zones"
    assert "first flap and arms (mask face); then, turned, back and face (mask arms)" in kind.lies
