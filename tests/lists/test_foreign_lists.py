"""Lists as other people write them: columns, words, units and numbers are understood or asked about, and every fault is named at once."""

import zipfile
from io import BytesIO

import pytest

from hidewright.lists.draft import Answers, Draft, draft_of, remembered
from hidewright.lists.grid import Grid, grid_of_file, grid_of_text
from hidewright.lists.headings import IGNORED
from hidewright.refusals import Refusal, Refusals
from hidewright.survey import SHAPES, Condition, Material
from hidewright.survey.pieces_in import PIECES
from hidewright.takeoff.products import Role
from hidewright.takeoff.products_in import PRODUCTS
from lists.foreign import (
    MERGED_ROWS,
    MERGED_SPANS,
    MERGED_TRUTH,
    OWN,
    OWN_TRUTH,
    PASTE,
    PASTE_TRUTH,
    TABBED,
    TABBED_TRUTH,
    ods,
    xlsx,
)


def agreed(draft: Draft, **more: str) -> Answers:
    """What somebody says who finds every guess right; `more` gives words that have no guess a value."""
    columns = {c.at: (c.meaning or IGNORED, c.unit) for c in draft.columns}
    words = {(q.meaning, q.word): more.get(q.word.replace(" ", "_"), q.likely) for q in draft.questions}
    return Answers(columns=columns, words={key: value for key, value in words.items() if value})


def sizes(draft: Draft) -> dict[str, tuple[float, float, float]]:
    """Name without its number → length, width and thickness in m."""
    return {
        piece.name.rstrip(" 123456789"): (piece.length, piece.width, piece.thickness)
        for piece in draft.values
    }


def near(found: dict, truth: dict) -> bool:  # type: ignore[type-arg]
    """Whether the same things have the same sizes."""
    return found.keys() == truth.keys() and all(found[key] == pytest.approx(truth[key]) for key in truth)


def test_the_choices_are_those_of_the_stages() -> None:
    for kind, key, known in (
        (PIECES, "shape", SHAPES),
        (PIECES, "material", Material),
        (PIECES, "condition", Condition),
        (PRODUCTS, "role", Role),
    ):
        assert set(kind.meaning(key).choices) == set(map(str, known))


def test_own_columns_and_words_are_asked_about_once() -> None:
    grid = grid_of_text(OWN)
    first = draft_of(PIECES, grid, us=True)
    assert not first.faults
    assert {c.heading for c in first.unsure} == {"How long", "Wide", "Thick"}
    assert [(q.word, q.likely) for q in first.questions] == [
        ("seat bottom", "cushion"),
        ("back rest", "shell"),
        ("wing", ""),
        ("ledge", "box"),
    ]
    said = agreed(first, wing="shell")
    second = draft_of(PIECES, grid, said, us=True)
    assert second.ready
    assert near(sizes(second), OWN_TRUTH)
    assert len(second.values) == 8
    again = draft_of(
        PIECES, grid_of_text(OWN.replace("22 in", "23 in")), memory=remembered(second, said), us=True
    )
    assert again.ready, "the next list of this shop is taken as it comes"


def test_marks_are_made_where_none_is_given() -> None:
    draft = draft_of(PIECES, grid_of_text(OWN), us=True)
    marks = [line.plain["key"] for line in draft.lines]
    assert marks == ["C1-seat-bottom", "C2-seat-bottom", "C1-back-rest", "C1-wing", "LG"]


def test_tabs_and_decimal_commas_need_no_answer() -> None:
    draft = draft_of(PIECES, grid_of_text(TABBED))
    assert draft.ready
    assert near(sizes(draft), TABBED_TRUTH)
    assert len(draft.values) == 12


@pytest.mark.parametrize("data", [xlsx(MERGED_ROWS, MERGED_SPANS), ods(MERGED_ROWS)], ids=["xlsx", "ods"])
def test_merged_headings_and_units_in_cells(data: bytes) -> None:
    draft = draft_of(PIECES, grid_of_file(data), us=True)
    assert (draft.faults, draft.unsure, draft.missing) == ((), (), ())
    taken = draft_of(PIECES, grid_of_file(data), agreed(draft), us=True)
    assert near(sizes(taken), MERGED_TRUTH)
    assert [line for line, _ in taken.skipped] == [8]


def test_a_merged_group_belongs_to_all_its_rows() -> None:
    draft = draft_of(PIECES, grid_of_file(xlsx(MERGED_ROWS, MERGED_SPANS)), us=True)
    assert [line.plain["group"] for line in draft.lines] == ["Settee 1"] * 3 + ["Table"]


def test_a_paste_without_headings_is_guessed_and_asked() -> None:
    first = draft_of(PIECES, grid_of_text(PASTE))
    assert [c.meaning for c in first.columns] == ["group", "name", "length", "width", "thickness"]
    assert len(first.unsure) == 5
    assert {c.unit for c in first.columns} == {"", "cm"}
    said = agreed(first, lee_board="panel")
    taken = draft_of(PIECES, grid_of_text(PASTE), said)
    assert taken.ready
    found = {int(p.group.split()[1]): (p.length, p.width, p.thickness) for p in taken.values}
    assert near(found, PASTE_TRUTH)
    assert draft_of(PIECES, grid_of_text(PASTE), memory=remembered(taken, said)).ready


def test_every_fault_comes_at_once_with_a_proposal() -> None:
    text = (
        "name;group;shape;length (cm);width (cm);thickness (cm);count\n"
        "Seat;A;cushion;56 inn;54,0;13,2;1\n"
        "Seat;B;cushion;56,5;54,0;;1\n"
        "Seat;C;cushion;565;54,0;13,2;1\n"
        "Back;D;shell;1.234;54,0;;1\n"
        "Back;E;shell;72-74;56 20;;2 pcs\n"
        "Back;F;shell;72;56,0;;2.5\n"
    )
    draft = draft_of(PIECES, grid_of_text(text))
    found = {(fault.line, fault.meaning): fault.proposal for fault in draft.faults}
    assert found == {
        (2, "length"): "56 in",
        (3, "thickness"): "13,2",
        (4, "length"): "565 mm",
        (5, "length"): "1234",
        (6, "length"): "74",
        (6, "width"): "",
        (7, "count"): "2",
    }
    mended = Answers(cells={key: proposal or "56" for key, proposal in found.items()})
    assert not draft_of(PIECES, grid_of_text(text), mended).faults[1:], "1234 cm is longer than a back"
    assert draft_of(PIECES, grid_of_text(text), Answers(out=frozenset(range(2, 8)))).lines == ()
    with pytest.raises(Refusals):
        draft.values  # noqa: B018


def test_a_size_in_one_cell_is_parted() -> None:
    text = "part\tsize\nSeat cushion\t22 x 21 x 5 in\nBack panel\t560 × 540 mm\n"
    draft = draft_of(PIECES, grid_of_text(text))
    taken = draft_of(PIECES, grid_of_text(text), agreed(draft, back_panel="panel"))
    assert near(sizes(taken), {"Seat cushion": (0.5588, 0.5334, 0.127), "Back panel": (0.56, 0.54, 0.0)})


def test_products_of_a_price_list() -> None:
    text = 'Item,Use,Pack size,Price,Vol solids,Pot life\nGrip,adhesion promoter,1 gal,"$1,250.00",22 %,\nX-link A,hardener,8 fl oz,64,100%,8 h\n'
    draft = draft_of(PRODUCTS, grid_of_text(text))
    assert [(f.meaning, f.line) for f in draft.faults] == [("ratio", 3)]
    grip = draft.lines[0].values[0]
    assert (grip.key, grip.role, grip.solids) == ("grip", Role.PRIMER, 0.22)
    assert (grip.pack, float(grip.price)) == pytest.approx((3785.411784, 1250.0))


def _bomb() -> bytes:
    """A zip that unpacks to more than is read."""
    held = BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("content.xml", b"\0" * (160 * 2**20))
    return held.getvalue()


def _far() -> bytes:
    """A spreadsheet whose second cell is its last possible one."""
    data = xlsx([["name", "length"], ["a", 1.0]])
    held = BytesIO()
    with zipfile.ZipFile(BytesIO(data)) as old, zipfile.ZipFile(held, "w") as new:
        for each in old.namelist():
            text = old.read(each)
            new.writestr(
                each, text.replace(b'<c r="B2">', b'<c r="XFD1048576">') if "sheet1" in each else text
            )
    return held.getvalue()


@pytest.mark.parametrize(
    "data",
    [b"PK\x03\x04" + b"\x00" * 80, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600, _bomb(), _far(), b"\x00" * 64, b"", b"a" * 3000],
    ids=["torn zip", "torn xls", "bomb", "far cell", "no text", "empty", "long cell"],
)  # fmt: skip
def test_hostile_files_are_refused_in_words(data: bytes) -> None:
    with pytest.raises(Refusal) as refused:
        grid_of_file(data)
    assert refused.value.what.endswith(".")


def test_too_many_rows_or_columns_are_refused() -> None:
    for lines, width in ((6001, 1), (2, 130), (3000, 100)):
        with pytest.raises(Refusal):
            Grid(tuple(range(lines)), (("a",) * width,) * lines)
