"""Brought lists as drafts, and how a draft is shown."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString

from hidewright.lists.cells import UNITS
from hidewright.lists.draft import Answers, Draft, Line, Memory, draft_of
from hidewright.lists.grid import Grid, written
from hidewright.lists.headings import IGNORED, Column
from hidewright.lists.kinds import ListKind, Meaning, Sort
from hidewright.refusals import Refusal
from hidewright.units import (
    Units,
    counted,
    read_area,
    read_length,
    read_volume,
    show_area,
    show_length,
    show_minutes,
    show_volume,
)
from hidewright.workshop.lists.models import BroughtList, ListWord
from hidewright.workshop.shop.models import Act, Job

HEADING = "heading"
MOST_FAULTS = 150
"""Faults that can be mended at once; more are counted."""
SAMPLES = 3
OFFERED_UNITS: Mapping[Sort, tuple[str, ...]] = {
    Sort.LENGTH: ("mm", "cm", "m", "in", "ft"),
    Sort.SIZE: ("mm", "cm", "m", "in", "ft"),
    Sort.AREA: ("m²", "sq ft"),
    Sort.VOLUME: ("ml", "l", "fl oz", "qt", "gal"),
    Sort.DURATION: ("min", "h", "d"),
    Sort.MASS: ("g", "kg", "oz", "lb"),
    Sort.SHARE: ("", "%"),
    Sort.FILM: ("µm", "mil"),
    Sort.BAND: ("share", "%"),
    Sort.PART: tuple(UNITS[Sort.PART]),
    Sort.MIX: tuple(UNITS[Sort.MIX]),
}


@dataclass(frozen=True, slots=True)
class Way:
    """One way to take a list: its name for the form, and the words on its button."""

    how: str
    words: str


@dataclass(frozen=True, slots=True)
class Prospect:
    """What taking a list would do: the ways there are (the first is the usual one), facts in words, and doubts to look at first."""

    ways: tuple[Way, ...]
    facts: tuple[tuple[str, str], ...] = ()
    doubts: tuple[str, ...] = ()
    becomes: tuple[tuple[str, str], ...] = ()
    """What is turned into something else before it is kept, by its name."""


def by_shop_key(draft: Draft, known: Mapping[str, str]) -> dict[str, Any]:
    """The values by the key each gets: one without a key of its own whose name the shop knows keeps the shop's key; `known` is key by name (in small letters)."""
    return {
        value.key if line.written.get("key") else known.get(value.name.casefold(), value.key): value
        for line in draft.lines
        for value in line.values
    }


def added_and_changed(
    count: int, known: int, thing: str, many: str = "", doubts: tuple[str, ...] = ()
) -> Prospect:
    """What taking a list does that changes the `known` ones of `count` things and adds the others."""
    facts = (("New", str(count - known)), ("Known already: changed", str(known)))
    return Prospect((Way("take", f"Take the {counted(count, thing, many)}"),), facts, doubts)


@dataclass(frozen=True, slots=True)
class Taker:
    """How one kind of list is taken: by `take`, which writes everything in one act that can be undone and returns it.

    `prospect` says what taking would do, in the units given; `picture` draws a value, or a copy of one of the `drawings` of all values, `pictures` the values of a choice; `to` is the page to go
    back to; `of_job` whether the list belongs to a job.
    """

    kind: ListKind
    of_job: bool
    to: str
    take: Callable[[Job | None, Draft, str, str], Act]
    prospect: Callable[[Job | None, Draft, str], Prospect]
    picture: Callable[[Any], SafeString] | None = None
    drawings: Callable[[Iterable[Any]], SafeString] | None = None
    pictures: Callable[[str], Mapping[str, SafeString]] | None = None
    stage: str = ""


_TAKERS: dict[str, Taker] = {}


def takes(taker: Taker) -> Taker:
    """Register how a kind of list is taken; called by the subject that owns it."""
    _TAKERS[taker.kind.key] = taker
    return taker


def taker_of(kind: str, *, of_job: bool) -> Taker | None:
    """How this kind is taken; none where it is not known, or belongs elsewhere."""
    taker = _TAKERS.get(kind)
    return taker if taker is not None and taker.of_job is of_job else None


def grid_of(row: BroughtList) -> Grid:
    """The cells of a brought list."""
    return Grid(
        tuple(row.grid["lines"]),
        tuple(tuple(cells) for cells in row.grid["rows"]),
        frozenset((line, column) for line, column in row.grid["merged"]),
    )


def grid_facts(grid: Grid) -> dict[str, Any]:
    """A grid as plain data."""
    return {"lines": grid.lines, "rows": grid.rows, "merged": sorted(grid.merged)}


def answers_of(row: BroughtList) -> Answers:
    """What was said about a brought list."""
    said = row.answers
    return Answers(
        above=said.get("above"),
        columns={int(at): (meaning, unit) for at, (meaning, unit) in said.get("columns", {}).items()},
        mark=said.get("mark", ""),
        words={(place, word): value for place, word, value in said.get("words", [])},
        cells={(line, meaning): text for line, meaning, text in said.get("cells", [])},
        out=frozenset(said.get("out", [])),
    )


def answers_facts(answers: Answers) -> dict[str, Any]:
    """Answers as plain data."""
    return {
        "above": answers.above,
        "columns": {str(at): [*pair] for at, pair in answers.columns.items()},
        "mark": answers.mark,
        "words": [[place, word, value] for (place, word), value in answers.words.items()],
        "cells": [[line, meaning, text] for (line, meaning), text in answers.cells.items()],
        "out": sorted(answers.out),
    }


def memory_of(kind: str) -> Memory:
    """What the shop said about earlier lists of this kind."""
    headings, words = {}, {}
    for place, word, value in ListWord.objects.filter(kind=kind).values_list("place", "word", "value"):
        if place == HEADING:
            headings[word] = value
        else:
            words[place, word] = value
    return Memory(headings, words)


def draft(row: BroughtList, kind: ListKind, units: str) -> Draft:
    """A brought list as it would be taken."""
    return draft_of(kind, grid_of(row), answers_of(row), memory_of(kind.key), us=units == Units.US)


def brought(job: Job | None, list_id: int) -> BroughtList:
    """A list that was brought here and not taken yet; refuses another."""
    row = BroughtList.objects.filter(job=job, pk=list_id, taken=None).first()
    if row is None:
        raise Refusal("This list was taken already, or is not here.", remedy="Bring it again.")
    return row


@dataclass(frozen=True, slots=True)
class ShownColumn:
    """A column as the page asks about it."""

    column: Column
    samples: tuple[str, ...]
    units: tuple[str, ...]


def swatch(colour: str) -> SafeString:
    """A small patch of a screen colour “#rrggbb”."""
    patch = '<svg width="28" height="28" aria-hidden="true"><rect width="28" height="28" fill="{}"/></svg>'
    return format_html(patch, colour)


def is_band(draft: Draft, column: Column) -> bool:
    """Whether a column is one band of a spectrum."""
    return draft.kind.sort_of(column.meaning) is Sort.BAND


@dataclass(frozen=True, slots=True)
class ShownBands:
    """The columns that are bands, which are asked about together: their words, the unit of their bare numbers, and whether it is sure."""

    words: str
    unit: str
    sure: bool


def shown_bands(draft: Draft) -> ShownBands | None:
    """The bands of a list of spectra; None where it has none."""
    bands = [column for column in draft.columns if is_band(draft, column)]
    if not bands:
        return None
    waves = sorted(int(column.meaning) for column in bands)
    return ShownBands(
        f"{len(bands)} bands, {waves[0]} to {waves[-1]} nm",
        bands[0].unit,
        all(column.sure for column in bands),
    )


def shown_columns(draft: Draft, grid: Grid) -> tuple[ShownColumn, ...]:
    """Every column that is no band with its first cells and the units its bare numbers can have."""
    shown = []
    for column in draft.columns:
        if is_band(draft, column):
            continue
        cells = [written(cell) for cell in grid.column(column.at)[draft.head.above :] if cell != ""]
        sort = draft.kind.sort_of(column.meaning) or Sort.TEXT
        units = OFFERED_UNITS.get(sort, ())
        if column.unit and column.unit not in units and sort in UNITS:
            units = (column.unit, *units)
        shown.append(ShownColumn(column, tuple(dict.fromkeys(cells))[:SAMPLES], units))
    return tuple(shown)


def plain_shown(meaning: Meaning, plain: str, units: str) -> str:
    """A plain cell in the shop's units and words."""
    if not plain:
        return ""
    if meaning.sort is Sort.LENGTH:
        return show_length(read_length(plain), units)
    if meaning.sort is Sort.AREA:
        return show_area(read_area(plain), units)
    if meaning.sort is Sort.VOLUME:
        return show_volume(read_volume(plain), units)
    if meaning.sort is Sort.DURATION:
        return show_minutes(float(plain.split(maxsplit=1)[0]))
    if meaning.sort is Sort.SHARE:
        return f"{100 * float(plain):.4g} %"
    return plain


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A row as it would be taken: its line, a picture of its first value, and its cells as (label, shown, as written where that reads otherwise)."""

    line: int
    picture: SafeString | str
    cells: tuple[tuple[str, str, str], ...]
    count: int


def shown_lines(draft: Draft, taker: Taker, units: str) -> tuple[tuple[str, ...], tuple[ShownLine, ...]]:
    """The labels of the meanings that are given, and every row under them."""
    given = [
        meaning
        for meaning in draft.kind.meanings
        if any(line.plain.get(meaning.key) for line in draft.lines) and meaning.key != "count"
    ]
    bands = [meaning.key for meaning in given if meaning.sort is Sort.BAND]
    given = [meaning for meaning in given if meaning.sort is not Sort.BAND]
    lines = tuple(_shown(line, given, bands, taker, units) for line in draft.lines)
    return (*(meaning.label for meaning in given), *(["Spectrum"] if bands else [])), lines


def _spectrum(line: Line, bands: Sequence[str]) -> str:
    """A row's bands in words: the first, the lowest, the highest and the last, in per cent of the light."""
    read = {band: 100 * float(text) for band in bands if (text := line.plain.get(band))}
    if not read:
        return ""
    places = {
        min(read, key=int),
        min(read, key=lambda b: read[b]),
        max(read, key=lambda b: read[b]),
        max(read, key=int),
    }
    return ", ".join(f"{read[band]:.2f} % at {band} nm" for band in sorted(places, key=int))


def _shown(line: Line, given: Sequence[Meaning], bands: Sequence[str], taker: Taker, units: str) -> ShownLine:
    cells = []
    for meaning in given:
        shown = plain_shown(meaning, line.plain.get(meaning.key, ""), units)
        as_written = line.written.get(meaning.key, "")
        cells.append((meaning.label, shown, as_written if as_written.casefold() != shown.casefold() else ""))
    if bands:
        cells.append(("Spectrum", _spectrum(line, bands), ""))
    picture = taker.picture(line.values[0]) if taker.picture and line.values else ""
    return ShownLine(line.line, picture, tuple(cells), len(line.values))


def meanings_offered(kind: ListKind) -> tuple[tuple[str, str], ...]:
    """What a column can mean, for a select."""
    return (("", "?"), (IGNORED, "leave out"), *((m.key, m.label) for m in kind.named))
