"""Pieces from a CSV file and back.

Columns: key, name, group, shape, length, width, thickness, area, material, condition, sat_on, turned, strip, count, notes. Of these key, name,
shape, length and width must be there. A bare number in a dimension is in the file's unit (`unit` below) or in the one its heading names, such as
"length (cm)"; "18 in" or "45 cm" in a cell always work. `area` is the whole coated area taken off a template, in m² unless a unit stands with it.
`count` above 1 makes that many pieces marked key-1, key-2 …. Faults are named by line and column, all of them at once; nothing is half-imported.
"""

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from hidewright.refusals import Refusal, Refusals
from hidewright.units import LENGTHS, read_area, read_length

from .piece import Piece, make_piece

COLUMNS = (
    "key", "name", "group", "shape", "length", "width", "thickness", "area", "material", "condition", "sat_on", "turned", "strip", "count",
    "notes",
)  # fmt: skip
MUST = ("key", "name", "shape", "length", "width")
SIZES = ("length", "width", "thickness")
MOST_ROWS = 5000
YES, NO = {"yes", "y", "true", "1", "x"}, {"no", "n", "false", "0", ""}

_HEADING = re.compile(r"^(length|width|thickness)\s*[\s(\[_]\s*([a-z\"']+)\s*[)\]]?$")


@dataclass(frozen=True, slots=True)
class _Sheet:
    """The rows of a file, each with the line it starts on; `units` of the dimensions; `comma`: the comma is the decimal mark."""

    rows: list[tuple[int, dict[str, str]]]
    units: dict[str, str] = field(default_factory=dict)
    comma: bool = False


def file_text(data: bytes) -> str:
    """The text of a file as spreadsheets save it: UTF-8 with or without a mark, UTF-16 with one, else Windows-1252."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def read_pieces(text: str, unit: str = "mm") -> tuple[Piece, ...]:
    """Pieces from a CSV text; raises `Refusals` with every fault, by line and column."""
    sheet = _sheet(text, unit)
    faults: list[tuple[int, Refusal]] = []
    found: list[tuple[int, Piece]] = []
    for line, cells in sheet.rows:
        try:
            found += [(line, piece) for piece in _pieces(cells, sheet)]
        except Refusal as refusal:
            column = f", column {refusal.where}" if refusal.where else ""
            faults.append((line, Refusal(refusal.what, where=f"line {line}{column}", remedy=refusal.remedy)))
    faults += _doubles(sheet.rows, found)
    if faults:
        raise Refusals(fault for _, fault in sorted(faults, key=lambda pair: pair[0]))
    return tuple(piece for _, piece in found)


def _sheet(text: str, unit: str) -> _Sheet:
    cleaned = text.removeprefix("\ufeff")
    if "\x00" in cleaned:
        raise Refusal("This is no text file.", remedy="Save the sheet as CSV and bring that.")
    head = cleaned.lstrip().split("\n", 1)[0]
    mark = max(",;\t", key=head.count)
    filled = _filled(cleaned, mark)
    if not filled:
        raise Refusal("The file is empty.", remedy=f"Its first line names the columns: {', '.join(COLUMNS)}.")
    columns, units = _columns(filled[0][1], unit)
    if len(filled) - 1 > MOST_ROWS:
        raise Refusal(
            f"The file has {len(filled) - 1} rows; up to {MOST_ROWS} are taken at once.",
            remedy="Split it into several.",
        )
    if len(filled) == 1:
        raise Refusal("The file names its columns but holds no piece.", remedy="Add a row for each piece.")
    rows = [
        (n, {**dict.fromkeys(columns, ""), **dict(zip(columns, (c.strip() for c in row), strict=False))})
        for n, row in filled[1:]
    ]
    return _Sheet(rows, units, comma=mark != ",")


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


def _columns(names: Sequence[str], unit: str) -> tuple[list[str], dict[str, str]]:
    columns, units = [], dict.fromkeys(SIZES, unit)
    for name in names:
        plain = " ".join(name.strip().lower().split())
        with_unit = _HEADING.match(plain)
        if with_unit and with_unit[2] in LENGTHS:
            plain = with_unit[1]
            units[plain] = with_unit[2]
        columns.append(plain)
    missing = [c for c in MUST if c not in columns]
    if missing:
        raise Refusal(
            f"The column{'s' if len(missing) > 1 else ''} {', '.join(missing)} cannot be found.",
            where="line 1",
            remedy=f"Name the columns {', '.join(COLUMNS)}; {', '.join(MUST)} must be there.",
        )
    for n, column in enumerate(columns):
        if column and (column not in COLUMNS or column in columns[:n]):
            raise Refusal(
                f"The column {column} {'stands there twice' if column in columns[:n] else 'is not known here'}.",
                where="line 1",
                remedy=f"Known are {', '.join(COLUMNS)}.",
            )
    return columns, units


def _number_text(cells: dict[str, str], column: str, sheet: _Sheet) -> str:
    text = cells.get(column, "")
    return text.replace(".", "").replace(",", ".") if sheet.comma and "," in text else text


def _dimension(cells: dict[str, str], column: str, sheet: _Sheet) -> float:
    text = _number_text(cells, column, sheet)
    if not text and column == "thickness":
        return 0.0
    try:
        return round(read_length(text, sheet.units[column]), 9)
    except Refusal as refusal:
        raise Refusal(refusal.what, where=column, remedy=refusal.remedy) from refusal


def _area(cells: dict[str, str], sheet: _Sheet) -> float:
    text = _number_text(cells, "area", sheet)
    if not text:
        return 0.0
    try:
        return round(read_area(text, "m²"), 12)
    except Refusal as refusal:
        raise Refusal(refusal.what, where="area", remedy=refusal.remedy) from refusal


def _flag(cells: dict[str, str], column: str) -> bool:
    text = cells.get(column, "").lower()
    if text in YES:
        return True
    if text in NO:
        return False
    raise Refusal(f"“{text[:20]}” is neither yes nor no.", where=column, remedy="Write yes or no.")


def _count(cells: dict[str, str]) -> int:
    text = cells.get("count", "") or "1"
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 500:
        raise Refusal(
            f"“{text[:20]}” is not a count from 1 to 500.",
            where="count",
            remedy="Write how many there are, such as 4.",
        )
    return int(text)


def _pieces(cells: dict[str, str], sheet: _Sheet) -> list[Piece]:
    piece = make_piece(
        key=cells["key"],
        name=cells["name"],
        group=cells.get("group", ""),
        shape=cells["shape"],
        length=_dimension(cells, "length", sheet),
        width=_dimension(cells, "width", sheet),
        thickness=_dimension(cells, "thickness", sheet),
        material=cells.get("material", "") or "leather",
        condition=cells.get("condition", "") or "sound",
        sat_on=_flag(cells, "sat_on"),
        turned=_flag(cells, "turned"),
        strip=_flag(cells, "strip") if cells.get("strip", "") else None,
        notes=cells.get("notes", ""),
        measured=_area(cells, sheet),
    )
    count = _count(cells)
    if count == 1:
        return [piece]
    return [piece.marked(f"{piece.key}-{n}", f"{piece.name} {n}") for n in range(1, count + 1)]


def _doubles(
    rows: Sequence[tuple[int, dict[str, str]]], found: Sequence[tuple[int, Piece]]
) -> list[tuple[int, Refusal]]:
    """A mark that stands in the file twice, or that a counted row makes once more."""
    seen: dict[str, int] = {}
    faults: dict[int, Refusal] = {}
    written = [(line, cells["key"].strip()) for line, cells in rows if cells["key"].strip()]
    for line, key in [*written, *((line, p.key) for line, p in found if (line, p.key) not in written)]:
        first = seen.setdefault(key.casefold(), line)
        if first != line and max(first, line) not in faults:
            faults[max(first, line)] = Refusal(
                f"The mark {key} stands on line {min(first, line)} too.",
                where=f"line {max(first, line)}, column key",
                remedy="Give each its own mark; counted rows get -1, -2 … added to theirs.",
            )
    return list(faults.items())


def write_pieces(pieces: Sequence[Piece]) -> str:
    """The pieces as a CSV text that `read_pieces` takes back unchanged (dimensions in mm, measured areas in m²)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for p in pieces:
        sizes = [f"{1000 * v:.12g}" if v else "" for v in (p.length, p.width, p.thickness)]
        flags = ["yes" if f else "no" for f in (p.sat_on, p.turned, p.strip)]
        area = f"{p.measured:.12g}" if p.measured else ""
        writer.writerow(
            [p.key, p.name, p.group, p.shape, *sizes, area, p.material, p.condition, *flags, 1, p.notes]
        )
    return out.getvalue()
