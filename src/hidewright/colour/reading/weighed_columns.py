"""Lists with a column of weights for each thing, such as “PW6 (g)”, “PBk7 (g)”, “Base (g)”, brought to one column that says what is in the mix.

Only columns that are headed by a Colour Index name are taken so, with those of the base and of water beside them: under any other word a weight may be that of a cup.
"""

import re

from hidewright.lists.cells import folded
from hidewright.lists.grid import Cell, Grid, written

HEADING = "What is in it"
MOST_ABOVE = 15
_UNIT = r"(g|grams?|kg|oz)"
_HEAD = re.compile(rf"(.+?)[\s,_]*[(\[]?\s*{_UNIT}\s*[)\]]?", re.IGNORECASE)
_INDEX = re.compile(r"p(?:w|y|o|r|v|b|g|br|bk|bl|m)\d{1,3}(?::\d)?", re.IGNORECASE)
_BESIDE = {"base": "base", "clear base": "base", "binder": "base", "medium": "base", "bindemittel": "base", "water": "water", "wasser": "water"}  # fmt: skip


def _thing(cell: Cell) -> tuple[str, str] | None:
    """The key of a thing and the unit of its weights, where a heading names both."""
    match = _HEAD.fullmatch(written(cell).strip())
    if match is None:
        return None
    name = match[1].strip()
    if _INDEX.fullmatch(name.replace(" ", "")):
        return name.replace(" ", ""), match[2].lower()
    beside = _BESIDE.get(folded(name))
    return (beside, match[2].lower()) if beside else None


def one_mix(grid: Grid) -> Grid:
    """The list with one column of mixes in place of a column for each thing; any other list as it is."""
    heads = [
        {column: thing for column, cell in enumerate(row) if (thing := _thing(cell))}
        for row in grid.rows[:MOST_ABOVE]
    ]
    at = next((n for n, head in enumerate(heads) if any(map(_INDEX.fullmatch, dict(head.values())))), None)
    if at is None:
        return grid
    things = heads[at]
    others = [column for column in range(grid.width) if column not in things]
    rows = [
        (*(row[column] for column in others), _said(n, at, row, things)) for n, row in enumerate(grid.rows)
    ]
    return Grid(grid.lines, tuple(rows))


def _said(n: int, head: int, row: tuple[Cell, ...], things: dict[int, tuple[str, str]]) -> Cell:
    """What the new column has in one row."""
    if n == head:
        return HEADING
    if n < head:
        return ""
    parts = []
    for column, (key, unit) in things.items():
        text = written(row[column]).strip()
        if text and not re.fullmatch(r"0*(?:[.,]0*)?|-|–", text):
            parts.append(f"{key} {text}" if re.search(r"[^\d.,\s]", text) else f"{key} {text} {unit}")
    return "; ".join(parts)
