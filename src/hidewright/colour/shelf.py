"""The shop's shelf: which dispersions there are, their density, solids and price, and what was found about their colour."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

import numpy as np

from hidewright.refusals import Refusal
from hidewright.sheets import Row, read_each, read_sheet

from .pigments import Base, Fit, Pigment, dry_shares, mixed
from .recipes import Part

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
    sheet = read_sheet(text, columns=", ".join(COLUMNS))
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
        float(_within(row, "density", Decimal("0.5"), Decimal(6), "in g/mL, 0.5 to 6")),
        float(_within(row, "solids", Decimal("0.01"), Decimal(1), "as a share from 0.01 to 1")),
        _within(row, "price_per_litre", Decimal(0), Decimal(100000), "as money per litre") / 1000,
        row.get("note"),
        float(_within(row, LEFT, Decimal(0), Decimal(1000000), "in mL")) if row.get(LEFT) else None,
    )


def _within(row: Row, column: str, low: Decimal, high: Decimal, how: str) -> Decimal:
    written = row.get(column)
    try:
        value = Decimal(written)
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise Refusal(f"“{written[:30]}” is not a number.", where=column, remedy=f"Write it {how}.")
    if not low <= value <= high:
        raise Refusal(f"{written[:30]} is out of range.", where=column, remedy=f"Write it {how}.")
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
            "No pigment stands both on the shelf and in the drawdowns.",
            where="shelf",
            remedy="Use the same keys in both files.",
        )
    return found


def jar(
    key: str,
    name: str,
    volumes: Mapping[str, float],
    base_ml: float,
    pigments: Mapping[str, Pigment],
    base: Base,
) -> Pigment:
    """A leftover jar as a thing to pour: what is known of its contents, volumes in mL of each pigment and of base.

    Its `load` is the share of its volume that is pigment dispersion, so that mixes made with it keep inside the load window.
    """
    total = base_ml + sum(volumes.values())
    if total <= 0:
        raise Refusal("The jar is empty.", where=key)
    dry = (base_ml * base.solids + sum(v * pigments[k].solids for k, v in volumes.items())) / total
    shares = dry_shares(volumes, pigments, base, base_ml)
    k, s = mixed({name_: c * dry for name_, c in shares.items()}, pigments)
    grams = base_ml * base.density + sum(v * pigments[key_].density for key_, v in volumes.items())
    return Pigment(key, name, "", k, s, grams / total, dry, Decimal(0), load=sum(volumes.values()) / total)


@dataclass(frozen=True, slots=True, eq=False)
class Leftover:
    """A leftover jar on offer: as a thing to pour, how much of it there is in mL, and what a litre of it holds (base last)."""

    pigment: Pigment
    millilitres: float
    parts: tuple[Part, ...]


def leftover(
    key: str,
    name: str,
    millilitres: float,
    volumes: Mapping[str, float],
    base_ml: float,
    pigments: Mapping[str, Pigment],
    base: Base,
) -> Leftover:
    """A jar of so many mL whose contents are known (volumes in any one unit, of each pigment and of base)."""
    if millilitres <= 0:
        raise Refusal("The jar is empty.", where=key)
    poured = jar(key, name, volumes, base_ml, pigments, base)
    litre = 1000.0 / (base_ml + sum(volumes.values()))
    parts = [
        Part(k, pigments[k].name, v * litre, v * litre * pigments[k].density) for k, v in volumes.items()
    ]
    parts.append(Part(base.key, base.name, base_ml * litre, base_ml * litre * base.density))
    return Leftover(poured, millilitres, tuple(parts))


def unpacked(parts: Sequence[Part], leftovers: Sequence[Leftover]) -> tuple[Part, ...]:
    """A recipe's parts (base last) with what is in its jars instead of the jars: the same mix as pigments and base."""
    by_key = {one.pigment.key: one for one in leftovers}
    volumes: dict[str, tuple[str, float, float]] = {}
    for part in parts:
        inside = by_key.get(part.key)
        of = inside.parts if inside else (Part(part.key, part.name, 1000.0, 1000.0 * part.density),)
        for one in of:
            name, volume, mass = volumes.get(one.key, (one.name, 0.0, 0.0))
            share = part.volume / 1000.0
            volumes[one.key] = (name, volume + share * one.volume, mass + share * one.mass)
    base = parts[-1].key
    ordered = sorted(volumes, key=lambda key: (key == base, -volumes[key][1]))
    return tuple(Part(key, *volumes[key]) for key in ordered if volumes[key][1] > 0)


JAR_COLUMNS = ("name", "millilitres", "holds")
"""Columns of a list of jars: what stands on it, mL left, and its contents as volumes, such as "PW6=12 PBk7=0.5 base=60"."""


def read_jars(text: str, pigments: Mapping[str, Pigment], base: Base) -> tuple[Leftover, ...]:
    """Leftover jars from a CSV with the columns of `JAR_COLUMNS`; raises `Refusals` naming every line that must be put right."""
    sheet = read_sheet(text, columns=", ".join(JAR_COLUMNS))
    sheet.expect(JAR_COLUMNS, ("note",))

    def one(row: Row) -> Leftover:
        name = row.get("name")
        if not name:
            raise Refusal("The jar has no name.", where="name", remedy="Write what stands on it.")
        there = float(_within(row, "millilitres", Decimal("0.1"), Decimal(1000000), "in mL"))
        held = _held(row.get("holds"))
        clear = held.pop(base.key, 0.0)
        strange = sorted(set(held) - set(pigments))
        if strange or not held:
            raise Refusal(
                f"{', '.join(strange)} is not known." if strange else "The jar holds no pigment.",
                where="holds",
                remedy=f"Known are {', '.join([*pigments, base.key])}.",
            )
        return leftover(name, name, there, held, clear, pigments, base)

    return tuple(read_each(sheet.rows, one, unique="name"))


def _held(text: str) -> dict[str, float]:
    held: dict[str, float] = {}
    for part in text.split():
        key, _, value = part.partition("=")
        try:
            held[key] = float(value)
        except ValueError:
            held[key] = -1.0
        if not 0 < held[key] < 1e6:
            raise Refusal(
                f"“{part[:30]}” cannot be read.", where="holds", remedy="Write volumes like PW6=12 base=60."
            )
    return held
