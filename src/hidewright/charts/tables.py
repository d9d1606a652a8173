"""The shop's tables seen from above at one moment, drawn to scale, with the parts that lie on them.

A long table is drawn as several strips, one below the other, like a ruler that goes on; a part across a
strip's end is drawn on both. Each state has its own pattern and tint, and every part carries a code.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import ceil
from typing import Final, Literal

from hidewright.charts import ink
from hidewright.charts.hatching import patterned
from hidewright.refusals import Refusal
from hidewright.units import counted

STATES: Final = {
    "waiting": ("plain", "waiting"),
    "handling": ("solid", "being worked on"),
    "wet": ("hatch", "wet: do not touch"),
    "curing": ("dots", "drying or curing"),
    "dry": ("rules", "dry"),
}
"""State → (pattern, words)."""

_FOOT: Final = 0.3048

SIZES: Final = (11.0, 10.0, 8.5)
"""Sizes of a part's mark, the larger where it fits whole: px on a phone, about 0.7 of it pt on paper."""
NOTE: Final = 10.0


@dataclass(frozen=True)
class TableTop:
    """A table: lengths in m."""

    name: str
    length_m: float
    depth_m: float

    def __post_init__(self) -> None:
        if not (0 < self.length_m <= 60 and 0 < self.depth_m <= 10):
            raise Refusal(
                "A table is up to 60 m long and 10 m deep.",
                where=self.name,
                remedy="Give its size in metres.",
            )


@dataclass(frozen=True)
class PartLying:
    """A part on a table: its stretch from the left end, its size, its code and its state."""

    table: str
    start_m: float
    length_m: float
    depth_m: float
    code: str
    state: str
    note: str = ""

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise Refusal(
                f"“{self.state}” is no state of a part.", where=self.code, remedy=f"Use {', '.join(STATES)}."
            )
        if self.start_m < -1e-6 or self.length_m <= 0 or self.depth_m <= 0:
            raise Refusal("The stretch on the table is not a stretch.", where=self.code)


def tables_from_above(
    tables: Sequence[TableTop],
    parts: Sequence[PartLying],
    *,
    title: str = "",
    unit: Literal["m", "ft"] = "m",
    strip_m: float = 3.0,
    width: float = 340,
    key: bool = True,
) -> str:
    """SVG of all `tables` to one scale. A part on no listed table, or over its end, is refused."""
    _refuse_strays(tables, parts)
    if not tables:
        raise Refusal("There is no table to draw.", remedy="Enter the tables of the shop.")
    longest = max(_strip_of(table.length_m, strip_m) for table in tables)
    scale = (width - 4) / longest
    body: list[str] = []
    y = 0.0
    if title:
        y = 18
        body.append(ink.words(2, 13, title, size=13, weight=600))
    for table in tables:
        mine = sorted((p for p in parts if p.table == table.name), key=lambda p: p.start_m)
        for first, start, end in _strips(table.length_m, strip_m):
            if first:
                body.append(ink.words(2, y + 13, _heading(table, unit, len(mine)), size=12, weight=600))
                y += 18
            body += _strip(table, mine, start, end, y, scale, unit)
            y += table.depth_m * scale + 22
    if key:
        drawn, height = _key(y + 2, width)
        body += drawn
        y += height + 2
    return ink.picture(width, y, body, label=_label(title, tables, parts))


def _refuse_strays(tables: Sequence[TableTop], parts: Sequence[PartLying]) -> None:
    lengths = {table.name: table.length_m for table in tables}
    for part in parts:
        if part.table not in lengths:
            raise Refusal(f"There is no table “{part.table}”.", where=part.code)
        if part.start_m + part.length_m > lengths[part.table] + 1e-6:
            raise Refusal("The part hangs over the end of the table.", where=f"{part.code} on {part.table}")


def _strip_of(length: float, strip_m: float) -> float:
    """The length of each of the equal strips, of `strip_m` at most, as which a table is drawn."""
    return length / ceil(length / strip_m - 1e-9)


def _strips(length: float, strip_m: float) -> Iterator[tuple[bool, float, float]]:
    strip = _strip_of(length, strip_m)
    for index in range(round(length / strip)):
        yield index == 0, index * strip, (index + 1) * strip


def _strip(
    table: TableTop,
    parts: Sequence[PartLying],
    start: float,
    end: float,
    y: float,
    scale: float,
    unit: str,
) -> Iterator[str]:
    height = table.depth_m * scale
    yield ink.rect(2, y, (end - start) * scale, height, ink.WOOD, stroke=ink.QUIET, stroke_width=1)
    yield from _ruler(start, end, y + height, scale, unit)
    for part in parts:
        left, right = max(part.start_m, start), min(part.start_m + part.length_m, end)
        if right - left > 1e-6:
            yield from _part(part, 2 + (left - start) * scale, (right - left) * scale, y, height, scale)


def _ruler(start: float, end: float, y: float, scale: float, unit: str) -> Iterator[str]:
    step = 0.5 if unit == "m" else 2 * _FOOT
    first = ceil(start / step - 1e-9)
    for mark in range(first, int(end / step + 1e-9) + 1):
        x = 2 + (mark * step - start) * scale
        yield ink.line(x, y, x, y + 4, ink.QUIET)
        text = f"{mark * step:.1f}" if unit == "m" else f"{mark * 2}"
        anchor = "start" if x < 10 else "end" if x > (end - start) * scale - 6 else "middle"
        yield ink.words(x, y + 14, text, size=10.5, anchor=anchor, fill=ink.QUIET)


def _part(part: PartLying, x: float, width: float, y: float, height: float, scale: float) -> Iterator[str]:
    depth = min(part.depth_m * scale, height - 2)
    top = y + (height - depth) / 2
    pattern, meaning = STATES[part.state]
    stroke = 2 if part.state == "handling" else 1
    yield f"<g><title>{ink.text_safe(f'{part.code}: {meaning}. {part.note}'.strip())}</title>"
    yield patterned(
        x + 0.75,
        top,
        width - 1.5,
        depth,
        pattern,
        stroke=ink.INK,
        stroke_width=stroke,
        rx=2,
    )
    yield from _name(part, x, width, top, depth)
    yield "</g>"


def _name(part: PartLying, x: float, width: float, top: float, depth: float) -> Iterator[str]:
    """The mark of a part, whole wherever it can be: on one line, else broken at its hyphens, else turned, else shortened."""
    laid = _laid_out(part.code, width - 4, depth - 4)
    if laid is None:
        return
    lines, size, turned = laid
    middle_x, middle_y = x + width / 2, top + depth / 2
    step = size + 2
    fits = not turned and depth >= len(lines) * step + 20 and ink.width_of(part.note, NOTE) <= width - 4
    note = part.note if fits else ""
    first = -(len(lines) - 1) * step / 2 - (6 if note else 0)
    for number, text in enumerate(lines):
        shift = first + number * step
        plate = ink.width_of(text, size)
        if turned:
            at = middle_x + shift
            yield ink.rect(at - step / 2, middle_y - plate / 2 - 1, step, plate + 2, ink.PAPER, rx=2)
            yield ink.words(
                at + 0.36 * size, middle_y, text, size=size, anchor="middle", weight=600, turned=True
            )
        else:
            at = middle_y + shift
            yield ink.rect(middle_x - plate / 2 - 1, at - step / 2, plate + 2, step, ink.PAPER, rx=2)
            yield ink.words(middle_x, at + 0.36 * size, text, size=size, anchor="middle", weight=600)
    if note:
        at = middle_y + first + len(lines) * step
        plate = ink.width_of(note, NOTE)
        yield ink.rect(middle_x - plate / 2 - 1, at - 6.5, plate + 2, 13, ink.PAPER, rx=2)
        yield ink.words(middle_x, at + 3.8, note, size=NOTE, anchor="middle")


def _laid_out(code: str, width: float, depth: float) -> tuple[tuple[str, ...], float, bool] | None:
    """How a mark is written into a space: (lines, size, turned), the plainest that shows all of it; None where nothing readable fits."""
    broken = [lines for most in (1, 2, 3) if (lines := _broken(code, most)) is not None]
    for size in SIZES:
        for turned in (False, True):
            for lines in broken:
                along, across = (depth, width) if turned else (width, depth)
                longest = max(ink.width_of(line, size) for line in lines)
                if longest <= along and len(lines) * (size + 2) <= across + 4:
                    return lines, size, turned
    turned = depth > width
    short = ink.shortened(code, depth if turned else width, SIZES[-1])
    return ((short,), SIZES[-1], turned) if short else None


def _broken(code: str, lines: int) -> tuple[str, ...] | None:
    """A mark broken at its hyphens into so many lines as even as can be; None where it has too few hyphens."""
    words = code.split("-")
    if len(words) < lines:
        return None
    if lines == 1:
        return (code,)
    cuts = min(
        combinations(range(1, len(words)), lines - 1),
        key=lambda at: max(len("-".join(words[a:b])) for a, b in pairwise((0, *at, len(words)))),
    )
    parts = [words[a:b] for a, b in pairwise((0, *cuts, len(words)))]
    return tuple("-".join(part) + ("-" if n < lines - 1 else "") for n, part in enumerate(parts))


def _key(y: float, width: float) -> tuple[list[str], float]:
    """The key of the states in rows of two; returns the drawing and its height."""
    drawn: list[str] = []
    for index, (pattern, meaning) in enumerate(STATES.values()):
        left, top = 2 + (index % 2) * width / 2, y + (index // 2) * 17
        drawn.append(patterned(left, top, 20, 12, pattern, stroke=ink.INK))
        drawn.append(ink.words(left + 26, top + 10, meaning, size=11))
    return drawn, ceil(len(STATES) / 2) * 17.0


def _heading(table: TableTop, unit: str, count: int) -> str:
    size = f"{table.length_m:.2f} m" if unit == "m" else f"{table.length_m / _FOOT:.1f} ft"
    told = "empty" if count == 0 else counted(count, "part")
    return f"{table.name} · {size} · {told}"


def _label(title: str, tables: Sequence[TableTop], parts: Sequence[PartLying]) -> str:
    told = "; ".join(
        f"{table.name}: "
        + (", ".join(f"{p.code} {STATES[p.state][1]}" for p in parts if p.table == table.name) or "empty")
        for table in tables
    )
    return f"{title or 'Tables seen from above'}. {told}"
