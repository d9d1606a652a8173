"""Spreadsheets that people bring, read in a process of its own that may take only so much memory and time.

What a spreadsheet costs to read is not said by the bytes of its file: one small file can name a cell a million rows down, or unpack to
gigabytes. A child process reads it, behind limits of the system, and gives back plain cells.
"""

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from io import BytesIO
from pathlib import Path
from zipfile import BadZipFile, ZipFile

from hidewright.machine import limit
from hidewright.refusals import Refusal

MEMORY = 700 * 2**20
"""Bytes that the child may take."""
SECONDS = 15
"""Seconds of computing that the child may take; the parent waits a little longer."""
WAIT = 60.0
MOST_UNPACKED = 150 * 2**20
"""Bytes that a packed file may unpack to."""
MOST_PAGES, MOST_ROWS, MOST_COLUMNS = 20, 6000, 150
"""What is read of a file; a list that is longer is refused when it is looked at."""
TOO_MUCH, UNREADABLE, LOCKED = 3, 4, 5
"""How the child ends where it refuses."""
Span = tuple[tuple[int, int], tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Page:
    """One sheet: its name, its rows from line `first` (from 1) on, and the spans of merged cells as ((top, left), (bottom, right)), counted from its first cell."""

    name: str
    first: int
    rows: tuple[tuple[str | float, ...], ...]
    merged: tuple[Span, ...] = ()


def is_workbook(data: bytes) -> bool:
    """Whether the file is packed as spreadsheets are: a zip (xlsx, xlsb, ods) or the older binary form (xls)."""
    return data[:4] == b"PK\x03\x04" or data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def pages_of(data: bytes) -> tuple[Page, ...]:
    """The visible sheets of a spreadsheet; refuses what is none, what is locked, and what costs too much to read."""
    path = os.pathsep.join(
        filter(None, (str(Path(__file__).resolve().parents[2]), os.environ.get("PYTHONPATH")))
    )
    try:
        done = subprocess.run(
            [sys.executable, "-m", "hidewright.lists.workbook"],
            input=data,
            capture_output=True,
            check=False,
            timeout=WAIT,
            env={**os.environ, "PYTHONPATH": path},
        )
    except subprocess.TimeoutExpired:
        raise Refusal(
            "This spreadsheet takes too long to read.", remedy="Save its list as CSV and bring that."
        ) from None
    if done.returncode == LOCKED:
        raise Refusal("This spreadsheet is locked by a password.", remedy="Save it without one.")
    if done.returncode == UNREADABLE:
        raise Refusal(
            "This file is no spreadsheet that can be read.", remedy="Save it again as xlsx, ods or CSV."
        )
    if done.returncode:
        raise Refusal(
            "This spreadsheet is too large to read.",
            remedy="Copy the rows of the list into a new one, or save it as CSV.",
        )
    return tuple(
        Page(
            page["name"],
            page["first"],
            tuple(tuple(row) for row in page["rows"]),
            tuple(((a, b), (c, d)) for a, b, c, d in page["merged"]),
        )
        for page in json.loads(done.stdout)
    )


def _plain(cell: object) -> str | float:
    """A cell as text or number: days as 2026-03-02, times as 7:30, a span of time in minutes, yes and no."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, int | float):
        return float(cell)
    if isinstance(cell, datetime):
        at_midnight = cell.time() == time(0)
        return cell.date().isoformat() if at_midnight else cell.isoformat(" ", "minutes")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, time):
        return f"{cell:%H:%M}"
    if isinstance(cell, timedelta):
        return f"{cell.total_seconds() / 60:.6g} min"
    return str(cell)


def _refused(data: bytes) -> int:
    """How the child ends for a packed file that is none, or that unpacks to too much; 0 for others."""
    if data[:2] != b"PK":
        return 0
    try:
        with ZipFile(BytesIO(data)) as packed:
            unpacked = sum(each.file_size for each in packed.infolist())
    except (BadZipFile, OSError, ValueError):
        return UNREADABLE
    return TOO_MUCH if unpacked > MOST_UNPACKED else 0


def main() -> int:
    """The child: a file from standard input, its sheets as JSON to standard output."""
    limit(memory=MEMORY, seconds=SECONDS)
    data = sys.stdin.buffer.read()
    refused = _refused(data)
    if refused:
        return refused
    import python_calamine as calamine

    try:
        book = calamine.load_workbook(BytesIO(data))
        shown = [
            facts.name
            for facts in book.sheets_metadata
            if facts.visible == calamine.SheetVisibleEnum.Visible
            and facts.typ == calamine.SheetTypeEnum.WorkSheet
        ]
        told = []
        for name in shown[:MOST_PAGES]:
            sheet = book.get_sheet_by_name(name)
            top, left = sheet.start or (0, 0)
            rows = [[_plain(cell) for cell in row[:MOST_COLUMNS]] for row in sheet.to_python(nrows=MOST_ROWS)]
            spans = sheet.merged_cell_ranges or []
            merged = [[a - top, b - left, c - top, d - left] for (a, b), (c, d) in spans[:5000]]
            told.append(
                {
                    "name": name,
                    "first": top + 1,
                    "rows": rows,
                    "merged": [m for m in merged if min(m) >= 0],
                }
            )
    except calamine.PasswordError:
        return LOCKED
    except MemoryError:
        return TOO_MUCH
    # The library wraps whatever is wrong inside a file in errors of several kinds.
    except (calamine.CalamineError, OSError, ValueError, OverflowError):
        return UNREADABLE
    sys.stdout.write(json.dumps(told))
    return 0


if __name__ == "__main__":
    sys.exit(main())
