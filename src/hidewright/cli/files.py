"""Files named on the command line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from hidewright.lists.draft import Draft, draft_of
from hidewright.lists.grid import grid_of_file, text_of_file
from hidewright.lists.kinds import ListKind
from hidewright.lists.workbook import is_workbook
from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import file_text
from hidewright.sheets import named as named
from hidewright.sheets import read_bytes as read_bytes

_T = TypeVar("_T")

IN = click.Path(exists=True, dir_okay=False, path_type=Path)
OUT = click.Path(dir_okay=False, path_type=Path)


def read_file(path: Path, read: Callable[[str], _T]) -> _T:
    """What `read` makes of a file's text, or of the list in a spreadsheet; its faults carry the file's name."""
    return named(path, lambda: read(text_of_file(read_bytes(path))))


def read_list(path: Path, kind: ListKind, read: Callable[[str], _T], values: Callable[[Draft], _T]) -> _T:
    """A list in our own columns as `read` takes it; one with others, or a spreadsheet, as the pages take it: every fault at once."""

    def work() -> _T:
        data = read_bytes(path)
        if not is_workbook(data):
            try:
                return read(file_text(data))
            except Refusal as refusal:
                if not _of_columns(refusal):
                    raise
        return values(draft_of(kind, grid_of_file(data)))

    return named(path, work)


def _of_columns(refusal: Refusal) -> bool:
    """Whether a list is refused for how its columns are named."""
    items = refusal.items if isinstance(refusal, Refusals) else (refusal,)
    return any(item.where == "line 1" for item in items)


def deliver(
    told: dict[str, Any],
    show: Callable[[], None],
    *,
    as_json: bool,
    out: Path | None,
    text: Callable[[], str],
    takers: str,
) -> None:
    """Write `text` to `out` where one is named, and tell what was found: as JSON, or as `show` prints it; `takers` are the commands that take the file."""
    if out is not None:
        out.write_text(text(), encoding="utf-8")
        told["written"] = out.name
    if as_json:
        click.echo(json.dumps(told, indent=1, ensure_ascii=False))
        return
    show()
    if out is not None:
        click.echo(f"Written to {out.name}: {takers}.")
