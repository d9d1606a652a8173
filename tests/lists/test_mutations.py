"""Five hundred seeded mutations of the foreign lists: whatever is taken is what a reader of its own finds in the cells; else it is a fault.

The oracle below shares nothing with the code: it knows a number, a decimal mark, a fraction and a unit, and gives nothing where a text can be read in two ways.
"""

import random
import re
from collections.abc import Callable

import pytest

from hidewright.lists.draft import draft_of
from hidewright.lists.grid import Cell, Grid, grid_of_file, grid_of_text
from hidewright.survey.pieces_in import PIECES
from lists.foreign import MERGED_ROWS, MERGED_SPANS, OWN, PASTE, TABBED, xlsx
from lists.test_foreign_lists import agreed

METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, '"': 0.0254, "ft": 0.3048, "'": 0.3048}
SIZES = ("length", "width", "thickness")
EACH = 125
ODD = (
    "", "0", "-3", "1,234", "1.234", "12,345", "56,5", "56.5", "0,450", "5 6", "56 20", "1 234", "56 cm", "22 in", "2 ft", "0,45 m", "560 mm", "56 inn", "~56", "56-58", "5O", "l2",
    "1.234,5", "1,234.5", "56 x 20", "1e3", "½", "5½", "NaN", "inf", "#REF!", "56?", "56cm", "22\"", "2'", "2' 6", "1/2", "7 1/2", "3 3/4 in", "twelve", "56 kg", "1..2", "56,", ",5", "12:30",
)  # fmt: skip


def allowed(cell: Cell, unit: str, mark: str) -> set[float]:
    """The lengths in m that a cell can mean; empty where it must be a fault. `mark`: the decimal mark that the rest of the list shows."""
    if isinstance(cell, float):
        return {cell * METRES[unit]} if cell else {0.0}
    text = cell.strip()
    if not text:
        return {0.0}
    feet = re.fullmatch(r"(\d+) ?(?:'|ft) ?(\d+)", text)
    if feet:
        return {int(feet[1]) * 0.3048 + int(feet[2]) * 0.0254}
    found = re.fullmatch(r"([\d.,/½ ]*[\d½])\s*(mm|cm|m|in|ft|\"|')?", text)
    if not found:
        return set()
    value = _value(found[1], mark)
    return set() if value is None else {value * METRES[found[2] or unit]}


def _value(text: str, mark: str) -> float | None:
    if re.fullmatch(r"\d+", text):
        return float(text)
    part = re.fullmatch(r"(?:(\d+) )?(\d+)/(\d+)", text.replace("½", " 1/2").strip())
    if part:
        return int(part[1] or 0) + int(part[2]) / int(part[3])
    decimal = re.fullmatch(r"(\d*)([.,])(\d+)", text)
    if decimal:
        thousands = len(decimal[3]) == 3 and 1 <= len(decimal[1]) <= 3 and not decimal[1].startswith("0")
        return None if thousands and decimal[2] != mark else float(f"{decimal[1] or 0}.{decimal[3]}")
    both = re.fullmatch(r"(\d{1,3})([.,])(\d{3})([.,])(\d+)", text)
    return float(f"{both[1]}{both[3]}.{both[5]}") if both and both[2] != both[4] else None


def _typo(text: str, dice: random.Random) -> str:
    at = dice.randrange(len(text) + 1)
    sign = dice.choice("0123456789.,; xo-/'\"")
    return dice.choice(
        [text[:at] + sign + text[at:], text[:at] + text[at + 1 :], text[:at] + sign + text[at + 1 :]]
    )


def _mutated(grid: Grid, above: int, dice: random.Random) -> Grid:
    """The list with up to three cells changed, and perhaps its columns shuffled, a row doubled, or a row of nothing put in."""
    rows = [list(row) for row in grid.rows]
    for _ in range(dice.randrange(1, 4)):
        row = rows[dice.randrange(above, len(rows))]
        at = dice.randrange(len(row))
        row[at] = dice.choice(ODD) if dice.random() < 0.6 else _typo(str(row[at]), dice).strip()
    if dice.random() < 0.3:
        order = dice.sample(range(grid.width), grid.width)
        rows = [[row[at] for at in order] for row in rows] if above and not grid.merged else rows
    if dice.random() < 0.2:
        rows.append(list(dice.choice(rows[above:])))
    rows = [row for row in rows if any(cell != "" for cell in row)]
    return Grid(tuple(range(1, len(rows) + 1)), tuple(tuple(row) for row in rows))


BASES: dict[str, tuple[Callable[[], Grid], int, bool, str]] = {
    "own": (lambda: grid_of_text(OWN), 2, True, ""),
    "tabbed": (lambda: grid_of_text(TABBED), 1, False, ","),
    "paste": (lambda: grid_of_text(PASTE), 0, False, ""),
    "merged": (lambda: grid_of_file(xlsx(MERGED_ROWS, MERGED_SPANS)), 3, True, "."),
}
"""The list, its rows above the first piece, whether the shop works in inches, and the decimal mark that it shows."""


@pytest.mark.parametrize("name", BASES)
def test_no_number_is_taken_that_the_cells_do_not_say(name: str) -> None:
    make, above, us, _ = BASES[name]
    whole, taken, refused = make(), 0, 0
    for seed in range(EACH):
        grid = _mutated(whole, above, random.Random(f"{name} {seed}"))
        first = draft_of(PIECES, grid, us=us)
        draft = draft_of(PIECES, grid, agreed(first, wing="shell", lee_board="panel"), us=us)
        refused += not draft.ready
        columns = {c.meaning: c for c in draft.columns if c.meaning in SIZES}
        for line in draft.lines:
            for piece in line.values:
                taken += 1
                row = grid.rows[grid.lines.index(line.line)]
                for size, column in columns.items():
                    said = allowed(row[column.at], column.unit, draft.style.mark)
                    shown = getattr(piece, size)
                    assert any(abs(shown - each) < 1e-6 for each in said), (
                        f"{name} {seed}: line {line.line}, {size} {row[column.at]!r} in {column.unit} became {shown} m"
                    )
                    assert abs(float(line.plain[size].removesuffix(" m") or 0) - shown) < 1e-8, (
                        "what is shown is what is stored"
                    )
    assert taken > EACH, "most rows come through"
    assert refused > EACH / 3, "and most mutations are seen"
