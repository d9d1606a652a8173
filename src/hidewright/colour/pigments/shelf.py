"""The shop's shelf: which dispersions there are, their density, solids and price, and what was found about their colour."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

import numpy as np

from hidewright.refusals import Refusal
from hidewright.sheets import Row, read_each, read_sheet

from .drawdowns import Fit
from .pigment import Pigment

MOST_ROWS = 2000
"""Rows that are taken at once; a page of more could not be read by anybody."""

COLUMNS = ("key", "name", "index", "density", "solids", "price_per_litre")
"""Columns of the shelf's CSV: density g/mL of the dispersion, solids the share of its volume that stays (0..1), money per litre."""


LEFT = "millilitres"
"""A column that may be there: mL left of it; an empty cell means that there is enough."""


@dataclass(frozen=True, slots=True)
class ShelfLine:
    """One dispersion on the shelf, without its colour: density g/mL, solids 0..1, price money per mL, mL left (None: enough)."""

    key: str
    name: str
    index: str
    density: float
    solids: float
    price: Decimal
    note: str = ""
    left: float | None = None


def read_shelf(text: str) -> tuple[ShelfLine, ...]:
    """The shelf from a CSV with the columns of `COLUMNS`; raises `Refusals` naming every line and column that must be put right."""
    sheet = read_sheet(text, most=MOST_ROWS, columns=", ".join(COLUMNS))
    missing = [c for c in COLUMNS if c not in sheet.columns]
    if missing:
        raise Refusal(
            f"The columns {', '.join(missing)} are missing.",
            where="line 1",
            remedy="Name them in the first line.",
        )
    return tuple(read_each(sheet.rows, _line, unique="key"))


def _line(row: Row) -> ShelfLine:
    key = row.get("key")
    if not key:
        raise Refusal("The key is missing.", where="key", remedy="Give each a short name.")
    return ShelfLine(
        key,
        row.get("name") or key,
        row.get("index"),
        float(number_within(row, "density", Decimal("0.5"), Decimal(6), "in g/mL, 0.5 to 6")),
        float(number_within(row, "solids", Decimal("0.01"), Decimal(1), "as a share from 0.01 to 1")),
        number_within(row, "price_per_litre", Decimal(0), Decimal(100000), "as money per litre") / 1000,
        row.get("note"),
        float(number_within(row, LEFT, Decimal(0), Decimal(1000000), "in mL")) if row.get(LEFT) else None,
    )


def number_within(row: Row, column: str, low: Decimal, high: Decimal, how: str) -> Decimal:
    """A number of a row's column, from `low` to `high`; refuses anything else and says `how` to write it."""
    written = row.get(column)
    try:
        value = Decimal(written)
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise Refusal(f"“{written[:30]}” is not a number.", where=column, remedy=f"Write it {how}.")
    if not low <= value <= high:
        raise Refusal(f"{written[:30]} cannot be right.", where=column, remedy=f"Write it {how}.")
    return value


def stocked(
    shelf: tuple[ShelfLine, ...], fits: Mapping[str, Fit], *, illustrative: bool = False
) -> tuple[Pigment, ...]:
    """Pigments that stand on the shelf and were found from drawdowns; refuses when nothing is in both."""
    found = tuple(
        Pigment(
            line.key,
            line.name,
            line.index,
            fits[line.key].k,
            fits[line.key].s,
            line.density,
            line.solids,
            line.price,
            illustrative,
            np.stack([fits[line.key].k_sd, fits[line.key].s_sd]),
        )
        for line in shelf
        if line.key in fits
    )
    if not found:
        raise Refusal(
            "No pigment is both on the shelf and in the drawdowns.",
            where="shelf",
            remedy="Use the same keys in both files.",
        )
    return found
