"""What a list of products can hold, in the words that shops and data sheets write (common practice, no source), and how its rows become products."""

import re

from hidewright.lists.cells import CellRefusal
from hidewright.lists.kinds import ListKind, Meaning, Sort
from hidewright.refusals import Refusal
from hidewright.sheets import Row

from .products import Product
from .products_csv import product_of_row

_ROLES = {
    "base": ("clear base", "binder", "resin", "medium", "bindemittel", "pigment base", "base coat", "extender"),
    "clear": ("top coat", "topcoat", "finish", "lacquer", "klarlack", "clear coat", "clearcoat", "top"),
    "crosslinker": ("x-link", "xlink", "cross linker", "cross-linker", "hardener", "catalyst", "härter", "vernetzer"),
    "stripper": ("strip", "stripping gel", "paint remover", "remover", "abbeizer"),
    "cleaner": ("prep", "wash", "degreaser", "reiniger", "cleaning", "deglazer"),
    "solvent": ("thinner", "reducer", "alcohol", "lösemittel", "losemittel", "ipa"),
    "primer": ("adhesion promoter", "grip", "sealer", "grundierung", "adhesion primer"),
    "filler": ("repair compound", "spachtel", "heavy filler", "paste", "grain filler"),
}  # fmt: skip


def _completed(rows: tuple[Row, ...]) -> tuple[Row, ...]:
    return tuple(_with_key(row) for row in rows)


def _with_key(row: Row) -> Row:
    key = re.sub(r"[^\w-]+", "-", (row.get("key") or row.get("name")).lower()).strip("-_")[:40]
    return Row(row.line, {**row.cells, "key": key})


def _doubles(made: tuple[tuple[int, Product], ...]) -> tuple[tuple[int, Refusal], ...]:
    first: dict[str, int] = {}
    faults = []
    for line, product in made:
        if first.setdefault(product.key, line) != line:
            faults.append(
                (
                    line,
                    CellRefusal(
                        f"{product.key} is on line {first[product.key]} too.",
                        where="key",
                        remedy="Give each its own, or leave one out.",
                        proposal=f"{product.key}-2",
                    ),
                )
            )
    return tuple(faults)


PRODUCTS = ListKind(
    "products",
    "products",
    "product",
    (
        Meaning("key", "Key", words=("code", "sku", "article", "art no", "item no", "id", "nr", "kennung")),
        Meaning("name", "Name", words=("product", "item", "description", "material", "produkt", "bezeichnung", "what"), must=True),
        Meaning("role", "What it is for", Sort.CHOICE, ("use", "type", "kind", "category", "for", "purpose", "art", "zweck", "typ"), choices=_ROLES, fill_from="name"),
        Meaning("price", "Price of a pack", Sort.MONEY, ("cost", "price", "preis", "unit price", "each", "list price")),
        Meaning("density", "Density, g/mL", Sort.NUMBER, ("specific gravity", "sg", "dichte", "g/ml", "kg/l")),
        Meaning("solids", "Stays when dry", Sort.SHARE, ("volume solids", "solids by volume", "vol solids", "festkörper", "nv")),
        Meaning("pack", "Sold in packs of", Sort.VOLUME, ("size", "pack size", "container", "volume", "gebinde", "can", "bottle", "content"), unit="ml"),
        Meaning("ratio", "Crosslinker: share of the mix", Sort.SHARE, ("mix ratio", "dosage", "zugabe", "addition")),
        Meaning("pot_life", "Pot life", Sort.DURATION, ("potlife", "topfzeit", "working time"), unit="min"),
        Meaning("touch_dry", "Touch dry after", Sort.DURATION, ("dry to touch", "touch", "staubtrocken", "dust dry", "dry"), unit="min"),
        Meaning("cure", "Turned or moved after", Sort.DURATION, ("cured", "full dry", "through dry", "durchtrocken", "handling"), unit="min"),
        Meaning("lel", "Lower explosive limit, %", Sort.NUMBER, ("lel", "ueg", "lower explosive limit")),
        Meaning("flash", "Flash point, °C", Sort.NUMBER, ("flashpoint", "flammpunkt")),
        Meaning("limit_ppm", "Exposure limit, ppm", Sort.NUMBER, ("ppm", "oel", "pel", "rel", "agw")),
        Meaning("voc", "VOC, g/L", Sort.NUMBER, ("voc g/l", "voc content")),
        Meaning("molar_mass", "Molar mass, g/mol", Sort.NUMBER, ("molecular weight", "mw", "molmasse")),
        Meaning("shelf", "Keeps once opened", Sort.DURATION, ("shelf life", "keeps", "haltbarkeit", "shelf life opened"), unit="d"),
        Meaning("warm_cure", "Moved after, when warm", Sort.DURATION, ("cure warm", "forced cure"), unit="min"),
        Meaning("warm_at", "That time is for, °C", Sort.NUMBER, ("warm at", "forced at")),
        Meaning("notes", "Notes", words=("note", "remark", "comment", "bemerkung")),
    ),
    one=lambda row: (product_of_row(row),),
    completed=_completed,
    together=_doubles,
)  # fmt: skip
"""The list of products."""
