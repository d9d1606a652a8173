"""Pieces from a CSV file and back.

Columns: key, name, group, shape, length, width, thickness, area, material, condition, sat_on, turned, strip, count, notes, colour, zones. Of these key, name,
shape, length and width must be there. A bare number in a dimension is in the file's unit (`unit` below) or in the one its heading names, such as
"length (cm)"; "18 in" or "45 cm" in a cell always work. `area` is the whole coated area taken off a template, in m² unless a unit stands with it.
`colour` names one of the job's colours, or says “not by us”; empty is the job's first. `zones` says in which zones it is coated one
after the other, as `hidewright.survey.zones` reads them; empty is in one go. `count` above 1 makes that many pieces marked key-1, key-2 …. Faults are named by line and column, all of them at once; nothing is half-imported.
"""

import re
from collections.abc import Sequence

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import Row, Sheet, SheetWriter, at_line, read_sheet
from hidewright.units import LENGTHS, read_area, read_length

from .piece import Piece, make_piece
from .zones import zones_as_text, zones_of_text

COLUMNS = (
    "key", "name", "group", "shape", "length", "width", "thickness", "area", "material", "condition", "sat_on", "turned", "strip", "count",
    "notes", "colour", "zones",
)  # fmt: skip
MUST = ("key", "name", "shape", "length", "width")
SIZES = ("length", "width", "thickness")
MOST_ROWS = 5000
YES, NO = {"yes", "y", "true", "1", "x"}, {"no", "n", "false", "0", ""}

_HEADING = re.compile(r"^(length|width|thickness)\s*[\s(\[_]\s*([a-z\"']+)\s*[)\]]?$")


def read_pieces(text: str, unit: str = "mm") -> tuple[Piece, ...]:
    """Pieces from a CSV text; raises `Refusals` with every fault, by line and column."""
    sheet, units = _in_units(read_sheet(text, most=MOST_ROWS, columns=", ".join(COLUMNS)), unit)
    sheet.expect(MUST, tuple(c for c in COLUMNS if c not in MUST))
    faults: list[tuple[int, Refusal]] = []
    found: list[tuple[int, Piece]] = []
    for row in sheet.rows:
        try:
            found += [(row.line, piece) for piece in _pieces(row, units, sheet.comma)]
        except Refusal as refusal:
            faults.append((row.line, at_line(refusal, row.line)))
    faults += _doubles(sheet.rows, found)
    if faults:
        raise Refusals(fault for _, fault in sorted(faults, key=lambda pair: pair[0]))
    return tuple(piece for _, piece in found)


def _in_units(sheet: Sheet, unit: str) -> tuple[Sheet, dict[str, str]]:
    """The sheet with plain names for its dimensions, and the unit of each: the one its heading names, else `unit`."""
    plain, units = {}, dict.fromkeys(SIZES, unit)
    for name in sheet.columns:
        with_unit = _HEADING.match(name)
        if with_unit and with_unit[2] in LENGTHS:
            plain[name] = with_unit[1]
            units[with_unit[1]] = with_unit[2]
    rows = (Row(r.line, {plain.get(c, c): v for c, v in r.cells.items()}) for r in sheet.rows)
    return Sheet(tuple(plain.get(c, c) for c in sheet.columns), tuple(rows), sheet.comma), units


def _number_text(row: Row, column: str, comma: bool) -> str:
    text = row.get(column)
    return text.replace(".", "").replace(",", ".") if comma and "," in text else text


def _dimension(row: Row, column: str, unit: str, comma: bool) -> float:
    text = _number_text(row, column, comma)
    if not text and column == "thickness":
        return 0.0
    try:
        return round(read_length(text, unit), 9)
    except Refusal as refusal:
        raise Refusal(refusal.what, where=column, remedy=refusal.remedy) from refusal


def _area(row: Row, comma: bool) -> float:
    text = _number_text(row, "area", comma)
    if not text:
        return 0.0
    try:
        return round(read_area(text, "m²"), 12)
    except Refusal as refusal:
        raise Refusal(refusal.what, where="area", remedy=refusal.remedy) from refusal


def _flag(row: Row, column: str) -> bool:
    text = row.get(column).lower()
    if text in YES:
        return True
    if text in NO:
        return False
    raise Refusal(f"“{text[:20]}” is neither yes nor no.", where=column, remedy="Write yes or no.")


def _count(row: Row) -> int:
    text = row.get("count") or "1"
    if not (text.isascii() and text.isdigit()) or not 1 <= int(text) <= 500:
        raise Refusal(
            f"“{text[:20]}” is not a count from 1 to 500.",
            where="count",
            remedy="Write how many there are, such as 4.",
        )
    return int(text)


def pieces_of_row(row: Row) -> list[Piece]:
    """The pieces of one row of plain cells: dimensions with their units, numbers with a point."""
    return _pieces(row, dict.fromkeys(SIZES, "m"), False)


def _pieces(row: Row, units: dict[str, str], comma: bool) -> list[Piece]:
    length, width, thickness = (_dimension(row, size, units[size], comma) for size in SIZES)
    piece = make_piece(
        key=row.get("key"),
        name=row.get("name"),
        group=row.get("group"),
        shape=row.get("shape"),
        length=length,
        width=width,
        thickness=thickness,
        material=row.get("material") or "leather",
        condition=row.get("condition") or "sound",
        sat_on=_flag(row, "sat_on"),
        turned=_flag(row, "turned"),
        strip=_flag(row, "strip") if row.get("strip") else None,
        notes=row.get("notes"),
        measured=_area(row, comma),
        colour=row.get("colour"),
        zones=zones_of_text(row.get("zones")),
    )
    count = _count(row)
    if count == 1:
        return [piece]
    return [piece.marked(f"{piece.key}-{n}", f"{piece.name} {n}") for n in range(1, count + 1)]


def _doubles(rows: Sequence[Row], found: Sequence[tuple[int, Piece]]) -> list[tuple[int, Refusal]]:
    """A mark that stands in the file twice, or that a counted row makes once more."""
    seen: dict[str, int] = {}
    faults: dict[int, Refusal] = {}
    written = [(row.line, row.get("key")) for row in rows if row.get("key")]
    for line, key in [*written, *((line, p.key) for line, p in found if (line, p.key) not in written)]:
        first = seen.setdefault(key.casefold(), line)
        if first != line and max(first, line) not in faults:
            faults[max(first, line)] = Refusal(
                f"The mark {key} is on line {min(first, line)} too.",
                where=f"line {max(first, line)}, column key",
                remedy="Give each its own mark; counted rows get -1, -2 … added to theirs.",
            )
    return list(faults.items())


def write_pieces(pieces: Sequence[Piece]) -> str:
    """The pieces as a CSV text that `read_pieces` takes back unchanged (dimensions in mm, measured areas in m²)."""
    writer = SheetWriter()
    writer.writerow([f"{column} (mm)" if column in SIZES else column for column in COLUMNS])
    for p in pieces:
        sizes = [f"{1000 * v:.12g}" if v else "" for v in (p.length, p.width, p.thickness)]
        flags = ["yes" if f else "no" for f in (p.sat_on, p.turned, p.strip)]
        area = f"{p.measured:.12g}" if p.measured else ""
        writer.writerow(
            [
                p.key,
                p.name,
                p.group,
                p.shape,
                *sizes,
                area,
                p.material,
                p.condition,
                *flags,
                1,
                p.notes,
                p.colour,
                zones_as_text(p.zones),
            ]
        )
    return writer.getvalue()
