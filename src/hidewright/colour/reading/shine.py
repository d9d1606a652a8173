"""A reading that was taken with the shine (specular component) beside pigments that were read without it, or the other way: noticed, said, and brought alike.

The shine of a smooth film adds k1 to every band (J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727): a dark colour that is read the other way is off by several ΔE00 without a word from the instrument.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.far import off_by
from hidewright.colour.pigments.film import Surface

from .readings import Reading

Array = NDArray[np.float64]
BANDS_SD = 4.0
"""How many sd a single band may lie below the surface alone before it is no noise (convention of this tool)."""


def darker_than_surface(reading: Reading, surface: Surface) -> bool:
    """True where a spectrum reads darker than the surface alone would, as a whole or in a band beyond noise: it was read without the shine, whatever was declared."""
    if not (reading.is_spectrum and surface.specular):
        return False
    below = reading.reflectance - surface.k1
    return bool(below.mean() < 0.0 or np.min(below + BANDS_SD * np.asarray(reading.sd)) < 0.0)


def read_alike(reading: Reading, surface: Surface) -> tuple[Reading, tuple[str, ...]]:
    """The reading as the pigments' instrument setting would have given it, and what to say about it; unchanged and silent where nothing speaks against it.

    `surface` is that of the pigments when dry. A reading that declares nothing is taken for read alike, unless it is darker than the surface alone. Wet ones are left as they are: water
    shines less.
    """
    wet = "wet" in (reading.conditions.state, reading.facts.get("state", ""))
    if wet or not reading.is_spectrum:
        return reading, ()
    declared = reading.conditions.specular
    if darker_than_surface(reading, surface):
        words = f"{reading.name} is darker than the shine of the film alone ({surface.k1:.0%}): it was read without the shine"
        said = ", though it says with" if declared else ""
        return _turned(reading, surface, words + said)
    if declared is None or declared == surface.specular:
        return reading, ()
    way = ("with", "without") if declared else ("without", "with")
    return _turned(reading, surface, f"{reading.name} was read {way[0]} the shine, the pigments {way[1]} it")


WORTH_SAYING = 0.3
"""ΔE00 below which it does not matter whether the shine was in a reading: under what an eye sees side by side."""


def shine_stated(reading: Reading, surface: Surface) -> str:
    """How a reading (already `read_alike`) was taken, in words, and how far off it is if that is wrong; empty for what holds no spectrum, and for a wet one."""
    wet = "wet" in (reading.conditions.state, reading.facts.get("state", ""))
    if wet or not reading.is_spectrum:
        return ""
    way = "with" if surface.specular else "without"
    if reading.conditions.specular is not None:
        return f"Read {way} the shine, like the pigments."
    there = -surface.k1 if surface.specular else surface.k1
    turned = np.clip(reading.reflectance + there, 1e-4, 1.3)
    off = float(delta_e00(lab(reading.reflectance), lab(turned)))
    if off < WORTH_SAYING:
        return f"Taken as read {way} the shine, like the pigments; here it matters little."
    return f"Its file does not say how the shine was read: taken as read {way} the shine, like the pigments. If that is wrong, it is off by {off_by(off)}."


def _turned(reading: Reading, surface: Surface, why: str) -> tuple[Reading, tuple[str, ...]]:
    there = surface.k1 if surface.specular else -surface.k1
    turned = np.clip(reading.reflectance + there, 1e-4, 1.3)
    off = float(delta_e00(lab(reading.reflectance), lab(turned)))
    conditions = replace(reading.conditions, specular=surface.specular)
    verb = "added" if there > 0 else "taken off"
    words = f"{why}. {surface.k1:.1%} {verb} in every band: as it was it would be off by {off_by(off)}. Better read it again, the same way as the pigments."
    return replace(reading, reflectance=turned, conditions=conditions), (words,)
