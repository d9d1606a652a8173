"""Pigments: what each absorbs and scatters, from the shop's own drawdowns, from a library written before, or illustrative ones to begin with."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from hidewright.colour.learning.cup import kind_of
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.library import Library, read_library, write_csv, write_json
from hidewright.colour.light.cie import hex_from_reflectance
from hidewright.colour.pigments import characterise as drawn_down
from hidewright.colour.pigments.drawdowns import Drawdown, Fit
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.generic import generic_set
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.pigments.shelf import ShelfLine, read_shelf, stocked
from hidewright.refusals import Refusal
from hidewright.units import counted

from .files import Source, load_drawdowns, read_source
from .tables import html_of


@dataclass(frozen=True, slots=True, eq=False)
class Pigments:
    """The pigments that recipes are made of.

    `pigments` with K and S (31,) per µm; `left_ml` mL left of those whose amount is known; `surface` they were found with; `learned` what cups have taught (None: nothing);
    `base` the clear base; `fits` what the drawdowns said of each (empty for a library and for illustrative ones).

    >>> from hidewright import api
    >>> white, black = api.generic_pigments("PW6", "PBk7").pigments
    >>> bool(white.s[15] > black.s[15]), bool(white.k[15] < black.k[15])  # at 550 nm
    (True, True)
    """

    pigments: tuple[Pigment, ...]
    left_ml: Mapping[str, float] = field(default_factory=dict)
    surface: Surface = field(default_factory=Surface)
    learned: Knowledge | None = None
    base: Base = field(default_factory=Base)
    fits: Mapping[str, Fit] = field(default_factory=dict)

    @property
    def drawn(self) -> tuple[Pigment, ...]:
        """The pigments as drawn down, before any cup taught about them; each kind once."""
        if self.learned is None:
            return self.pigments
        return tuple({lot.kind: lot.pigment for lot in self.learned.stock.lots}.values())

    @property
    def keys(self) -> tuple[str, ...]:
        """What a cup may hold: lots that are used up too."""
        if self.learned is None:
            return tuple(p.key for p in self.pigments)
        return tuple(lot.key for lot in self.learned.stock.lots)

    @property
    def contradicts(self) -> tuple[str, ...]:
        """Names of drawdowns that do not go with the others; they counted less."""
        return tuple(dict.fromkeys(name for fit in self.fits.values() for name in fit.contradicts))

    @property
    def words(self) -> str:
        """How many there are, how well the drawdowns are described, and what to look at."""
        lines = [f"{counted(len(self.pigments), 'pigment')}: {', '.join(p.name for p in self.pigments)}."]
        if any(p.illustrative for p in self.pigments):
            lines.append(
                "Generic, of no maker: a bottle on your shelf may be several times as strong. Bring your own drawdowns."
            )
        worst = [(max(pair), name) for fit in self.fits.values() for name, pair in fit.misfit.items()]
        if worst:
            off, name = max(worst)
            lines.append(f"The film model misses no drawdown by more than ΔE00 {off:.2f} ({name}).")
        if self.contradicts:
            lines.append(f"Weigh and draw again: {'; '.join(self.contradicts)}.")
        vague = [key for key, fit in self.fits.items() if fit.undetermined]
        if vague:
            lines.append(
                f"How these scatter is not known: {', '.join(vague)}. Draw them thinner, or let them down with white."
            )
        return "\n".join(lines)

    def save(self, path: str | Path) -> None:
        """Write them as a library, .json (with what was learned) or .csv (the curves); `load_pigments` and the command's `--pigments` take it back."""
        target = Path(path)
        write = {".json": write_json, ".csv": write_csv}.get(target.suffix.lower())
        if write is None:
            raise Refusal(f"A library does not end in “{target.suffix}”.", remedy="Name it .json or .csv.")
        target.write_text(write(Library(self.pigments, self.surface, self.learned)), encoding="utf-8")

    def _repr_html_(self) -> str:
        rows = (
            (
                p.name,
                p.key,
                hex_from_reflectance(seen(opaque(p.k, p.s), self.surface)),
                _spread(p, 0),
                _spread(p, 1),
            )
            for p in self.pigments
        )
        return html_of(self.words, ("Pigment", "Key", "Alone", "K ±", "S ±"), rows)


def _spread(pigment: Pigment, row: int) -> str:
    return "" if pigment.covariance is None else f"{np.median(pigment.covariance[row]):.1%}"


def on_shelf(library: Library, lines: tuple[ShelfLine, ...]) -> Pigments:
    """A library's pigments; where a shelf is given, only those on it (a lot goes by its pigment), with what is left."""
    by_key = {line.key: line for line in lines}
    line_of = {p.key: by_key.get(p.key) or by_key.get(kind_of(p.key)) for p in library.pigments}
    known = tuple(p for p in library.pigments if not lines or line_of[p.key] is not None)
    if not known:
        raise Refusal(
            "No pigment is both on the shelf and in the library.",
            where="shelf",
            remedy="Use the same keys in both files.",
        )
    left = {key: line.left for key, line in line_of.items() if line is not None and line.left is not None}
    return Pigments(known, left, library.surface, library.learned)


def characterise(
    drawdowns: Source | Collection[Drawdown],
    shelf: Source,
    *,
    only: Collection[str] | None = None,
    specular: bool = True,
    base: Base | None = None,
    illustrative: bool = False,
    on_progress: Callable[[float, str], None] | None = None,
) -> Pigments:
    """Find K and S of every pigment from drawdowns over black and white, all of them together, with their spread.

    `shelf` is a CSV with key, name, index, density (g/mL), solids (0..1), price_per_litre. `only` keeps the drawdowns that hold nothing but these keys. `specular` says whether the
    instrument reads with the shine. Takes about a second for each three drawdowns. Raises `Refusal` where a pigment cannot be told apart. Kubelka-Munk: see docs/science/pigments.md.

    >>> from hidewright import api
    >>> pigments = api.characterise(api.example("drawdowns.csv"), api.example("pigments.csv"), only=("PW6", "PBk7"))
    >>> print(pigments.words)
    2 pigments: White, Black.
    The film model misses no drawdown by more than ΔE00 0.43 (PBk7 masstone).
    >>> pigments.pigments[0].k.shape  # per µm of dry film, 400 to 700 nm by 10 nm
    (31,)
    """
    drawn = (
        load_drawdowns(drawdowns, shelf=shelf, base=base)
        if isinstance(drawdowns, Source)
        else tuple(drawdowns)
    )
    if only is not None:
        drawn = tuple(d for d in drawn if set(d.shares) <= set(only))
    lines = read_source(shelf, read_shelf)
    surface = Surface(specular=specular)
    fits = drawn_down.characterise_all(drawn, surface, on_progress)
    left = {line.key: line.left for line in lines if line.left is not None}
    known = stocked(lines, fits, illustrative=illustrative)
    return Pigments(known, left, surface, None, base or Base(), fits)


def load_pigments(library: Source, shelf: Source | None = None) -> Pigments:
    """The pigments of a library that `Pigments.save`, `hidewright characterise` or `hidewright learn` wrote; with a `shelf` CSV, only those on it.

    >>> import tempfile, pathlib
    >>> from hidewright import api
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = pathlib.Path(folder, "library.json")
    ...     api.generic_pigments("PW6", "PBk7").save(path)
    ...     len(api.load_pigments(path).pigments)
    2
    """
    return on_shelf(read_source(library, read_library), read_source(shelf, read_shelf) if shelf else ())


def generic_pigments(*keys: str) -> Pigments:
    """The shipped illustrative pigments, or those of these keys: for looking round before there are drawdowns of your own.

    >>> from hidewright import api
    >>> [p.key for p in api.generic_pigments("PW6", "PBk7").pigments]
    ['PW6', 'PBk7']
    """
    known = {one.pigment.key: one.pigment for one in generic_set()}
    strange = [key for key in keys if key not in known]
    if strange:
        raise Refusal(f"No generic pigment is called {strange[0]}.", remedy=f"There are {', '.join(known)}.")
    return Pigments(tuple(known[key] for key in (keys or known)))
