"""What there is to make a recipe of: how much is left in the bottles, leftover jars, and the lights it is judged under."""

import numpy as np

from hidewright.colour.light.cie import LIGHTS, Light, LightLike
from hidewright.refusals import Refusal
from hidewright.workshop.pigments import values as colour
from hidewright.workshop.pigments.models import Lamp


def lamps() -> list[Lamp]:
    """The lamps that were measured and not taken off the list."""
    return list(Lamp.objects.filter(removed=None))


def light_names() -> dict[str, str]:
    """Name in words of every light that may be chosen, by its name: CIE's, then the shop's own lamps."""
    return {**colour.LIGHT_NAMES, **{row.name: row.name for row in lamps()}}


def light_of(name: str) -> LightLike:
    """The light of that name: one of CIE's, or a lamp that was measured (also one taken off the list since)."""
    if name in LIGHTS:
        return name
    row = Lamp.objects.filter(name=name).first()
    if row is None:
        raise Refusal(f"The light {name} is not known.", where="Lights", remedy="Bring its spectrum again.")
    return Light(row.name, np.array(row.table))
