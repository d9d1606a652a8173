"""Sheets: the text of a spreadsheet saved as CSV, as rows that know their line. The one way in for every file of rows.

Comma, semicolon or tab part the cells, whichever the first line has most of; a byte-order mark and empty lines are passed over; quoting is RFC 4180's.
Faults are gathered and raised together, named by line and column, so that a file is put right in one go and nothing is half taken.
"""

import csv
import io
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from .refusals import Refusal, Refusals

MOST_ROWS = 100_000
"""A sheet longer than this is refused before any row is read."""
MOST_READINGS = 5000
"""The same for a sheet of readings or drawdowns, of which each row is a curve."""

LARGEST = 64 * 2**20
"""Bytes; no file that a person names by its path is larger."""

_T = TypeVar("_T")
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
"""How a text begins that a spreadsheet would take for a formula, or that was kept from it by a mark."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a sheet: the line it starts on (from 1) and its cells by lower-case column name, blanks at their ends taken off."""

    line: int
    cells: Mapping[str, str]

    def get(self, column: str) -> str:
        """The cell of a column; empty where the row or the sheet has none."""
        return self.cells.get(column, "")


@dataclass(frozen=True, slots=True)
class Sheet:
    """Columns as the first line names them (lower case, inner blanks single) and the rows under them.

    `comma` is true where the cells are parted by something else, so that a comma inside a cell can be the decimal mark.
    """

    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    comma: bool = False

    def expect(self, must: Collection[str], may: Collection[str] = (), line: int = 1) -> None:
        """Refuse a sheet that lacks a column of `must`, names one twice, or names one that is in neither list."""
        known = [*must, *may]
        missing = [c for c in must if c not in self.columns]
        if missing:
            raise Refusal(
                f"The column{'s' if len(missing) > 1 else ''} {', '.join(missing)} cannot be found.",
                where=f"line {line}",
                remedy=f"Name the columns {', '.join(known)}; {', '.join(must)} must be there.",
            )
        for n, column in enumerate(self.columns):
            twice = column in self.columns[:n]
            if column and (twice or column not in known):
                raise Refusal(
                    f"The column {column} {'is there twice' if twice else 'is not known here'}.",
                    where=f"line {line}",
                    remedy=f"Known are {', '.join(known)}.",
                )


def file_text(data: bytes) -> str:
    """The text of a file as spreadsheets save it: UTF-8 with or without a mark, UTF-16 with one, else Windows-1252."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def read_bytes(path: Path) -> bytes:
    """A file's bytes; refuses one over `LARGEST`."""
    if path.stat().st_size > LARGEST:
        raise Refusal(
            "The file is too large.", where=path.name, remedy=f"It may hold up to {LARGEST >> 20} MB."
        )
    return path.read_bytes()


def named(path: Path, work: Callable[[], _T]) -> _T:
    """What `work` gives; its faults carry the file's name."""
    try:
        return work()
    except Refusals as faults:
        raise Refusals(faults.items, what=f"{path.name}: {faults.what}") from faults
    except Refusal as fault:
        where = ", ".join(filter(None, (path.name, fault.where)))
        raise Refusal(fault.what, where=where, remedy=fault.remedy) from fault


def read_file(path: Path, read: Callable[[str], _T]) -> _T:
    """What `read` makes of a file's text; its faults carry the file's name."""
    return named(path, lambda: read(file_text(read_bytes(path))))


def cell(value: object) -> object:
    """The value as it goes into a CSV file: a text that a spreadsheet would take for a formula gets a `'` in front, a number stays.

    `read_sheet` takes one such mark away again, so what is written comes back unchanged.
    """
    text = value if isinstance(value, str) else ""
    if not _FORMULA.match(text):
        return value
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return value


class SheetWriter:
    """Writes rows of CSV in the one way that files go out: comma, line feed, no formulas."""

    def __init__(self) -> None:
        self._out = io.StringIO()
        self._writer = csv.writer(self._out, lineterminator="\n")

    def writerow(self, cells: Iterable[object]) -> None:
        """Add a row."""
        self._writer.writerow([cell(each) for each in cells])

    def getvalue(self) -> str:
        """The text so far."""
        return self._out.getvalue()


def _unmarked(text: str) -> str:
    """A cell as it was before `cell` marked it."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text) else text


def read_sheet(text: str, *, most: int = MOST_ROWS, columns: str = "") -> Sheet:
    """The sheet in a CSV text; refuses what is no text, torn, empty, or longer than `most` rows. `columns` tells an empty file's remedy their names."""
    cleaned = text.removeprefix("\ufeff")
    if "\x00" in cleaned:
        raise Refusal("This is no text file.", remedy="Save the sheet as CSV and bring that.")
    mark = max(",;\t", key=cleaned.lstrip().split("\n", 1)[0].count)
    filled = _filled(cleaned, mark)
    if not filled:
        raise Refusal(
            "The file is empty.", remedy=f"Its first line names the columns{columns and ': '}{columns}."
        )
    if len(filled) - 1 > most:
        raise Refusal(
            f"The file has {len(filled) - 1} rows; up to {most} are taken at once.",
            remedy="Split it into several.",
        )
    names = tuple(" ".join(name.lower().split()) for name in filled[0][1])
    if len(filled) == 1:
        raise Refusal("The file names its columns but holds no row.", where="line 2", remedy="Add a row.")
    _refuse_torn(cleaned, filled)
    empty = dict.fromkeys(names, "")
    rows = (
        Row(line, empty | dict(zip(names, (_unmarked(each.strip()) for each in cells), strict=False)))
        for line, cells in filled[1:]
    )
    return Sheet(names, tuple(rows), comma=mark != ",")


def _refuse_torn(text: str, filled: Sequence[tuple[int, list[str]]]) -> None:
    """Refuse rows with more cells than there are columns, and a last row that breaks off in its middle."""
    columns = len(filled[0][1])
    wide = [(line, cells) for line, cells in filled[1:] if len(cells) > columns]
    all_alike = len(wide) == len(filled) - 1
    faults = [
        Refusal(
            f"The line has {len(cells)} cells, but the first line names {columns} columns.",
            where=f"line {line}",
            remedy="Look for a comma too many: write a decimal with a point, and a text that holds a comma in quotation marks.",
        )
        for line, cells in wide
        if not all_alike or any(cell.strip() for cell in cells[columns:])
    ]
    line, last = filled[-1]
    full = [cells for _, cells in filled[1:-1] if len(cells) >= columns]
    if len(last) < columns and len(full) == len(filled) - 2 > 0 and not text.endswith(("\n", "\r")):
        faults.append(
            Refusal(
                f"The file breaks off after {len(last)} of {columns} cells.",
                where=f"line {line}",
                remedy="Save or send the whole file again. If nothing is missing, end its last line with Enter.",
            )
        )
    if faults:
        raise Refusals(faults)


def _filled(text: str, mark: str) -> list[tuple[int, list[str]]]:
    """The rows that hold something, each with the line it starts on."""
    reader = csv.reader(io.StringIO(text), delimiter=mark, strict=True)
    filled, start = [], 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                filled.append((start, row))
            start = reader.line_num + 1
    except csv.Error as error:
        raise Refusal(
            f"The file is torn: {error}.",
            where=f"line {start}",
            remedy="Look for a quotation mark that is not closed, or save it as CSV again.",
        ) from error
    return filled


def at_line(refusal: Refusal, line: int) -> Refusal:
    """The same refusal with its column's place in the file: "line 7, column width"."""
    column = f", column {refusal.where}" if refusal.where else ""
    return Refusal(refusal.what, where=f"line {line}{column}", remedy=refusal.remedy)


def read_each(rows: Sequence[Row], one: Callable[[Row], _T], *, unique: str = "") -> list[_T]:
    """`one` of every row, in order; where rows are refused, all those refusals together, each with its line.

    Rows that share a cell of the column `unique` are refused too, from the second on.
    """
    faults: list[Refusal] = []
    found: list[_T] = []
    first: dict[str, int] = {}
    for row in rows:
        try:
            found.append(one(row))
            earlier = first.setdefault(row.get(unique), row.line) if unique else row.line
            if earlier != row.line:
                raise Refusal(
                    f"{row.get(unique)} is on line {earlier} too.",
                    where=unique,
                    remedy="Give each its own.",
                )
        except Refusal as refusal:
            faults.append(at_line(refusal, row.line))
    if faults:
        raise Refusals(faults)
    return found
