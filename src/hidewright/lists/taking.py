"""A list read without a page to ask on: in our own columns as its reader takes it, in any others as the pages take it, every fault at once."""

from collections.abc import Callable, Mapping
from typing import TypeVar

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import file_text

from .cells import folded
from .draft import Answers, Draft, draft_of, tidied
from .grid import grid_of_file
from .headings import IGNORED
from .kinds import ListKind
from .workbook import is_workbook

_T = TypeVar("_T")


def read_list(
    data: bytes,
    kind: ListKind,
    read: Callable[[str], _T],
    values: Callable[[Draft], _T],
    *,
    columns: Mapping[str, str] | None = None,
    words: Mapping[str, str] | None = None,
    unit: str = "",
) -> _T:
    """What a list holds: by `read` where its columns are ours, by `values` of its draft where it has others or is a spreadsheet.

    `columns`: heading → what it means, with the unit of its bare numbers if need be (“length in cm”, “-” to leave it out); `words`: a word of
    the list → the value it stands for; `unit`: of bare numbers that neither heading nor cell gives one. Raises `Refusals` for what is only guessed.
    """
    if not is_workbook(data) and not columns and not words:
        try:
            return read(file_text(data))
        except Refusal as refusal:
            if not _of_columns(refusal):
                raise
    return values(_draft(data, kind, columns or {}, words or {}, unit))


def _draft(
    data: bytes, kind: ListKind, columns: Mapping[str, str], words: Mapping[str, str], unit: str
) -> Draft:
    grid = tidied(kind, grid_of_file(data))
    meant = _meant(kind, columns)
    known = {(m.key, folded(word)): value for m in kind.meanings for word, value in words.items()}
    draft = draft_of(kind, grid, Answers(words=known))
    headings = {folded(column.heading): column.at for column in draft.columns}
    for heading in meant:
        if heading not in headings:
            raise Refusal(
                f"No column is called “{heading}”.",
                where="columns",
                remedy=f"There are: {', '.join(column.heading for column in draft.columns if column.heading)}.",
            )
    said = {headings[heading]: pair for heading, pair in meant.items()}
    if said:
        draft = draft_of(kind, grid, Answers(columns=said, words=known))
    bare = [column for column in draft.columns if column.needs_unit and column.at not in said] if unit else []
    if bare:
        said |= {column.at: (column.meaning, unit) for column in bare}
        draft = draft_of(kind, grid, Answers(columns=said, words=known))
    return draft


def _meant(kind: ListKind, columns: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    """The folded headings with what they mean and their unit."""
    meant = {}
    for heading, text in columns.items():
        meaning, _, unit = text.strip().partition(" in ")
        if meaning != IGNORED and meaning not in kind.keys:
            raise Refusal(
                f"“{meaning}” is nothing that a column of {kind.title} means.",
                where=f"column {heading}",
                remedy=f"Known are {', '.join(kind.keys)}; “{IGNORED}” leaves it out.",
            )
        meant[folded(heading)] = (meaning, unit.strip())
    return meant


def _of_columns(refusal: Refusal) -> bool:
    """Whether a list is refused for how its columns are named."""
    items = refusal.items if isinstance(refusal, Refusals) else (refusal,)
    return any(item.where == "line 1" for item in items)
