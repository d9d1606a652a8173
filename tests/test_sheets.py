"""Sheets: what spreadsheets save is read as it stands; what is torn, doubled or strange is refused by line and column."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import Row, Sheet, file_text, read_each, read_sheet

CELL = st.text(st.characters(codec="utf-8", exclude_characters="\x00\r"), max_size=12).map(str.strip)


@given(
    st.lists(st.lists(CELL, min_size=3, max_size=3).filter(any), min_size=1, max_size=6),
    st.sampled_from(",;\t"),
)
def test_what_csv_writes_is_read_back(rows: list[list[str]], mark: str) -> None:
    """RFC 4180 quoting, line breaks inside cells and all three marks: every filled cell comes back, with a line that rises."""
    out = io.StringIO()
    csv.writer(out, delimiter=mark).writerows([["a", "b", "c"], *rows])
    sheet = read_sheet(out.getvalue())
    assert [[row.get(c) for c in "abc"] for row in sheet.rows] == rows
    lines = [row.line for row in sheet.rows]
    assert lines == sorted(set(lines))
    assert lines[0] == 2
    assert sheet.comma == (mark != ",")


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "empty"),
        ("\n\n", "empty"),
        ("a,b\n", "no row"),
        ('a,b\n1,"2', "torn"),
        ("a,b\n\x001,2", "no text file"),
        ("a,b\n1,2\n1,2\n1,2", "3 rows"),
    ],
)
def test_what_cannot_be_read_is_refused(text: str, what: str) -> None:
    """One clear refusal each, before any row is taken."""
    with pytest.raises(Refusal, match=what):
        read_sheet(text, most=2)


@pytest.mark.parametrize(("head", "what"), [("a", "column b"), ("a,b,b", "twice"), ("a,b,x", "not known")])
def test_columns_are_held_to_the_list(head: str, what: str) -> None:
    """A column that lacks, stands twice or is strange is named, and so are those that are known."""
    with pytest.raises(Refusal, match=what) as refused:
        read_sheet(f"{head}\n{'1,2,3'[: len(head)]}").expect(("a", "b"), ("c",))
    assert "a, b, c" in refused.value.remedy


def test_all_faults_come_together_by_line() -> None:
    """A row that is refused and a row whose key stands there already."""

    def whole(row: Row) -> int:
        if not row.get("n").isdigit():
            raise Refusal("No number.", where="n")
        return int(row.get("n"))

    sheet = read_sheet("key,n\na,1\n\nb,two\na,3\n")
    with pytest.raises(Refusals) as refused:
        read_each(sheet.rows, whole, unique="key")
    assert [item.where for item in refused.value.items] == ["line 4, column n", "line 5, column key"]
    assert read_each(sheet.rows[:1], whole, unique="key") == [1]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_as_spreadsheets_save_it(encoding: str) -> None:
    """The four ways that office programs write text."""
    assert file_text("siège, 3 m²".encode(encoding)) == "siège, 3 m²"


def test_torn_bytes_never_raise() -> None:
    """Half a UTF-16 letter is marked as such, not raised."""
    assert file_text(b"\xff\xfea\x00b") == "a\ufffd"


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("a,b,c\n1,2,3\n560,5,540,\n", "line 3", "4 cells"),
        ("a,b\n1,2,3\n4,5,6\n", "line 2", "3 cells"),
        ("a,b,c\n1,2,3\n4,5", "line 3", "breaks off after 2 of 3"),
    ],
)
def test_a_comma_too_many_and_a_file_that_breaks_off_are_told_by_line(
    text: str, where: str, what: str
) -> None:
    """A decimal comma would shift every cell after it; a file cut short in a row would lose the rest of its rows without a word."""
    with pytest.raises(Refusals) as refused:
        read_sheet(text)
    assert refused.value.items[0].where == where
    assert what in refused.value.items[0].what


@pytest.mark.parametrize("text", ["a,b\n1,2,\n3,4,\n", "a,b,c\n1,2\n3", "a,b,c\n1,2,3\n4,5\n", "a,b\n1,2"])
def test_what_hands_and_spreadsheets_write_is_no_tear(text: str) -> None:
    """Commas at the end of every line, short rows throughout, a short last row with its line end: all taken."""
    assert read_sheet(text).rows


def test_a_short_row_has_empty_cells() -> None:
    """Cells that a row lacks are empty, as are columns that the sheet lacks."""
    sheet = read_sheet("\ufeffA  b,C\nx")
    assert sheet == Sheet(("a b", "c"), (Row(2, {"a b": "x", "c": ""}),))
    assert sheet.rows[0].get("d") == ""
