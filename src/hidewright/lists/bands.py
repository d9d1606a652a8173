"""Lists of spectra: columns named by wavelength, the unit their bare numbers share, and lists with one row a band.

A spectrum's numbers are shares of the light (0 to 1) or per cent of it. Nothing is scaled on a hunch: where the rows of a list do not agree on
which it is, it is asked.
"""

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from hidewright.refusals import Refusal

from .cells import folded
from .grid import Cell, Grid, written
from .kinds import ListKind, Meaning, Sort

SHORTEST, LONGEST = 300, 900
"""nm; a number outside names no band."""
SHARE, PER_CENT = "share", "%"
TOP_SHARE = 1.3
"""A row of which no value is above is taken for shares, one of which more than `MANY` are for per cent; where rows differ it is asked."""
MANY = 0.2
"""A single value above is a slip: its row says nothing of what the others are in."""
_BAND = re.compile(
    r"(?:r|refl\.?|spec|nm|λ)?[ _]*(\d{3})(?:\.0+)?[ _]*(?:nm)?(?: *[(\[]?%[)\]]?)?", re.IGNORECASE
)
_WAVES = ("wavelength", "wavelength nm", "nm", "lambda", "λ", "wave", "band", "wellenlange", "wellenlange nm")
_VALUES = ("reflectance", "reflectance %", "r", "r %", "%r", "value", "refl", "remission", "reflexion")
_NAMES = ("name", "sample", "reading", "id", "probe", "what")


def band_of(cell: Cell) -> str:
    """The wavelength in nm that a heading names, such as “R400” or “400 nm”; empty where it names none."""
    match = _BAND.fullmatch(written(cell).strip())
    return match[1] if match and SHORTEST <= int(match[1]) <= LONGEST else ""


def bands_in(row: Sequence[Cell]) -> dict[int, str]:
    """Place → wavelength of the cells of a row that name bands; none where fewer than five rise or fall one after the other."""
    named = {at: band for at, cell in enumerate(row) if (band := band_of(cell))}
    waves = [int(band) for band in named.values()]
    steps = [b - a for a, b in itertools.pairwise(waves)]
    return named if len(waves) >= 5 and (min(steps) >= 0 or max(steps) <= 0) else {}


def with_bands(kind: ListKind, grid: Grid, most_above: int) -> ListKind:
    """The kind with a meaning for every band that the list's headings name; refuses a band that is there twice."""
    if not kind.of_spectra:
        return kind
    for row in grid.rows[:most_above]:
        bands = list(bands_in(row).values())
        twice = next((band for band in bands if bands.count(band) > 1), "")
        if twice:
            raise Refusal(f"The band {twice} nm is there twice.", where="columns", remedy="Keep one of them.")
        if bands:
            made = (Meaning(band, f"{band} nm", Sort.BAND) for band in sorted(bands))
            return replace(kind, meanings=(*kind.meanings, *made))
    return kind


def band_unit(rows: Sequence[Sequence[Cell]], before: str) -> tuple[str, bool]:
    """What the bare numbers of these rows of bands are in, and whether that is sure. `before`: what headings or memory say, which the numbers may contradict."""
    bare = [[value for cell in row if (value := _bare(cell)) is not None] for row in rows]
    low, high = rows_in_shares([each for each in bare if each])
    if not (low or high):
        return before or SHARE, not any(bare)
    if (before == PER_CENT and high) or (before == SHARE and low > high):
        return before, True
    unit = PER_CENT if high > low else SHARE
    return unit, not (low and high) and before in ("", unit)


def rows_in_shares(rows: Sequence[Sequence[float]]) -> tuple[int, int]:
    """How many rows of bands hold shares, and how many per cent, as far as their values show it."""
    above = [sum(value > TOP_SHARE for value in row) / len(row) for row in rows]
    return sum(part == 0 for part in above), sum(part > MANY for part in above)


def _bare(cell: Cell) -> float | None:
    if isinstance(cell, float):
        return cell
    match = re.fullmatch(r"\d*[.,]?\d+", cell)
    return float(cell.replace(",", ".")) if match else None


def wide(grid: Grid) -> Grid:
    """A list with one row a band (columns wavelength and reflectance) as one with a row for each reading; any other list as it is."""
    heads = [folded(re.sub(r"[()\[\]]", " ", written(cell))) for cell in grid.rows[0]]
    wave = next((at for at, head in enumerate(heads) if head in _WAVES), None)
    value = next((at for at, head in enumerate(heads) if head in _VALUES), None)
    if wave is None or value is None or len(grid.rows) < 6:
        return grid
    name = next((at for at, head in enumerate(heads) if head in _NAMES), None)
    others = [at for at in range(grid.width) if at not in (wave, value)]
    readings: dict[Cell, tuple[int, tuple[Cell, ...], dict[str, Cell]]] = {}
    for line, row in zip(grid.lines[1:], grid.rows[1:], strict=True):
        band = band_of(row[wave])
        if not band:
            raise Refusal(
                f"“{written(row[wave])[:30]}” is no wavelength.",
                where=f"line {line}",
                remedy="Write it in nm, like 430.",
            )
        start: tuple[int, tuple[Cell, ...], dict[str, Cell]] = (line, tuple(row[at] for at in others), {})
        values = readings.setdefault(row[name] if name is not None else "", start)[2]
        if band in values:
            raise Refusal(
                f"The band {band} nm is there twice.",
                where=f"line {line}",
                remedy="Keep one of them, or give each reading a name of its own.",
            )
        values[band] = row[value]
    return _pivoted([grid.rows[0][at] for at in others], grid.lines[0], readings, "%" in heads[value])


def _pivoted(
    heads: list[Cell],
    first: int,
    readings: Mapping[Cell, tuple[int, tuple[Cell, ...], dict[str, Cell]]],
    per_cent: bool,
) -> Grid:
    bands = sorted({band for _, _, values in readings.values() for band in values})
    mark = " %" if per_cent else ""
    rows = [(*heads, *(f"{band}{mark}" for band in bands))]
    rows += [(*cells, *(values.get(band, "") for band in bands)) for _, cells, values in readings.values()]
    return Grid((first, *(line for line, _, _ in readings.values())), tuple(rows))
