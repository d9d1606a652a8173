"""Files in: a path is opened, a text is taken as it is, and every fault carries the file's name."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.reading.readings import read_drawdowns
from hidewright.refusals import Refusal
from hidewright.sheets import file_text, read_file
from hidewright.survey import Piece
from hidewright.survey.csv_in import read_pieces
from hidewright.takeoff.products import Product
from hidewright.takeoff.products_csv import read_products

_T = TypeVar("_T")

Source = str | Path | bytes
"""A file: its path (`Path`, or a `str` without a line break), its text (a `str` with a line break) or its bytes."""


def read_source(source: Source, read: Callable[[str], _T]) -> _T:
    """What `read` makes of a path, a text or bytes; refuses a path where no file is."""
    if isinstance(source, bytes):
        return read(file_text(source))
    if isinstance(source, str) and "\n" in source:
        return read(source)
    path = Path(source)
    if not path.is_file():
        raise Refusal(
            "There is no such file.",
            where=str(path)[:200],
            remedy="Give its path, or its text with at least one line break.",
        )
    return read_file(path, read)


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


def load_pieces(source: Source, *, unit: str = "mm") -> tuple[Piece, ...]:
    """The pieces of a CSV with key, name, shape, length and width (and more; see `survey.csv_in`); a bare number is in `unit`.

    Raises `Refusals` with every fault, by line and column.

    >>> from hidewright import api
    >>> piece, = api.load_pieces("key,name,shape,length,width\\nA,panel,panel,600,500\\n")
    >>> round(piece.area, 3)  # m²
    0.3
    """
    return read_source(source, lambda text: read_pieces(text, unit))


def load_products(source: Source) -> dict[str, Product]:
    """Products by key, from a CSV with key, name, role and the figures of their data sheets. Raises `Refusals`.

    >>> from hidewright import api
    >>> api.load_products(api.example("products.csv"))["base"].solids  # share of its volume that stays, 0..1
    0.25
    """
    return dict(read_source(source, read_products))


def load_drawdowns(source: Source) -> tuple[Drawdown, ...]:
    """Drawdowns from a CSV with name, shares, microns, over (black or white) and the bands; rows named `card` are the bare card. Raises `Refusals`.

    >>> from hidewright import api
    >>> drawn = api.load_drawdowns(api.example("drawdowns.csv"))
    >>> drawn[0].name, drawn[0].microns  # dry µm
    ('PW6 masstone', 45.0)
    """
    return read_source(source, read_drawdowns)
