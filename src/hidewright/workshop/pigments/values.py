"""Colour rows as values: pigments, readings, the target in force, the recipes found and the one chosen."""

from collections.abc import Sequence
from decimal import Decimal

import numpy as np

from hidewright.colour.learning.cup import BASE
from hidewright.colour.light import cie
from hidewright.colour.pigments.drawdowns import Drawdown as DrawdownValue
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.pigment import Base, Pigment, mixed
from hidewright.colour.pigments.shop_films import (
    DENSITY_SD,
    SOLIDS_SD,
    USUAL_DENSITY,
    USUAL_SOLIDS,
    Thing,
    Things,
    Turned,
    things_of,
    turned,
)
from hidewright.lists.mixes import Entry, read_film, read_mix
from hidewright.refusals import Refusal
from hidewright.takeoff.products import Role
from hidewright.workshop.pigments import models as rows
from hidewright.workshop.shelf import models as rows_models
from hidewright.workshop.shelf.models import Product
from hidewright.workshop.shop.page_cache import remembered

LIGHTS = ("D65", "A", "FL11")
LIGHT_NAMES = {
    "D65": "daylight (D65)",
    "A": "lamp light (A)",
    "FL11": "shop tubes (FL11)",
    "LED-B1": "LED, warm (LED-B1)",
    "LED-B2": "LED, warm white (LED-B2)",
    "LED-B3": "LED, neutral (LED-B3)",
    "LED-B4": "LED, cool (LED-B4)",
    "LED-B5": "LED, daylight (LED-B5)",
}
CLEAR_HEX = "#e9e6df"
"""How the clear base is shown: the milk it is while wet."""


@remembered
def setup() -> rows.ColourSetup:
    """How the shop reads and coats; the shipped starting values until somebody changes them."""
    return rows.ColourSetup.objects.filter(pk=1).first() or rows.ColourSetup(pk=1)


def surface() -> Surface:
    """The surface as the shop's instrument sees it."""
    return Surface(specular=setup().specular)


@remembered
def base_row() -> Product | None:
    """The first clear base on the list of products."""
    return Product.objects.filter(active=True, role=Role.BASE.value).order_by("id").first()


def base() -> Base:
    """The clear base that recipes are made with: the first one on the list of products, or the shipped starting values."""
    row = base_row()
    if row is None:
        return Base()
    price = Decimal(row.price) / Decimal(str(row.pack)) if row.pack else Decimal(0)
    return Base(BASE, row.name, row.density, row.solids, price)


def pigment_value(row: rows_models.Pigment, *, learned: bool = True) -> Pigment | None:
    """One pigment as the engine takes it, with what was learned since (or as drawn down); None until it was characterised."""
    if row.k is None or row.s is None:
        return None
    spread = np.array([row.k_sd, row.s_sd]) if row.k_sd and row.s_sd else None
    told = row.learned if learned and row.learned else {"k": row.k, "s": row.s}
    return Pigment(
        row.key,
        row.name,
        row.index,
        np.array(told["k"]),
        np.array(told["s"]),
        density=row.density,
        solids=row.solids,
        price=Decimal(row.price) / 1000,
        illustrative=bool(row.provenance),
        covariance=spread,
        load=row.load,
    )


@remembered
def pigments(*, on_shelf: bool = False) -> tuple[Pigment, ...]:
    """Every listed pigment whose K and S are known, in the shop's order; with `on_shelf` only those that are there. A leftover of mixed colour is none."""
    listed = rows_models.Pigment.objects.filter(active=True, load=1.0)
    if on_shelf:
        listed = listed.filter(on_shelf=True)
    return tuple(value for row in listed if (value := pigment_value(row)) is not None)


@remembered
def things() -> Things:
    """What can be in a mix that was weighed: pigments and products with what is noted of them, the base, water. A usual density that nobody changed counts as one, and with it usual solids."""
    listed = {
        row.key: Thing(
            row.key,
            row.name,
            row.density,
            row.solids,
            density_sd=DENSITY_SD if row.density == USUAL_DENSITY else 0.0,
            solids_sd=SOLIDS_SD if (row.density, row.solids) == (USUAL_DENSITY, USUAL_SOLIDS) else 0.0,
        )
        for row in rows_models.Pigment.objects.all()
    }
    clear = base_row()
    for product in Product.objects.filter(density__gte=0.5):
        key = BASE if clear is not None and product.pk == clear.pk else product.key
        listed.setdefault(product.key, Thing(key, product.name, product.density, product.solids, False))
    return things_of(listed, base() if clear is not None else None)


def entry_of(row: rows.Drawdown) -> Entry | None:
    """How the shop wrote a drawdown down; None where shares and dry µm were given."""
    return Entry(read_mix(row.mix), read_film(row.film)) if row.mix else None


@remembered
def turned_of(row: rows.Drawdown) -> Turned | Refusal | None:
    """What a drawdown's weights and gauges come to with the densities and solids of now, or why they come to nothing any more; None where there are none."""
    entry = entry_of(row)
    if entry is None:
        return None
    try:
        return turned(entry, things())
    except Refusal as refusal:
        return refusal


def drawdown_value(row: rows.Drawdown) -> DrawdownValue:
    """One drawdown as the engine takes it, its weights and gauges turned with the densities and solids of now; where those no longer do, as they came to last."""
    made = turned_of(row)
    now = made if isinstance(made, Turned) else None
    return DrawdownValue(
        row.name,
        now.shares if now else row.shares,
        now.microns if now else row.microns,
        np.array(row.over_black),
        np.array(row.over_white),
        np.array(row.black),
        np.array(row.white),
        row.readings,
        now.doubts if now else (),
        entry_of(row),
    )


def drawdowns() -> tuple[DrawdownValue, ...]:
    """The drawdowns that count."""
    return tuple(drawdown_value(row) for row in rows.Drawdown.objects.filter(aside=None))


def masstone_hex(pigment: Pigment) -> str:
    """The pigment alone, opaque, as a screen colour."""
    return cie.hex_from_reflectance(seen(opaque(pigment.k, pigment.s), Surface()))


def whitest(known: Sequence[Pigment]) -> Pigment | None:
    """The pigment that is lightest alone, by which tints are shown; None when none is light."""
    lightness = [(float(cie.lab(seen(opaque(p.k, p.s), Surface()))[0]), p) for p in known]
    best = max(lightness, key=lambda found: found[0], default=(0.0, None))
    return best[1] if best[0] > 80 else None


def tint_hex(pigment: Pigment, white: Pigment, part: float = 0.1) -> str:
    """`part` of the pigment in white by volume, opaque, as a screen colour."""
    known = {pigment.key: pigment, white.key: white}
    k, s = mixed({pigment.key: part, white.key: 1.0 - part}, known)
    return cie.hex_from_reflectance(seen(opaque(k, s), Surface()))


def hexes() -> dict[str, str]:
    """Part key → screen colour: the masstone of each pigment, and the base."""
    return {**{p.key: masstone_hex(p) for p in pigments()}, base().key: CLEAR_HEX}
