"""Surfaces with marks on them: the same tints and marks as the patterns of `ink`, drawn stroke by stroke.

A printer's file repeats an SVG pattern's tile over the whole picture for each surface that it fills: a plan of a few weeks grew beyond half a gigabyte. Strokes cost a few bytes each.
"""

from collections.abc import Callable, Iterator
from math import ceil
from typing import Final

from hidewright.charts import ink

TILE: Final = 6.0
"""Distance of the marks in picture units."""


def patterned(x: float, y: float, width: float, height: float, name: str, **attributes: object) -> str:
    """A rectangle with the tint and the marks of the pattern `name`; the marks stay within it."""
    tint, _ = ink.PATTERNS[name]
    box = ink.rect(x, y, width, height, tint, **attributes)
    if name not in _MARKS:
        return box
    marks, colour, thick, cap = _MARKS[name]
    drawn = "".join(marks(x + 0.5, y + 0.5, max(width - 1, 0), max(height - 1, 0)))
    if not drawn:
        return box
    ends = f' stroke-linecap="{cap}"' if cap else ""
    return f'{box}<path d="{drawn}" fill="none" stroke="{colour}" stroke-width="{ink.number(thick)}"{ends}/>'


def _rising(x: float, y: float, width: float, height: float) -> Iterator[str]:
    """Strokes from bottom left to top right."""
    for offset, start, end in _slanted(width, height):
        rise = end - start
        yield f"M{_short(x + offset + start)},{_short(y + height - start)}l{_short(rise)},{_short(-rise)}"


def _falling(x: float, y: float, width: float, height: float) -> Iterator[str]:
    """Strokes from top left to bottom right."""
    for offset, start, end in _slanted(width, height):
        fall = end - start
        yield f"M{_short(x + offset + start)},{_short(y + start)}l{_short(fall)},{_short(fall)}"


def _slanted(width: float, height: float) -> Iterator[tuple[float, float, float]]:
    """(offset, start, end) of strokes at 45°, one each `TILE`, cut off where the surface ends."""
    for number in range(-int(height // TILE), ceil(width / TILE)):
        offset = TILE * number + TILE / 2
        start, end = max(0.0, -offset), min(height, width - offset)
        if end - start > 0.2:
            yield offset, start, end


def _crossed(x: float, y: float, width: float, height: float) -> Iterator[str]:
    yield from _rising(x, y, width, height)
    yield from _falling(x, y, width, height)


def _dotted(x: float, y: float, width: float, height: float) -> Iterator[str]:
    """Rows of dots, every other row set off."""
    rows = int((height - 2) // (TILE / 2)) + 1 if height >= 2 else 0
    for row in range(rows):
        first = 1.5 + (TILE / 2 if row % 2 else 0)
        count = int((width - 1 - first) // TILE) + 1 if width - 1 >= first else 0
        if count:
            more = "m6,0h.01" * (count - 1)
            yield f"M{_short(x + first)},{_short(y + 1 + row * TILE / 2)}h.01{more}"


def _ruled(x: float, y: float, width: float, height: float) -> Iterator[str]:
    for row in range(int((height + TILE / 2) // TILE)):
        yield f"M{_short(x)},{_short(y + TILE / 2 + row * TILE)}h{_short(width)}"


def _short(value: float) -> str:
    """A coordinate with one decimal at most."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


_MARKS: Final[dict[str, tuple[Callable[[float, float, float, float], Iterator[str]], str, float, str]]] = {
    "hatch": (_rising, "#1d5a8c", 1, ""),
    "dots": (_dotted, "#3c6e3a", 1.8, "round"),
    "rules": (_ruled, "#6b4a7a", 0.9, ""),
    "cross": (_crossed, "#8c3b1d", 0.7, ""),
    "night": (_falling, "#aab2bb", 0.8, ""),
}
"""Pattern → (its marks, their colour, thickness and ends); what is missing has a tint only."""
