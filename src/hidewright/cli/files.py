"""Files named on the command line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from hidewright.lists.draft import Draft
from hidewright.lists.grid import text_of_file
from hidewright.lists.kinds import ListKind
from hidewright.lists.taking import read_list as list_of
from hidewright.sheets import named as named
from hidewright.sheets import read_bytes as read_bytes

if TYPE_CHECKING:
    from hidewright.colour.reading.readings import Reading

_T = TypeVar("_T")

IN = click.Path(exists=True, dir_okay=False, path_type=Path)
OUT = click.Path(dir_okay=False, path_type=Path)


def read_file(path: Path, read: Callable[[str], _T]) -> _T:
    """What `read` makes of a file's text, or of the list in a spreadsheet; its faults carry the file's name."""
    return named(path, lambda: read(text_of_file(read_bytes(path))))


def read_list(path: Path, kind: ListKind, read: Callable[[str], _T], values: Callable[[Draft], _T]) -> _T:
    """A list in our own columns as `read` takes it; one with others, or a spreadsheet, as the pages take it: every fault at once."""

    return named(path, lambda: list_of(read_bytes(path), kind, read, values))


def read_readings(path: Path) -> "tuple[Reading, ...]":
    """The readings of a file: an instrument's own, or a table in our columns or any others."""
    from hidewright.colour.reading.formats import read_any
    from hidewright.colour.reading.readings_in import READINGS

    return read_list(path, READINGS, read_any, lambda draft: draft.values)


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
