"""Files in: a path is opened, a text is taken as it is, and every fault carries the file's name."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TypeVar

from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.shelf import read_shelf
from hidewright.colour.pigments.shop_films import shelf_things
from hidewright.colour.reading.readings import drawdowns_of, read_drawdowns
from hidewright.colour.reading.readings_in import DRAWDOWNS
from hidewright.lists.draft import Draft
from hidewright.lists.kinds import ListKind
from hidewright.lists.taking import read_list
from hidewright.refusals import Refusal
from hidewright.sheets import file_text, named, read_bytes
from hidewright.survey import Piece
from hidewright.survey.csv_in import read_pieces
from hidewright.survey.pieces_in import PIECES
from hidewright.takeoff.products import Product
from hidewright.takeoff.products_csv import read_products
from hidewright.takeoff.products_in import PRODUCTS

_T = TypeVar("_T")

Source = str | Path | bytes
"""A file: its path (`Path`, or a `str` without a line break), its text (a `str` with a line break) or its bytes."""


def read_source(source: Source, read: Callable[[str], _T]) -> _T:
    """What `read` makes of a path, a text or bytes; refuses a path where no file is."""
    return _opened(source, lambda data: read(file_text(data)))


def list_source(
    source: Source,
    kind: ListKind,
    read: Callable[[str], _T],
    values: Callable[[Draft], _T],
    *,
    columns: Mapping[str, str] | None = None,
    words: Mapping[str, str] | None = None,
    unit: str = "",
) -> _T:
    """A list as `lists.taking.read_list` takes it, out of a path (a spreadsheet too), a text or bytes."""
    return _opened(
        source,
        lambda data: read_list(data, kind, read, values, columns=columns, words=words, unit=unit),
    )


def _opened(source: Source, take: Callable[[bytes], _T]) -> _T:
    """What `take` makes of the bytes."""
    if isinstance(source, bytes):
        return take(source)
    if isinstance(source, str) and "\n" in source:
        return take(source.encode(errors="replace"))
    path = Path(source)
    if not path.is_file():
        raise Refusal(
            "There is no such file.",
            where=str(path)[:200],
            remedy="Give its path, or its text with at least one line break.",
        )
    return named(path, lambda: take(read_bytes(path)))


def example(name: str) -> Path:
    """The path of one of the shipped example files, such as `pieces.csv`: an invented rail car, nothing in it was measured.

    >>> from hidewright import api
    >>> api.example("pieces.csv").name
    'pieces.csv'
    """
    from hidewright import demo

    path = Path(demo.__file__).parent / name
    if not path.is_file() or path.suffix == ".py":
        shipped = sorted(each.name for each in path.parent.glob("*.*") if each.suffix != ".py")
        raise Refusal(f"No example is called {name}.", remedy=f"There are {', '.join(shipped)}.")
    return path


def load_pieces(
    source: Source,
    *,
    unit: str = "",
    columns: Mapping[str, str] | None = None,
    words: Mapping[str, str] | None = None,
) -> tuple[Piece, ...]:
    """The pieces of a spreadsheet or a CSV, in our columns (see `survey.csv_in`) or any others, as the pages take them.

    A bare number is in the unit its heading names, else in `unit`; without one in mm where the columns are ours, and elsewhere it is refused. `columns`: heading → what it
    means, such as `{"How long": "length in cm", "Price": "-"}`. `words`: what words of the list stand for, such as `{"lee board": "panel"}`. Raises `Refusals` with every
    fault, by line and column; nothing that is only guessed is taken.

    >>> from hidewright import api
    >>> piece, = api.load_pieces("key,name,shape,length,width\\nA,panel,panel,600,500\\n")
    >>> round(piece.area, 3)  # m²
    0.3
    >>> foreign = "Part;Sort;Long;Wide (cm)\\nLid;flap;60;50\\n"
    >>> lid, = api.load_pieces(foreign, columns={"Sort": "shape", "Long": "length in cm"}, words={"flap": "panel"})
    >>> lid.name, round(lid.area, 3)
    ('Lid', 0.3)
    """
    return list_source(
        source,
        PIECES,
        lambda text: read_pieces(text, unit or "mm"),
        lambda draft: draft.values,
        columns=columns,
        words=words,
        unit=unit,
    )


def load_products(
    source: Source, *, columns: Mapping[str, str] | None = None, words: Mapping[str, str] | None = None
) -> dict[str, Product]:
    """Products by key, from a spreadsheet or a CSV in our columns (key, name, role and the figures of data sheets) or any others; see `load_pieces`. Raises `Refusals`.

    >>> from hidewright import api
    >>> api.load_products(api.example("products.csv"))["base"].solids  # share of its volume that stays, 0..1
    0.25
    """
    return list_source(
        source,
        PRODUCTS,
        lambda text: dict(read_products(text)),
        lambda draft: {product.key: product for product in draft.values},
        columns=columns,
        words=words,
    )


def load_drawdowns(
    source: Source,
    *,
    columns: Mapping[str, str] | None = None,
    words: Mapping[str, str] | None = None,
    shelf: Source | None = None,
    base: Base | None = None,
) -> tuple[Drawdown, ...]:
    """Drawdowns from a spreadsheet or a CSV with name, shares, microns, over (black or white) and the bands, or other columns for them; see `load_pieces`.

    A shop's columns do as well: grams of each (“PW6 12.4 g; base 60 g”), per cent by weight or volume, a wet film (µm, mil), the gap of a bar. They are turned into shares of
    the dry film and dry µm with the densities and volume solids of `shelf` (as `characterise` takes it) and of `base`, else usual figures; each drawdown's `doubts` say what
    that may be off by. Rows named `card` are the bare card. Raises `Refusals`.

    >>> from hidewright import api
    >>> drawn = api.load_drawdowns(api.example("drawdowns.csv"))
    >>> drawn[0].name, drawn[0].microns  # dry µm
    ('PW6 masstone', 45.0)
    """
    things = shelf_things(read_source(shelf, read_shelf) if shelf is not None else (), base)
    return list_source(
        source,
        DRAWDOWNS,
        lambda text: read_drawdowns(text, things),
        lambda draft: drawdowns_of(draft.values, things),
        columns=columns,
        words=words,
    )
