"""Products from a CSV file and back.

The columns are the fields of `Product`; key, name and role must be there, the rest may be. Units may stand in a cell: "1 US gal" or "5 L" for a pack,
"8 h" for a pot life, "25 %" for a share.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any

from hidewright.refusals import Refusal
from hidewright.sheets import Row, SheetWriter, read_each, read_sheet
from hidewright.units import read_duration, read_number, read_volume

from .products import Product, Role

MOST_ROWS = 2000
"""Rows that are taken at once; a page of more could not be read by anybody."""

MUST = ("key", "name", "role")


def _share(text: str) -> float:
    return read_number(text.removesuffix("%")) / 100 if text.endswith("%") else read_number(text)


def _plain(text: str) -> float:
    sign, digits = (-1, text[1:]) if text[:1] in "-−" else (1, text)
    return sign * read_number(digits.removesuffix("%"))


def _pack(text: str) -> float:
    return read_volume(text.lower().replace("us gal", "gal"), "ml")


def _minutes(text: str) -> float:
    return read_duration(text, "min") / 60


def _days(text: str) -> float:
    return read_duration(text, "d") / 86400


READERS: Mapping[str, Callable[[str], float]] = {
    "density": _plain,
    "solids": _share,
    "pack": _pack,
    "ratio": _share,
    "pot_life": _minutes,
    "touch_dry": _minutes,
    "cure": _minutes,
    "lel": _plain,
    "flash": _plain,
    "limit_ppm": _plain,
    "voc": _plain,
    "molar_mass": _plain,
    "shelf": _days,
    "warm_cure": _minutes,
    "warm_at": _plain,
}
"""How each figure is read; an empty cell leaves it as `Product` has it."""

COLUMNS = (*MUST, "price", *READERS, "notes")


def read_figure(name: str, text: str) -> float:
    """A figure of a product as people write it; refuses with `where` naming it."""
    try:
        return READERS[name](text.strip())
    except Refusal as refusal:
        raise Refusal(refusal.what, where=name, remedy=refusal.remedy) from refusal


def read_price(text: str) -> Decimal:
    """Money from "118", "118,00", "1,250.00" or "1.250,00"; a currency sign is left out. Refuses what can be two amounts, such as "1,250"."""
    plain = re.sub(r"(?<=\d) (?=\d{3}(?!\d))", "", text.strip().strip("$€£ "))
    sign, digits = (-1, plain[1:]) if plain[:1] in ("-", "−") else (1, plain)
    try:
        value = sign * read_number(digits) if digits else 0.0
    except Refusal as refusal:
        raise Refusal(
            f"“{text[:20]}” is no price.", where="price", remedy="Write it like 118.00."
        ) from refusal
    return Decimal(re.sub(r"(\.\d\d\d*?)0+$", r"\1", f"{value:.6f}"))


def product_of_row(row: Row) -> Product:
    """The product of one row of cells by the names of its fields."""
    cells = row.cells
    role = cells.get("role", "").lower()
    if role not in set(Role):
        raise Refusal(
            f"The role “{role}” is not known.", where="role", remedy=f"Use one of {', '.join(Role)}."
        )
    facts: dict[str, Any] = {
        name: read_figure(name, cells[name]) for name in READERS if cells.get(name, "").strip()
    }
    price = read_price(cells.get("price", ""))
    return Product(
        cells["key"], cells["name"], Role(role), price=price, notes=cells.get("notes", ""), **facts
    )


def read_products(text: str) -> Mapping[str, Product]:
    """Products by key from a CSV text; raises `Refusals` by line and column."""
    sheet = read_sheet(text, most=MOST_ROWS, columns=", ".join(COLUMNS))
    sheet.expect(MUST, [c for c in COLUMNS if c not in MUST])
    return {product.key: product for product in read_each(sheet.rows, product_of_row, unique="key")}


def write_products(products: Iterable[Product]) -> str:
    """The products as a CSV text that `read_products` takes back unchanged."""
    writer = SheetWriter()
    writer.writerow(COLUMNS)
    for p in products:
        figures = [getattr(p, name) for name in READERS]
        shown = ["" if figure is None else f"{figure:.12g}" for figure in figures]
        writer.writerow([p.key, p.name, p.role, p.price, *shown, p.notes])
    return writer.getvalue()
