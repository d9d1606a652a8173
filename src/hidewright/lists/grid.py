"""Grids: the cells of a list as they were written, out of a spreadsheet, a text file or a paste.

A number that a spreadsheet holds as a number stays one; everything else is text, so that no decimal mark is guessed where none was written.
"""

import csv
import io
from dataclasses import dataclass

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import SheetWriter, file_text

from .workbook import Page, is_workbook, pages_of

Cell = str | float
"""What stands in a cell: a text with no blanks at its ends (empty where nothing stands), or a number of a spreadsheet."""
LARGEST = 10 * 2**20
"""Bytes of a file, and letters of a paste."""
MOST_ROWS, MOST_COLUMNS, MOST_CELLS = 5000, 120, 200_000
LONGEST_CELL = 2000
"""Letters of one cell."""
MARKS = "\t;,|"


@dataclass(frozen=True, slots=True)
class Grid:
    """Rows of cells with the line each stands on (from 1, rising), all of the same width; `merged` are cells (line, column) filled from a merged one."""

    lines: tuple[int, ...]
    rows: tuple[tuple[Cell, ...], ...]
    merged: frozenset[tuple[int, int]] = frozenset()

    def __post_init__(self) -> None:
        width = len(self.rows[0]) if self.rows else 0
        if not self.rows or not width:
            raise Refusal("Nothing is written in this list.", remedy="Bring one with a row for each thing.")
        if len(self.rows) > MOST_ROWS or width > MOST_COLUMNS or width * len(self.rows) > MOST_CELLS:
            raise Refusal(
                f"The list has {len(self.rows)} rows and {width} columns; up to {MOST_ROWS} rows and {MOST_COLUMNS} columns are taken at once.",
                remedy="Split it into several.",
            )
        if len(self.lines) != len(self.rows) or any(len(row) != width for row in self.rows):
            raise ValueError("a grid is a rectangle with a line for each row")

    @property
    def width(self) -> int:
        """How many columns."""
        return len(self.rows[0])

    def column(self, at: int) -> tuple[Cell, ...]:
        """The cells of a column, from the top."""
        return tuple(row[at] for row in self.rows)


def written(cell: Cell) -> str:
    """A cell as a person reads it."""
    return cell if isinstance(cell, str) else f"{cell:.12g}"


def grid_of_file(data: bytes, sheet: str = "") -> Grid:
    """The grid in a file: xlsx, xlsb, xls or ods (the sheet of that name, else the first that holds a list), or CSV with any separator."""
    if len(data) > LARGEST:
        raise Refusal("The file is too large.", remedy=f"It may hold up to {LARGEST >> 20} MB.")
    if not is_workbook(data):
        return grid_of_text(file_text(data))
    pages = [page for page in pages_of(data) if any(any(cell != "" for cell in row) for row in page.rows)]
    if not pages:
        raise Refusal("This spreadsheet is empty.", remedy="Bring one with a row for each thing.")
    named = [page for page in pages if page.name == sheet]
    return _of_page((named or sorted(pages, key=lambda page: len(page.rows) < 2))[0])


def text_of_file(data: bytes) -> str:
    """The text of a file of rows: what stands in a text file, or the list of a spreadsheet as CSV, for readers of text."""
    if not is_workbook(data):
        return file_text(data)
    writer = SheetWriter()
    for row in grid_of_file(data).rows:
        writer.writerow([written(cell) for cell in row])
    return writer.getvalue()


def _of_page(page: Page) -> Grid:
    rows = [list(row) for row in page.rows]
    filled = set()
    for (top, left), (bottom, right) in page.merged:
        if top >= len(rows) or left >= len(rows[top]):
            continue
        for line in range(top, min(bottom, len(rows) - 1) + 1):
            for column in range(left, min(right, len(rows[line]) - 1) + 1):
                if (line, column) != (top, left) and rows[line][column] == "":
                    rows[line][column] = rows[top][left]
                    filled.add((page.first + line, column))
    return _rectangle([(page.first + n, row) for n, row in enumerate(rows)], frozenset(filled))


def grid_of_text(text: str) -> Grid:
    """The grid in a CSV or TSV text or a paste: tab, semicolon, comma or stroke part the cells, whichever gives rows of the same width."""
    cleaned = text.removeprefix("\ufeff")
    if len(cleaned) > LARGEST:
        raise Refusal("The text is too long.", remedy="Split it into several lists.")
    if "\x00" in cleaned:
        raise Refusal(
            "This is no list that can be read.",
            remedy="Bring a spreadsheet (xlsx, ods, xls) or save it as CSV.",
        )
    mark = _mark_of(cleaned)
    parted = _parted(cleaned, mark)
    if mark != "\t":
        _refuse_uneven(parted, torn=not cleaned.endswith(("\n", "\r")))
    return _rectangle(parted)


def _refuse_uneven(rows: list[tuple[int, list[Cell]]], *, torn: bool) -> None:
    """Refuse rows with more cells than the others, headings with fewer, and a last row that breaks off: a decimal comma or a torn file would shift cells."""
    filled = [(line, cells) for line, cells in rows if any(str(cell).strip() for cell in cells)]
    if len(filled) < 2:
        return
    heads = [(line, cells) for line, cells in filled if sum(bool(str(c).strip()) for c in cells) > 1]
    line, first = heads[0] if heads else filled[0]
    wide = [
        (at, cells)
        for at, cells in filled
        if any(str(cell).strip() for cell in cells[len(first) :]) and at > line
    ]
    faults = [
        Refusal(
            f"The line has {len(cells)} cells, but line {line} has {len(first)}.",
            where=f"line {at}",
            remedy="Look for a comma too many: write a decimal with a point, put a text that holds a comma in quotation marks, or bring the spreadsheet itself.",
        )
        for at, cells in wide
    ]
    end, last = filled[-1]
    if (
        torn
        and len(last) < len(first)
        and all(len(cells) >= len(first) for at, cells in filled[:-1] if at >= line)
    ):
        faults.append(
            Refusal(
                f"The text breaks off after {len(last)} of {len(first)} cells.",
                where=f"line {end}",
                remedy="Save or send the whole list again. If nothing is missing, end its last line with Enter.",
            )
        )
    if faults:
        raise Refusals(faults)


def _mark_of(text: str) -> str:
    """The separator whose first rows agree best on how many cells they have; a tab wins where there is one."""
    head = [line for line in text.splitlines()[:200] if line.strip()][:30]
    best, most = ",", 0.0
    for mark in MARKS:
        widths = [len(row) for row in csv.reader(io.StringIO("\n".join(head)), delimiter=mark) if row]
        usual = max(set(widths), key=widths.count) if widths else 1
        agreed = widths.count(usual) / len(widths) if widths and usual > 1 else 0.0
        score = agreed + (0.3 if mark == "\t" and usual > 1 else 0.1 if mark == ";" and usual > 1 else 0.0)
        if score > most + 1e-9:
            best, most = mark, score
    return best


def _parted(text: str, mark: str) -> list[tuple[int, list[Cell]]]:
    reader = csv.reader(io.StringIO(text), delimiter=mark, strict=True)
    found: list[tuple[int, list[Cell]]] = []
    start = 1
    try:
        for row in reader:
            found.append((start, [*row]))
            start = reader.line_num + 1
            if len(found) > 2 * MOST_ROWS:
                break
    except csv.Error as error:
        raise Refusal(
            f"The text is torn: {error}.",
            where=f"line {start}",
            remedy="Look for a quotation mark that is not closed, or bring the spreadsheet itself.",
        ) from error
    return found


def _rectangle(rows: list[tuple[int, list[Cell]]], merged: frozenset[tuple[int, int]] = frozenset()) -> Grid:
    """Rows that hold something, blanks at the ends of cells taken off, all as wide as the widest; columns that hold nothing at the right are left out."""
    cleaned = [(line, [_cleaned(cell, line) for cell in cells]) for line, cells in rows]
    filled = [(line, cells) for line, cells in cleaned if any(cell != "" for cell in cells)]
    width = max((max(n + 1 for n, cell in enumerate(cells) if cell != "") for _, cells in filled), default=0)
    even = [(line, tuple((cells + [""] * width)[:width])) for line, cells in filled]
    return Grid(tuple(line for line, _ in even), tuple(cells for _, cells in even), merged)


def _cleaned(cell: Cell, line: int) -> Cell:
    if not isinstance(cell, str):
        return cell
    text = " ".join(cell.replace("\u00a0", " ").replace("\u202f", " ").split())
    if len(text) > LONGEST_CELL:
        raise Refusal(
            f"A cell holds {len(text)} letters; up to {LONGEST_CELL} are taken.", where=f"line {line}"
        )
    return text[1:] if text.startswith("'") and text[1:2] in ("=", "+", "-", "@") else text
