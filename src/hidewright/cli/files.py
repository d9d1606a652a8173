"""Files named on the command line."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

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


def named(path: Path, work: Callable[[], _T]) -> _T:
    """What `work` gives; its faults carry the file's name."""
    try:
        return work()
    except Refusals as faults:
        raise Refusals(faults.items, what=f"{path.name}: {faults.what}") from faults
    except Refusal as fault:
        where = ", ".join(filter(None, (path.name, fault.where)))
        raise Refusal(fault.what, where=where, remedy=fault.remedy) from fault
