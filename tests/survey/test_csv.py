"""Pieces from CSV: tolerant of how sheets are saved, strict about what they say, nothing half-imported."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hidewright import demo
from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import file_text
from hidewright.survey import SHAPES, Condition, Material, Piece, make_piece
from hidewright.survey.csv_in import COLUMNS, read_pieces, write_pieces

HEAD = "key,name,shape,length,width,thickness,count\n"


def refusals(text: str) -> list[str]:
    with pytest.raises(Refusals) as refused:
        read_pieces(text)
    return [str(item) for item in refused.value.items]


def test_the_demonstration_reads_and_writes_back_unchanged() -> None:
    pieces = read_pieces(demo.text("pieces.csv"))
    assert 80 <= len(pieces) <= 100
    assert {p.material for p in pieces} >= {Material.LEATHER, Material.VINYL}
    assert read_pieces(write_pieces(pieces)) == pieces


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_files_as_spreadsheets_save_them(encoding: str) -> None:
    data = (HEAD + "A,siège,panel,500,400,,\n").encode(encoding)
    assert read_pieces(file_text(data))[0].name == "siège"


def test_semicolons_make_the_comma_a_decimal_mark() -> None:
    text = "key;name;shape;length (cm);width;thickness\nA;seat;cushion;56,5;1,234 m;12 cm\n"
    made = read_pieces(text)[0]
    assert (made.length, made.width, made.thickness) == pytest.approx((0.565, 1.234, 0.12))


def test_units_stand_in_a_cell_or_in_the_heading() -> None:
    text = 'key,name,shape,length [in],width\nA,seat,panel,20,"1\' 6"""\n'
    made = read_pieces(text)[0]
    assert (made.length, made.width) == pytest.approx((0.508, 0.4572))


def test_a_count_makes_marked_pieces() -> None:
    made = read_pieces(HEAD + "DC,seat,panel,400,400,,3\n")
    assert [p.key for p in made] == ["DC-1", "DC-2", "DC-3"]


def test_every_fault_is_named_by_line_and_column_and_nothing_is_taken() -> None:
    faults = refusals(
        HEAD
        + "A,seat,panel,500,x,,\nB,,panel,500,400,,\nA,seat,panel,500,400,,\nC,seat,cushion,500,400,,2.5\n"
    )
    assert [f.split(":")[0] for f in faults] == [
        "line 2, column width",
        "line 3, column name",
        "line 4, column key",
        "line 5, column thickness",
    ]


def test_lines_are_counted_as_the_editor_counts_them() -> None:
    text = 'key,name,shape,length,width,notes\nA,seat,panel,500,400,"two\nlines"\n\nB,seat,panel,500,none,\n'
    assert refusals(text)[0].startswith("line 5, column width")


def test_a_counted_mark_that_meets_another_is_found() -> None:
    assert "line 3, column key" in refusals(HEAD + "A,x,panel,500,400,,2\nA-1,y,panel,500,400,,\n")[0]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\ufeff\n\n",
        HEAD,
        "key,name\nA,b\n",
        "key,name,shape,length,width,colour of the cat\nA,b,panel,1,1,x\n",
        "key,name,shape,length,width,width\nA,b,panel,1,1,1\n",
        HEAD + '"A,seat\n',
        "PK\x03\x04\x00\x00",
        HEAD + "".join(f"A{n},seat,panel,500,400,,\n" for n in range(5001)),
    ],
)
def test_what_is_no_list_of_pieces_is_refused_with_what_to_do(text: str) -> None:
    with pytest.raises(Refusal) as refused:
        read_pieces(text)
    assert refused.value.remedy


words = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), min_size=1, max_size=20
).filter(lambda s: s.strip())


@st.composite
def pieces(draw: st.DrawFn) -> Piece:
    return make_piece(
        key=draw(st.text("abcXYZ019-.", min_size=1, max_size=12)),
        name=draw(words).strip(),
        group=draw(words).strip(),
        shape=draw(st.sampled_from(list(SHAPES))),
        length=draw(st.integers(50, 700)) / 1000,
        width=draw(st.integers(50, 700)) / 1000,
        thickness=draw(st.integers(20, 300)) / 1000,
        material=draw(st.sampled_from(list(Material))),
        condition=draw(st.sampled_from(list(Condition))),
        sat_on=draw(st.booleans()),
        turned=draw(st.booleans()),
        strip=draw(st.booleans()),
        notes=draw(words).strip(),
    )


@settings(max_examples=60)
@given(st.lists(pieces(), min_size=1, max_size=6, unique_by=lambda p: p.key.casefold()))
def test_any_pieces_survive_the_round_trip(made: list[Piece]) -> None:
    assert read_pieces(write_pieces(made)) == tuple(made)


@settings(max_examples=150)
@given(st.text(max_size=300), st.booleans())
def test_any_text_is_read_or_refused(text: str, with_head: bool) -> None:
    file = (",".join(COLUMNS) + "\n" if with_head else "") + text
    try:
        made: tuple[Piece, ...] | None = read_pieces(file)
    except Refusal:
        made = None
    assert made is None or read_pieces(write_pieces(made)) == made
