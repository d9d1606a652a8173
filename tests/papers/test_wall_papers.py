"""Spray order cards and table maps."""

from dataclasses import replace
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from hidewright.charts.faces import SIDES, SprayStop, place_of, unfolded, usual_order
from hidewright.charts.tables import TableTop, tables_from_above
from hidewright.papers.day_sheet import TablePicture
from hidewright.papers.spray_order import LikePieces, SprayOrderCard, spray_order_pdf
from hidewright.papers.table_maps import MapDay, TableMaps, table_maps_pdf
from hidewright.refusals import Refusal

CUSHION = LikePieces("Cushion", ("C01", "C02"), usual_order(("top", "front", "left", "right", "back")))


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_a_box_has_eight_corners_twelve_edges_and_six_sides() -> None:
    counts = [len(stop.sides) for stop in usual_order(SIDES)]
    assert (counts.count(3), counts.count(2), counts.count(1)) == (8, 12, 6)
    assert counts == sorted(counts, reverse=True), "corners before edges before sides"
    assert usual_order(SIDES)[-1].name == "top", "the most seen side is the last"


def test_only_what_is_coated_is_visited() -> None:
    assert [stop.name for stop in usual_order(("top",))] == ["top"]
    assert [stop.name for stop in usual_order(("top", "front"))] == ["edge top/front", "front", "top"]


def test_stops_that_cannot_be_are_refused() -> None:
    for sides in ({"top", "bottom"}, {"lid"}, set()):
        with pytest.raises(Refusal):
            SprayStop(frozenset(sides))
    with pytest.raises(Refusal):
        usual_order(())
    with pytest.raises(Refusal, match="twice"):
        LikePieces("x", ("a",), (SprayStop(frozenset({"top"})), SprayStop(frozenset({"top"}))))


def test_no_two_stops_of_the_picture_lie_on_one_another() -> None:
    svg = unfolded(usual_order(SIDES))
    label = svg.split('aria-label="')[1].split('"')[0]
    assert all(f"{n} {stop.name}" in label for n, stop in enumerate(usual_order(SIDES), 1))
    spots = [place_of(stop) for stop in usual_order(SIDES)]
    for i, (x, y) in enumerate(spots):
        assert all(abs(x - u) + abs(y - v) > 14 for u, v in spots[:i]), usual_order(SIDES)[i].name


def test_the_card_names_every_stop_and_piece() -> None:
    card = SprayOrderCard("Rail #car*", "Biscuit", (CUSHION,), date(2026, 3, 2))
    pdf = spray_order_pdf(card)
    text = text_of(pdf)
    for wanted in ("Rail #car*", "corner top/front/left", "edge back/right", "C01, C02", "17"):
        assert wanted in text, wanted
    assert pdf == spray_order_pdf(card)
    with pytest.raises(Refusal, match="nothing to spray"):
        replace(card, kinds=())


def test_maps_name_each_day_and_refuse_an_empty_room() -> None:
    picture = TablePicture("09:00", tables_from_above([TableTop("Bench #1", 3, 1)], []))
    maps = TableMaps(
        "Rail car", (MapDay(date(2026, 3, 3), (picture,)), MapDay(date(2026, 3, 4), ())), date(2026, 3, 2)
    )
    text = text_of(table_maps_pdf(maps))
    assert "Tuesday 3 March 2026" in text
    assert "Wednesday" not in text
    assert "Bench #1" in text
    with pytest.raises(Refusal, match="no table"):
        replace(maps, days=(MapDay(date(2026, 3, 4), ()),))
