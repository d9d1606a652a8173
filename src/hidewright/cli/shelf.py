"""The pigments that a command works with: the shop's library, its drawdowns and shelf, or the shipped illustrative set."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from hidewright.refusals import Refusal

from .files import read_file

if TYPE_CHECKING:
    from hidewright.colour.learning.learn import Knowledge
    from hidewright.colour.pigments.film import Surface
    from hidewright.colour.pigments.pigment import Pigment
    from hidewright.colour.pigments.shelf import ShelfLine


@dataclass(frozen=True, slots=True, eq=False)
class Shelf:
    """Pigments, mL left of those whose amount is told, the surface they were found with, and what cups taught (None: nothing)."""

    pigments: "tuple[Pigment, ...]"
    left: dict[str, float]
    surface: "Surface"
    learned: "Knowledge | None" = field(default=None)

    @property
    def drawn(self) -> "tuple[Pigment, ...]":
        """The pigments as drawn down, before any cup taught about them; each kind once."""
        if self.learned is None:
            return self.pigments
        return tuple({lot.kind: lot.pigment for lot in self.learned.stock.lots}.values())

    @property
    def keys(self) -> tuple[str, ...]:
        """What a cup may hold: lots that are used up too."""
        return (
            tuple(lot.key for lot in self.learned.stock.lots)
            if self.learned
            else tuple(p.key for p in self.pigments)
        )


def shelf_of(
    drawdowns: Path | None,
    shelf: Path | None,
    say: Callable[[float, str], None],
    library: Path | None = None,
) -> Shelf:
    """The pigments that stand on the shelf and were drawn down, or those of a library that was written before."""
    from hidewright import demo
    from hidewright.colour.pigments.characterise import characterise_all
    from hidewright.colour.pigments.film import Surface
    from hidewright.colour.pigments.shelf import read_shelf, stocked
    from hidewright.colour.reading.readings import read_drawdowns

    if library is not None:
        if drawdowns is not None:
            raise Refusal(
                "Give drawdowns or a library, not both.", where="--pigments", remedy="Leave one out."
            )
        return _of_library(library, read_file(shelf, read_shelf) if shelf else ())
    if drawdowns is not None and shelf is None:
        raise Refusal(
            "Drawdowns need the shelf too.",
            where="--shelf",
            remedy="Bring density, solids and price of each pigment.",
        )
    drawn = read_file(drawdowns, read_drawdowns) if drawdowns else read_drawdowns(demo.text("drawdowns.csv"))
    lines = read_file(shelf, read_shelf) if shelf else read_shelf(demo.text("pigments.csv"))
    known = stocked(lines, characterise_all(drawn, on_progress=say), illustrative=drawdowns is None)
    return Shelf(known, {line.key: line.left for line in lines if line.left is not None}, Surface())


def _of_library(path: Path, lines: "tuple[ShelfLine, ...]") -> Shelf:
    """A library's pigments; where a shelf is given, only those on it (a lot goes by its pigment), with what is left."""
    from hidewright.colour.learning.cup import kind_of
    from hidewright.colour.learning.library import read_library

    found = read_file(path, read_library)
    there = {line.key: line for line in lines}
    line_of = {p.key: there.get(p.key) or there.get(kind_of(p.key)) for p in found.pigments}
    known = tuple(p for p in found.pigments if not lines or line_of[p.key] is not None)
    if not known:
        raise Refusal(
            "No pigment stands both on the shelf and in the library.",
            where="shelf",
            remedy="Use the same keys in both files.",
        )
    left = {key: line.left for key, line in line_of.items() if line is not None and line.left is not None}
    return Shelf(known, left, found.surface, found.learned)
