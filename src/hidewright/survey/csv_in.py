"""Pieces from a CSV file and back.

Columns: key, name, group, shape, length, width, thickness, material, condition, sat_on, turned, strip, count, notes. Of these key, name,
shape, length and width must be there. A bare number in a dimension is in the file's unit (`unit` below); "18 in" or "45 cm" always work. `count` above 1
makes that many pieces marked key-1, key-2 …. Faults are named by line and column, all of them at once; nothing is half-imported.
"""

import csv
import io

from hidewright.refusals import Refusal, Refusals
from hidewright.units import read_length

from .piece import Piece, make_piece

COLUMNS = (
    "key", "name", "group", "shape", "length", "width", "thickness", "material", "condition", "sat_on", "turned", "strip", "count", "notes",
)  # fmt: skip
MUST = ("key", "name", "shape", "length", "width")
MOST_ROWS = 5000
YES, NO = {"yes", "y", "true", "1", "x"}, {"no", "n", "false", "0", ""}

Cells = dict[str, str]


def read_pieces(text: str, unit: str = "mm") -> tuple[Piece, ...]:
    """Pieces from a CSV text; raises `Refusals` with every fault, by line and column."""
    rows = _rows(text)
    faults: list[Refusal] = []
    pieces: list[Piece] = []
    for line, cells in rows:
        try:
            pieces += _pieces(cells, unit)
        except Refusal as refusal:
            column = f", column {refusal.where}" if refusal.where else ""
            faults.append(Refusal(refusal.what, where=f"line {line}{column}", remedy=refusal.remedy))
    faults += _doubles(rows, pieces)
    if faults:
        raise Refusals(faults)
    return tuple(pieces)


def _rows(text: str) -> list[tuple[int, Cells]]:
    cleaned = text.removeprefix("\ufeff")
    if "\x00" in cleaned:
        raise Refusal("This is no text file.", remedy="Save the sheet as CSV and bring that.")
    head = cleaned.lstrip().split("\n", 1)[0]
    mark = max(",;\t", key=head.count)
    try:
        table = list(csv.reader(io.StringIO(cleaned), delimiter=mark, strict=True))
    except csv.Error as error:
        raise Refusal(
            f"The file is torn: {error}.",
            remedy="Look for a quotation mark that is not closed, or save it as CSV again.",
        ) from error
    filled = [(n, row) for n, row in enumerate(table, start=1) if any(cell.strip() for cell in row)]
    if not filled:
        raise Refusal("The file is empty.", remedy=f"Its first line names the columns: {', '.join(COLUMNS)}.")
    columns = [cell.strip().lower() for cell in filled[0][1]]
    missing = [c for c in MUST if c not in columns]
    if missing:
        raise Refusal(
            f"The column{'s' if len(missing) > 1 else ''} {', '.join(missing)} cannot be found.",
            where="line 1",
            remedy=f"Name the columns {', '.join(COLUMNS)}; {', '.join(MUST)} must be there.",
        )
    strange = [c for c in columns if c and c not in COLUMNS]
    if strange:
        raise Refusal(
            f"The column {strange[0]} is not known here.",
            where="line 1",
            remedy=f"Known are {', '.join(COLUMNS)}.",
        )
    if len(filled) - 1 > MOST_ROWS:
        raise Refusal(
            f"The file has {len(filled) - 1} rows; up to {MOST_ROWS} are taken at once.",
            remedy="Split it into several.",
        )
    if len(filled) == 1:
        raise Refusal("The file names its columns but holds no piece.", remedy="Add a row for each piece.")
    return [(n, dict(zip(columns, (cell.strip() for cell in row), strict=False))) for n, row in filled[1:]]


def _dimension(cells: Cells, column: str, unit: str) -> float:
    text = cells.get(column, "")
    if not text and column == "thickness":
        return 0.0
    try:
        return read_length(text, unit)
    except Refusal as refusal:
        raise Refusal(refusal.what, where=column, remedy=refusal.remedy) from refusal


def _flag(cells: Cells, column: str) -> bool:
    text = cells.get(column, "").lower()
    if text in YES:
        return True
    if text in NO:
        return False
    raise Refusal(f"“{text[:20]}” is neither yes nor no.", where=column, remedy="Write yes or no.")


def _count(cells: Cells) -> int:
    text = cells.get("count", "") or "1"
    if not text.isdigit() or not 1 <= int(text) <= 500:
        raise Refusal(
            f"“{text[:20]}” is not a count from 1 to 500.",
            where="count",
            remedy="Write how many there are, such as 4.",
        )
    return int(text)


def _pieces(cells: Cells, unit: str) -> list[Piece]:
    piece = make_piece(
        key=cells["key"],
        name=cells["name"],
        group=cells.get("group", ""),
        shape=cells["shape"],
        length=_dimension(cells, "length", unit),
        width=_dimension(cells, "width", unit),
        thickness=_dimension(cells, "thickness", unit),
        material=cells.get("material", "") or "leather",
        condition=cells.get("condition", "") or "sound",
        sat_on=_flag(cells, "sat_on"),
        turned=_flag(cells, "turned"),
        strip=_flag(cells, "strip") if cells.get("strip", "") else None,
        notes=cells.get("notes", ""),
    )
    count = _count(cells)
    if count == 1:
        return [piece]
    return [piece.marked(f"{piece.key}-{n}", f"{piece.name} {n}") for n in range(1, count + 1)]


def _doubles(rows: list[tuple[int, Cells]], pieces: list[Piece]) -> list[Refusal]:
    seen: dict[str, int] = {}
    faults = []
    for line, cells in rows:
        key = cells.get("key", "")
        if key and key in seen:
            faults.append(
                Refusal(
                    f"The mark {key} stands on line {seen[key]} too.",
                    where=f"line {line}, column key",
                    remedy="Give each its own mark.",
                )
            )
        seen.setdefault(key, line)
    if not faults and len({p.key for p in pieces}) != len(pieces):
        faults.append(
            Refusal(
                "Two pieces end up with the same mark.",
                where="column key",
                remedy="Marks of counted rows get -1, -2 … added.",
            )
        )
    return faults


def write_pieces(pieces: tuple[Piece, ...]) -> str:
    """The pieces as a CSV text that `read_pieces` takes back unchanged (dimensions in mm)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for p in pieces:
        sizes = [f"{1000 * v:.6g}" if v else "" for v in (p.length, p.width, p.thickness)]
        flags = ["yes" if f else "no" for f in (p.sat_on, p.turned, p.strip)]
        writer.writerow(
            [p.key, p.name, p.group, p.shape, *sizes, p.material, p.condition, *flags, 1, p.notes]
        )
    return out.getvalue()
