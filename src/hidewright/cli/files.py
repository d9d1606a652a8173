"""Files named on the command line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import file_text

_T = TypeVar("_T")

IN = click.Path(exists=True, dir_okay=False, path_type=Path)
OUT = click.Path(dir_okay=False, path_type=Path)
LARGEST = 64 * 2**20
"""Bytes; no file that a command takes is larger."""


def read_bytes(path: Path) -> bytes:
    """A file's bytes; refuses one over `LARGEST`."""
    if path.stat().st_size > LARGEST:
        raise Refusal(
            "The file is too large.", where=path.name, remedy=f"It may hold up to {LARGEST >> 20} MB."
        )
    return path.read_bytes()


def read_file(path: Path, read: Callable[[str], _T]) -> _T:
    """What `read` makes of a file's text; its faults carry the file's name."""
    return named(path, lambda: read(file_text(read_bytes(path))))


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


def named(path: Path, work: Callable[[], _T]) -> _T:
    """What `work` gives; its faults carry the file's name."""
    try:
        return work()
    except Refusals as faults:
        raise Refusals(faults.items, what=f"{path.name}: {faults.what}") from faults
    except Refusal as fault:
        where = ", ".join(filter(None, (path.name, fault.where)))
        raise Refusal(fault.what, where=where, remedy=fault.remedy) from fault
