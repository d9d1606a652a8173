"""Headings: where a list's columns are named, and what each column means.

A meaning comes from what a person said for this list, else from what the shop's memory has for a heading, else from the heading's words, else
from what stands in the column. Only the last is a guess that a person must look at before anything is taken.
"""

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import median

from hidewright.units import LENGTHS

from .bands import band_unit, bands_in
from .cells import UNITS, folded
from .grid import Cell, Grid, written
from .kinds import ListKind, Meaning, Sort
from .shares import OF_A_MIX, likely_share, share_unit

IGNORED = "-"
"""What stands in place of a meaning where a column is left out."""
SURE, NEAR = 0.8, 0.6
MOST_ABOVE = 15
"""Rows at the top among which the headings are looked for."""
_BRACKET = re.compile(r"[\(\[\{]\s*([^\)\]\}]{1,12})\s*[\)\]\}]")
_NUMBER = re.compile(r"^[~≈]?\s*[\d.,/ ]+\s*[^\d\s]{0,6}(\s*[\d.,/]+\s*[^\d\s]{0,6})?$")


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its place from 0, its heading as written, what it means (empty: nothing is known; `IGNORED`: left out), the unit of bare numbers in it.

    `sure` is false where the meaning, or the unit, is guessed from what stands in the column.
    """

    at: int
    heading: str
    meaning: str
    unit: str = ""
    sure: bool = True
    needs_unit: bool = False


@dataclass(frozen=True, slots=True)
class Head:
    """Where the headings stand: how many rows of the grid from the top are above the first thing, and each column's heading in its parts."""

    above: int
    parts: tuple[tuple[str, ...], ...]


def heading_key(parts: tuple[str, ...], at: int, width: int) -> str:
    """Under which a column is remembered: its heading, or its place among so many where it has none."""
    return folded(" ".join(parts))[:100] or f"column {at + 1} of {width}"


def unit_in(heading: str, sort: Sort) -> str:
    """The unit that a heading names for columns of this sort: in brackets, or as its last word; empty where none."""
    units = UNITS.get(sort, {})
    if sort in OF_A_MIX:
        return share_unit(heading, sort)
    for found in _BRACKET.findall(heading):
        name = folded(re.sub(r"^in\s+(?=\S)", "", found.strip(), flags=re.IGNORECASE)) or found.strip()
        if name in units or found.strip() in units:
            return name if name in units else found.strip()
    if sort is Sort.FILM:
        return next((word for word in map(folded, re.split(r"[\s,/_]+", heading)) if word in units), "")
    last = re.split(r"[\s,/_]+", heading.strip().lower())[-1]
    alone = len(heading.split()) + heading.count("_") == 1
    return last if last in units and not alone else ""


def _weighed(heading: str) -> bool:
    """Whether a heading names a weight’s or a film’s unit: what is under it is no text."""
    words = {*(folded(found) for found in _BRACKET.findall(heading)), *folded(heading).split()[1:]}
    return bool(words & {folded(name) for sort in (Sort.MASS, Sort.FILM) for name in UNITS[sort]})


@lru_cache(maxsize=20_000)
def _bare(part: str) -> str:
    """A heading without its unit and its signs."""
    text = folded(_BRACKET.sub(" ", part)).replace("_", " ")
    words = re.sub(r"[^\w\s%*]", " ", text).split()
    units = {unit for table in UNITS.values() for unit in table if len(unit) > 1}
    while len(words) > 1 and words[-1] in units:
        words.pop()
    if len(words) > 1 and words[-1] == "in":
        words.pop()
    return " ".join(words)


def likeness(part: str, meaning: Meaning) -> float:
    """How well a heading names a meaning, 0 to 1; “From hour” is whole what its words say, before its last word is taken for a unit."""
    words = (meaning.key.replace("_", " "), meaning.label, *meaning.words)
    return 1.0 if folded(part) in words else _likeness(_bare(part), words)


@lru_cache(maxsize=20_000)
def _likeness(name: str, words: tuple[str, ...]) -> float:
    if not name:
        return 0.0
    best = 0.0
    for word in map(folded, words):
        if name == word:
            return 1.0
        if len(word) > 2 and re.search(rf"\b{re.escape(word)}\b", name):
            best = max(best, 0.9 if len(name.split()) == len(word.split()) + 1 else 0.82)
        if len(name) > 3 and len(word) > 3:
            alike = difflib.SequenceMatcher(None, name, word)
            if alike.quick_ratio() > 0.7:
                best = max(best, 0.85 * alike.ratio())
    return best


def head_of(kind: ListKind, grid: Grid, memory: Mapping[str, str], above: int | None = None) -> Head:
    """The headings: the row near the top that names most meanings, with the row above it where that names groups of columns; none for a paste without."""
    if above is None:
        scored = [(_score(kind, row, memory), n) for n, row in enumerate(grid.rows[:MOST_ABOVE])]
        best, at = max(scored, key=lambda pair: (pair[0], -pair[1]), default=(0.0, 0))
        above = at + 1 if best >= 1.6 or (best >= 0.8 and grid.width < 3) else 0
    if above == 0:
        return Head(0, tuple(() for _ in range(grid.width)))
    last = grid.rows[above - 1]
    parts = [[written(cell)] if cell != "" else [] for cell in last]
    if above > 1 and _is_group_row(grid, above - 2):
        over = ""
        for column, cell in enumerate(grid.rows[above - 2]):
            over = written(cell) if cell != "" else over if last[column] != "" else ""
            if over and written(last[column]) != over:
                parts[column].insert(0, over)
    return Head(above, tuple(tuple(each) for each in parts))


def _score(kind: ListKind, row: tuple[Cell, ...], memory: Mapping[str, str]) -> float:
    """How many meanings the cells of a row name, as a sum of likenesses."""
    score = 2.0 if kind.of_spectra and bands_in(row) else 0.0
    for cell in row:
        if isinstance(cell, str) and cell and not _NUMBER.match(cell):
            known = 1.0 if folded(cell) in memory else 0.0
            score += max([known, *(s for m in kind.named if (s := likeness(cell, m)) >= SURE)])
    return score


def _is_group_row(grid: Grid, at: int) -> bool:
    """Whether a row names groups of columns: no numbers, at least two columns, and not the title of the whole."""
    cells = [cell for cell in grid.rows[at] if cell != ""]
    texts = {cell for cell in cells if isinstance(cell, str) and not _NUMBER.match(cell)}
    merged = any((grid.lines[at], column) in grid.merged for column in range(grid.width))
    return len(texts) == len(set(cells)) and (len(texts) >= 2 or merged) and len(set(cells)) > 1


def columns_of(
    kind: ListKind,
    grid: Grid,
    head: Head,
    *,
    said: Mapping[int, tuple[str, str]],
    memory: Mapping[str, str],
    us: bool,
) -> tuple[Column, ...]:
    """What every column means. `said`: column → (meaning, unit) by the person; `memory`: heading → “meaning|unit”; `us`: the shop works in inches."""
    chosen: dict[int, tuple[str, str, bool]] = {at: (*pair, True) for at, pair in said.items()}
    for at, parts in enumerate(head.parts):
        meaning, _, unit = memory.get(heading_key(parts, at, grid.width), "").partition("|")
        if at not in chosen and meaning and (meaning == IGNORED or meaning in kind.keys):
            chosen[at] = (meaning, unit, True)
    if kind.of_spectra and head.above:
        chosen |= {
            at: (band, chosen.get(at, ("", "", True))[1], True)
            for at, band in bands_in(grid.rows[head.above - 1]).items()
            if at not in said
        }
    _by_heading(kind, head, chosen)
    _by_contents(kind, grid, head, chosen)
    named = [
        _with_unit(kind, Column(at, " ".join(parts), *chosen.get(at, ("", "", True))))
        for at, parts in enumerate(head.parts)
    ]
    body = grid.rows[head.above :]
    banded = _with_band_unit(kind, body, named, said)
    return _with_likely_unit(kind, body, [_with_likely_share(kind, body, one) for one in banded], us)


def _by_heading(kind: ListKind, head: Head, chosen: dict[int, tuple[str, str, bool]]) -> None:
    """Give columns the meanings that their headings name best, each meaning once."""
    taken = {meaning for meaning, _, _ in chosen.values()}
    pairs = []
    for at, parts in enumerate(head.parts):
        if at in chosen or not parts:
            continue
        measured = _weighed(" ".join(parts))
        for meaning in kind.named:
            if measured and meaning.sort in (Sort.TEXT, Sort.CHOICE, *OF_A_MIX):
                continue
            own = likeness(parts[-1], meaning)
            score = max(own, 0.95 * likeness(" ".join(parts), meaning) if len(parts) > 1 else 0.0)
            if score >= NEAR:
                pairs.append((score, -at, meaning.key))
    for score, at, key in sorted(pairs, reverse=True):
        if -at not in chosen and key not in taken:
            chosen[-at] = (key, "", score >= SURE)
            taken.add(key)


def _by_contents(kind: ListKind, grid: Grid, head: Head, chosen: dict[int, tuple[str, str, bool]]) -> None:
    """Guess columns without a heading that says anything from what stands in them; none of these guesses is sure."""
    taken = {meaning for meaning, _, _ in chosen.values()}
    free = [at for at in range(grid.width) if at not in chosen]
    body = grid.rows[head.above :][:200]
    sizes = [m.key for m in kind.meanings if m.sort is Sort.LENGTH and m.key not in taken]
    texts = [
        key
        for key in ("key", "name", "group")
        if key in kind.keys and key not in taken and not any(head.parts)
    ]
    for at in free:
        cells = [row[at] for row in body if row[at] != ""]
        if not cells:
            continue
        key = _choice_in(kind, cells, taken)
        numbers = sum(not isinstance(cell, str) or bool(_NUMBER.match(cell)) for cell in cells)
        if not key and any("x" in written(cell).lower() or "×" in written(cell) for cell in cells):
            key = next(
                (
                    m.key
                    for m in kind.meanings
                    if m.sort is Sort.SIZE and m.key not in taken and _sizes(cells)
                ),
                "",
            )
        if not key and not any(head.parts) and numbers > 0.8 * len(cells) and sizes:
            key = sizes.pop(0)
        if not key and numbers < 0.5 * len(cells) and texts:
            marks = all(isinstance(c, str) and re.fullmatch(r"[\w.-]{1,14}", c) for c in cells) and len(
                set(cells)
            ) == len(cells)
            order = ("group", "name") if _numbered(cells) else ("name", "group")
            key = "key" if marks and "key" in texts else next((t for t in order if t in texts), "")
            if key in texts:
                texts.remove(key)
        if key:
            chosen[at] = (key, "", False)
            taken.add(key)


def _numbered(cells: list[Cell]) -> bool:
    """Whether most cells are words with a number behind, such as Chair 3."""
    return sum(bool(re.search(r"\D\s+\d+$", written(cell))) for cell in cells) > 0.8 * len(cells)


def _sizes(cells: list[Cell]) -> bool:
    return sum(bool(re.search(r"\d\D{0,8}[x×]\s*\d", written(cell), re.I)) for cell in cells) > 0.6 * len(
        cells
    )


def _choice_in(kind: ListKind, cells: list[Cell], taken: set[str]) -> str:
    """The choice most of whose cells are its own words; empty where none is."""
    words = [folded(written(cell)) for cell in cells]
    for meaning in kind.meanings:
        if meaning.sort is Sort.CHOICE and meaning.key not in taken:
            known = {*meaning.choices, *(name for names in meaning.choices.values() for name in names)}
            if sum(word in known for word in words) > 0.6 * len(words):
                return meaning.key
    return ""


def _with_unit(kind: ListKind, column: Column) -> Column:
    """The column with the unit of its bare numbers: as said or remembered, else from its heading."""
    sort = kind.sort_of(column.meaning)
    return column if sort is None or column.unit else replace(column, unit=unit_in(column.heading, sort))


def _with_likely_share(kind: ListKind, body: tuple[tuple[Cell, ...], ...], column: Column) -> Column:
    """The column; one of shares or weights of which nothing says what they are in with the likely answer, which is asked about."""
    sort = kind.meaning(column.meaning).sort if column.meaning in kind.keys else Sort.TEXT
    if column.unit or sort not in (*OF_A_MIX, Sort.MASS):
        return column
    cells = [row[column.at] for row in body]
    if sort is Sort.MASS:
        unit = "g" if any(_bare_number(cell) is not None for cell in cells) else ""
    else:
        unit = likely_share(cells, column.heading, sort)
    return replace(column, unit=unit, sure=False, needs_unit=True) if unit else column


def _with_likely_unit(
    kind: ListKind, body: tuple[tuple[Cell, ...], ...], columns: list[Column], us: bool
) -> tuple[Column, ...]:
    """The columns, lengths whose unit nothing says given one together, guessed from how large the largest of them are; it is asked for."""
    medians = {}
    for column in columns:
        meaning = kind.meaning(column.meaning) if column.meaning in kind.keys else None
        if (
            meaning
            and meaning.sort in (Sort.LENGTH, Sort.SIZE, Sort.FILM)
            and not (column.unit or meaning.unit)
        ):
            bare = [value for row in body if (value := _bare_number(row[column.at])) is not None]
            if bare:
                medians[column.at] = median(bare)
    if not medians:
        return tuple(columns)
    known = {column.unit for column in columns if column.unit in LENGTHS}
    unit = known.pop() if len(known) == 1 else _likely(max(medians.values()), us)
    return tuple(
        replace(
            column,
            unit=_film(medians[column.at]) if kind.sort_of(column.meaning) is Sort.FILM else unit,
            sure=False,
            needs_unit=True,
        )
        if column.at in medians
        else column
        for column in columns
    )


def _film(middle: float) -> str:
    """The likelier unit of a dry film: few are thinner than 8 µm or thicker than 8 mil (common practice, no source)."""
    return "mil" if middle < 8 else "µm"


def _with_band_unit(
    kind: ListKind,
    body: tuple[tuple[Cell, ...], ...],
    columns: list[Column],
    said: Mapping[int, tuple[str, str]],
) -> list[Column]:
    """The columns, those of bands with the one unit that their bare numbers share: as said, else as heading, memory and numbers agree."""
    bands = [column for column in columns if kind.sort_of(column.meaning) is Sort.BAND]
    if not bands:
        return columns
    spoken = {said[column.at][1] for column in bands if column.at in said and said[column.at][1]}
    if spoken:
        unit, sure = spoken.pop(), True
    else:
        before = {column.unit for column in bands if column.unit}
        unit, sure = band_unit(
            [[row[c.at] for c in bands] for row in body], before.pop() if len(before) == 1 else ""
        )
    at = {column.at for column in bands}
    return [replace(c, unit=unit, sure=sure, needs_unit=not sure) if c.at in at else c for c in columns]


def _bare_number(cell: Cell) -> float | None:
    """A number without a unit, roughly, for guessing which unit it is in."""
    if isinstance(cell, float):
        return cell
    parts = re.split(r"[x×]", cell.lower())
    found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)(?:\s+\d+/\d+)?\s*", parts[0])
    last = re.fullmatch(r"\s*[\d.,/ ]+\s*", parts[-1])
    return float(found[1].replace(",", ".")) if found and last else None


def _likely(middle: float, us: bool) -> str:
    if us:
        return "ft" if middle < 1 else "in" if middle < 150 else "mm"
    return "m" if middle < 3 else "cm" if middle < 130 else "mm"
