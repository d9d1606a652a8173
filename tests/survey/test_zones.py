"""Zones: shares that come to the whole, and their text in a list."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.refusals import Refusal
from hidewright.survey import Zone, make_piece
from hidewright.survey.csv_in import read_pieces, write_pieces
from hidewright.survey.zones import EXAMPLE, USUAL_ZONES, checked_zones, shares, zones_as_text, zones_of_text

WORDS = st.text("abcdefgh ", min_size=1, max_size=20).map(str.strip).filter(bool)


@st.composite
def zones(draw: st.DrawFn) -> tuple[Zone, ...]:
    names = draw(st.lists(WORDS, min_size=2, max_size=5, unique=True))
    parts = [draw(st.integers(1, 9)) for _ in names]
    found = []
    for number, (name, part) in enumerate(zip(names, parts, strict=True)):
        masked = draw(st.sampled_from(["", "arms, frame", "the face"]))
        masking = draw(st.sampled_from([None, 15])) if masked else None
        moved = bool(number) and draw(st.booleans())
        found.append(Zone(name, round(part / sum(parts), 4), masked, masking, moved, draw(st.booleans())))
    return tuple(found)


@given(zones())
def test_zones_are_read_back_as_they_were_written(found: tuple[Zone, ...]) -> None:
    back = zones_of_text(zones_as_text(found))
    assert [(z.name, z.masked, z.masking, z.moved, z.sat_on) for z in back] == [
        (z.name, z.masked, z.masking, z.moved, z.sat_on) for z in found
    ]
    assert [z.share for z in back] == pytest.approx([z.share for z in found], abs=1e-6)


@given(zones())
def test_areas_of_the_zones_sum_to_that_of_the_piece(found: tuple[Zone, ...]) -> None:
    piece = make_piece(key="S1", name="Seat", group="", shape="shell", length=0.7, width=0.6, sat_on=True, turned=True, zones=found)  # fmt: skip
    assert sum(piece.pass_share(key) for key in piece.passes) == pytest.approx(1)
    assert sum(piece.pass_share(key, sat_on=True) for key in piece.passes) == pytest.approx(1)
    assert piece.pass_share("front") == 0, "a piece in zones is not coated side by side"


def test_the_example_and_the_starting_sets_can_be_used() -> None:
    first, second = zones_of_text(EXAMPLE)
    assert (first.name, first.share, first.sat_on) == ("flap, sides, arms and recesses", 0.45, False)
    assert (second.masked, second.masking) == ("arms and frame", 10)
    for _, usual in USUAL_ZONES:
        assert sum(shares(checked_zones(usual))) == pytest.approx(1)


def test_a_list_carries_zones_and_comes_back() -> None:
    text = f'key,name,shape,length,width,sat_on,count,zones\nS,seat,shell,700,600,yes,2,"{EXAMPLE}"\nP,panel,panel,700,600,no,1,\n'
    one, two, panel = read_pieces(text)
    assert one.zones == two.zones
    assert [zone.name for zone in one.zones] == ["flap, sides, arms and recesses", "back and face"]
    assert panel.zones == ()
    assert panel.passes == ("front",)
    assert read_pieces(write_pieces([one, two, panel])) == (one, two, panel)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("face 100 %", "2 to 8 zones"),
        ("face 50 %; back 30 %", "come to 80 %"),
        ("face 50 %; Face 50 %", "same name"),
        ("face; back 50 %", "How much"),
        ("face 50 %, turned; back 50 %", "comes first"),
        ("face 50 %, upside; back 50 %", "says nothing"),
        ("face 50 %, 10 min; back 50 %", "What is masked"),
        ("face 0 %; back 100 %", "cannot be 0 %"),
    ],
)
def test_zones_that_make_no_sense_are_refused_in_words(text: str, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        zones_of_text(text)
