"""The illustrative pigments that a new shop can start with: K and S from published optical constants where there are any, else invented.

`make_generic` writes the file and says how. They stand for no product: a bottle on the shelf may be several times as strong, and of another shade. They are for
looking round and for a first guess; the shop's own drawdowns, or its first cups, put them right.
"""

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np

from .pigment import Pigment

SPREAD = 4.0
"""How many times as far as a drawn-down pigment an illustrative one may be off (a convention of this tool); see `lots.Lot`."""


@dataclass(frozen=True, slots=True, eq=False)
class Generic:
    """One illustrative pigment, and where its K and S come from; `published` is False where any of its optical constants are invented."""

    pigment: Pigment
    source: str
    published: bool

    @property
    def words(self) -> str:
        """Its provenance, as pages show it."""
        return f"Generic, of no maker. {self.source[:1].upper()}{self.source[1:]}."


@lru_cache
def generic_set() -> tuple[Generic, ...]:
    """All of them, white first."""
    rows = json.loads(files(__package__).joinpath("generic.json").read_text(encoding="utf-8"))
    return tuple(
        Generic(
            Pigment(
                one["key"],
                one["name"],
                one["index"],
                np.array(one["k"]),
                np.array(one["s"]),
                one["density"],
                one["solids"],
                illustrative=True,
            ),
            one["source"],
            one["published"],
        )
        for one in rows
    )
