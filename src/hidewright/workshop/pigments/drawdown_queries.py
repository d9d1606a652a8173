"""What the form of a drawdown starts from: what can be in it, how the shop wrote the last one, and the card that was read last."""

import numpy as np

from hidewright.colour.learning.cup import BASE
from hidewright.colour.pigments.shop_films import WATER
from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.sides import CARD
from hidewright.takeoff.products import Role
from hidewright.workshop.pigments.models import Drawdown
from hidewright.workshop.pigments.values import base, base_row, entry_of
from hidewright.workshop.shelf.models import Pigment, Product

IN_A_MIX = (Role.BASE.value, Role.CLEAR.value, Role.CROSSLINKER.value)


def things_offered() -> list[tuple[str, str]]:
    """What can be in a mix, as key and name: the pigments, the base, water, other products that are mixed in."""
    pigments = [
        (row.key, str(row)) for row in Pigment.objects.filter(active=True, load=1.0).only("key", "name")
    ]
    clear = base_row()
    others = Product.objects.filter(active=True, role__in=IN_A_MIX, solids__gt=0).only("key", "name")
    more = [(row.key, row.name) for row in others if clear is None or row.pk != clear.pk]
    return [(BASE, base().name), *pigments, (WATER, "Water"), *more]


def begun(of: str = "") -> dict[str, str]:
    """How the shop wrote the last drawdown down: weight or volume, gauge or bar; grams and a gauge to begin with. `of`: the pigment that was asked for."""
    row = Drawdown.objects.exclude(mix="").order_by("-id").first()
    entry = entry_of(row) if row else None
    known = list(Pigment.objects.filter(active=True, load=1.0).values_list("key", flat=True))
    return {
        "unit": str(entry.mix.of or "g") if entry else "g",
        "how": str(entry.film.how) if entry else "wet",
        "thing0": of if of in known else known[0] if known else "",
        "thing1": BASE,
    }


def last_card() -> tuple[Reading, ...]:
    """The bare card as it was read for the last drawdown that counts; empty where there is none."""
    row = Drawdown.objects.filter(aside=None).order_by("-id").first()
    if row is None:
        return ()
    sides = {"black": row.black, "white": row.white}
    return tuple(Reading(CARD, np.array(read), {"over": side}) for side, read in sides.items())
