"""Kinds of list: what the columns of each can mean, in the shop's words."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from hidewright.refusals import Refusal
from hidewright.sheets import Row

from .grid import Grid


class Sort(StrEnum):
    """How the cells of a column are read. SMALL: a number below a thousand, of which a lone mark is the decimal one; FILM: a film's thickness; BAND: one band of a spectrum; PART: how much of a mix one thing is; MIX: all that is in a mix."""

    TEXT = "text"
    LENGTH = "length"
    SIZE = "size"
    AREA = "area"
    VOLUME = "volume"
    MASS = "mass"
    DURATION = "duration"
    SHARE = "share"
    NUMBER = "number"
    MONEY = "money"
    COUNT = "count"
    FLAG = "flag"
    CHOICE = "choice"
    SMALL = "small"
    FILM = "film"
    BAND = "band"
    PART = "part"
    MIX = "mix"


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a column can mean.

    `words`: how headings name it, lower case. `unit`: what a bare number is in where neither heading nor cell says; empty for lengths whose
    unit must be told. `choices`: for a choice, each value with the words people write for it. `fill_from`: the meaning whose words it is
    guessed from where no column gives it. `into`: the meanings that a SIZE such as 18 x 20 x 4 in is parted into.
    """

    key: str
    label: str
    sort: Sort = Sort.TEXT
    words: tuple[str, ...] = ()
    unit: str = ""
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    must: bool = False
    fill_from: str = ""
    into: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ListKind:
    """One kind of list: its columns, how a row of plain cells becomes values, and how marks are made where the list gives none.

    `one` takes a `Row` whose cells are plain (lengths as “0.4572 m”, flags yes or no, choices by their key) and returns the values of that
    row, refusing with `where` the meaning's key. `together` looks at all rows at once and returns refusals by line. `completed` fills in what
    a shop does not write, such as marks, before the rows are read. `tidied` brings a grid into the one form that is read, a row for each thing.
    `of_spectra`: columns that are named by wavelength are bands; `bands` gives each a meaning.
    """

    key: str
    title: str
    thing: str
    meanings: tuple[Meaning, ...]
    one: Callable[[Row], tuple[Any, ...]]
    completed: Callable[[tuple[Row, ...]], tuple[Row, ...]] = lambda rows: rows
    together: Callable[[tuple[tuple[int, Any], ...]], tuple[tuple[int, Refusal], ...]] = lambda values: ()
    tidied: Callable[[Grid], Grid] = lambda grid: grid
    of_spectra: bool = False

    def __post_init__(self) -> None:
        keys = [meaning.key for meaning in self.meanings]
        if len(set(keys)) != len(keys):
            raise ValueError(f"{self.key} names a meaning twice")

    def meaning(self, key: str) -> Meaning:
        """The meaning of this key."""
        return next(meaning for meaning in self.meanings if meaning.key == key)

    def sort_of(self, key: str) -> Sort | None:
        """How the cells of a column that means `key` are read; None where that is no meaning of this kind: left out, or nothing known."""
        return next((meaning.sort for meaning in self.meanings if meaning.key == key), None)

    @property
    def named(self) -> tuple[Meaning, ...]:
        """Those that a heading names in words: all but bands."""
        return tuple(meaning for meaning in self.meanings if meaning.sort is not Sort.BAND)

    @property
    def keys(self) -> tuple[str, ...]:
        """All meanings, in order."""
        return tuple(meaning.key for meaning in self.meanings)
