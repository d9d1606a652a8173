"""Leftovers: a jar of mixed colour as one more thing to make a recipe of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from hidewright.colour.pigments.pigment import Base, Pigment, dry_shares, mixed
from hidewright.colour.pigments.shelf import number_within
from hidewright.refusals import Refusal
from hidewright.sheets import Row, read_each, read_sheet

from .recipe import Part

MOST_ROWS = 2000
"""Rows that are taken at once; a page of more could not be read by anybody."""


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
    if not 0 < millilitres < 1e9:
        raise Refusal(
            "The jar is empty, or what is left of it is no amount.", where=key, remedy="Write the mL in it."
        )
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
    sheet = read_sheet(text, most=MOST_ROWS, columns=", ".join(JAR_COLUMNS))
    sheet.expect(JAR_COLUMNS, ("note",))

    def one(row: Row) -> Leftover:
        name = row.get("name")
        if not name:
            raise Refusal("The jar has no name.", where="name", remedy="Write what is printed on it.")
        there = float(number_within(row, "millilitres", Decimal("0.1"), Decimal(1000000), "in mL"))
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
