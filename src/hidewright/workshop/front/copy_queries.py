"""The copies of everything that the shop keeps, newest first."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from hidewright.refusals import Refusal

NAME = re.compile(r"[0-9a-z-]{1,60}")


@dataclass(frozen=True, slots=True)
class Kept:
    """One copy: its `name` without the ending, when it was written, how large it is."""

    name: str
    made: datetime
    size: int

    @property
    def megabytes(self) -> float:
        """Its size in MB (10⁶ bytes)."""
        return self.size / 1e6

    @property
    def before(self) -> bool:
        """Whether it was made before another copy was brought back over what was there."""
        return self.name.startswith("before-")


def kept_copies() -> list[Kept]:
    """Every copy in the shop's folder of copies."""
    folder = Path(settings.COPIES_ROOT)
    found = []
    for path in folder.glob("*.zip") if folder.is_dir() else ():
        if NAME.fullmatch(path.stem):
            facts = path.stat()
            found.append(Kept(path.stem, datetime.fromtimestamp(facts.st_mtime, UTC), facts.st_size))
    return sorted(found, key=lambda one: one.made, reverse=True)


def copy_path(name: str) -> Path:
    """Where a kept copy lies; refuses a name that is none of ours, or whose copy is gone."""
    path = Path(settings.COPIES_ROOT) / f"{name}.zip"
    if not (NAME.fullmatch(name) and path.is_file()):
        raise Refusal("This copy is not there any more.", where=name, remedy="Choose one of the list.")
    return path
