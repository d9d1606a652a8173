"""Files named on the command line."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import file_text

_T = TypeVar("_T")


def read_file(path: Path, read: Callable[[str], _T]) -> _T:
    """What `read` makes of a file's text; its faults carry the file's name."""
    try:
        return read(file_text(path.read_bytes()))
    except Refusals as faults:
        raise Refusals(faults.items, what=f"{path.name}: {faults.what}") from faults
    except Refusal as fault:
        where = ", ".join(filter(None, (path.name, fault.where)))
        raise Refusal(fault.what, where=where, remedy=fault.remedy) from fault
