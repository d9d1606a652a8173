"""Products: what the shop pours besides pigments, with the facts of their data sheets.

Every figure is the user's own, copied from the product's data sheet, which rules. Money is Decimal.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any

from hidewright.colour.readings import Row, read_rows
from hidewright.refusals import Refusal, Refusals


class Role(StrEnum):
    """What a product is for."""

    BASE = "base"
    CLEAR = "clear"
    CROSSLINKER = "crosslinker"
    STRIPPER = "stripper"
    CLEANER = "cleaner"
    SOLVENT = "solvent"
    PRIMER = "primer"
    FILLER = "filler"


@dataclass(frozen=True, slots=True)
class Product:
    """One product.

    `density` g/mL; `solids` volume share that stays when dry; `pack` mL in a pack; `price` money a pack; `ratio` share of the mix it is added to
    (crosslinkers); `pot_life` min after crosslinking (None: no limit given); `touch_dry`, `cure` min at 20 °C and 50 %; `lel` % by volume, `flash` °C,
    `limit_ppm` the exposure limit on its data sheet (None: not given).
    """

    key: str
    name: str
    role: Role
    density: float = 1.0
    solids: float = 0.0
    pack: float = 1000.0
    price: Decimal = Decimal("0")
    ratio: float = 0.0
    pot_life: float | None = None
    touch_dry: float = 30.0
    cure: float = 720.0
    lel: float | None = None
    flash: float | None = None
    limit_ppm: float | None = None
    notes: str = ""

    def __post_init__(self) -> None:
        if not self.key or not self.name:
            raise Refusal("A product needs a key and a name.", where="key")
        for field, value, low, high in (
            ("density", self.density, 0.5, 3.0), ("solids", self.solids, 0.0, 1.0), ("pack", self.pack, 1.0, 1e6), ("ratio", self.ratio, 0.0, 1.0),
            ("touch_dry", self.touch_dry, 0.0, 20000.0), ("cure", self.cure, 0.0, 50000.0),
        ):  # fmt: skip
            if not low <= value <= high:
                raise Refusal(
                    f"{value:g} is out of range.", where=field, remedy=f"It lies from {low:g} to {high:g}."
                )
        if self.price < 0:
            raise Refusal("A price is not below nothing.", where="price")
        if self.role is Role.CROSSLINKER and not self.ratio:
            raise Refusal(
                "A crosslinker needs its ratio.",
                where="ratio",
                remedy="Write the share of the mix, such as 0.03, as its data sheet says.",
            )


_NUMBERS = {"density": 1.0, "solids": 0.0, "pack": 1000.0, "ratio": 0.0, "touch_dry": 30.0, "cure": 720.0}
_MAYBE = ("pot_life", "lel", "flash", "limit_ppm")


def _float(row: Row, column: str, default: float | None) -> float | None:
    text = row.cells.get(column, "")
    if not text:
        return default
    try:
        return float(text.replace(",", "."))
    except ValueError as error:
        raise Refusal(f"“{text[:20]}” is not a number.", where=column) from error


def _product(row: Row) -> Product:
    numbers: dict[str, float] = {
        name: _float(row, name, default) or 0.0 for name, default in _NUMBERS.items()
    }
    maybe = {name: _float(row, name, None) for name in _MAYBE}
    try:
        role = Role(row.cells.get("role", "").lower())
    except ValueError as error:
        raise Refusal(
            f"The role “{row.cells.get('role', '')}” is not known.",
            where="role",
            remedy=f"Use one of {', '.join(Role)}.",
        ) from error
    try:
        price = Decimal(row.cells.get("price", "") or "0")
    except InvalidOperation as error:
        raise Refusal("The price is not a number.", where="price") from error
    facts: dict[str, Any] = {**numbers, **maybe}
    return Product(
        row.cells.get("key", ""),
        row.cells.get("name", ""),
        role,
        price=price,
        notes=row.cells.get("notes", ""),
        **facts,
    )


def read_products(text: str) -> Mapping[str, Product]:
    """Products by key from a CSV text (columns as the fields of `Product`); raises `Refusals` by line and column."""
    columns, rows = read_rows(text)
    if not {"key", "name", "role"} <= set(columns):
        raise Refusal("The columns key, name and role must be there.", where="line 1")
    faults: list[Refusal] = []
    found: dict[str, Product] = {}
    for row in rows:
        try:
            product = _product(row)
        except Refusal as refusal:
            faults.append(
                Refusal(refusal.what, where=f"line {row.line}, column {refusal.where}", remedy=refusal.remedy)
            )
            continue
        if product.key in found:
            faults.append(
                Refusal(f"The key {product.key} stands there twice.", where=f"line {row.line}, column key")
            )
        found[product.key] = product
    if faults:
        raise Refusals(faults)
    return found
