"""Volatile organic compounds of what was used: grams a litre of material, and less water and exempt compounds.

Source: the form of US EPA Method 24 (40 CFR 60 appendix A-7) and of the coating rules built on it: VOC = ρ (Wv − Ww − Wx);
less water and exempt: divided by 1 − ρ Ww/ρw − ρ Wx/ρx. Rules differ by place: a figure to put beside the local rule, no more.
"""

from dataclasses import dataclass

from hidewright.refusals import Refusal

WATER_DENSITY = 0.997
"""g/mL at 25 °C."""


@dataclass(frozen=True, slots=True)
class Exempt:
    """A compound that the local rule does not count: `share` by mass, `density` g/mL. Which ones are exempt is the local rule's matter."""

    share: float
    density: float


@dataclass(frozen=True, slots=True)
class Voc:
    """g/L of material as supplied, and g/L less water and exempt compounds."""

    of_material: float
    less_water: float


def voc(
    density: float,
    volatile: float,
    water: float,
    exempt: tuple[Exempt, ...] = (),
    *,
    water_density: float = WATER_DENSITY,
) -> Voc:
    """VOC of a material of `density` g/mL with mass shares `volatile` (all that leaves), `water` and the exempt ones (each 0..1).

    Refuses shares that do not fit together, and a material that is all water and exempt compounds (nothing would be left to divide by).
    """
    shares = [volatile, water, *(e.share for e in exempt)]
    if any(not 0 <= share <= 1 for share in shares) or sum(shares[1:]) > volatile + 1e-12:
        raise Refusal(
            "The shares do not fit together: water and exempt compounds are a part of what is volatile.",
            where="shares",
            remedy="Check them against the data sheet.",
        )
    if not 0.5 <= density <= 3 or any(not 0.3 <= e.density <= 3 for e in exempt):
        raise Refusal("A density cannot be right.", where="density", remedy="It lies from 0.5 to 3 g/mL.")
    grams = 1000 * density * (volatile - water - sum(e.share for e in exempt))
    room = 1 - density * water / water_density - sum(density * e.share / e.density for e in exempt)
    if room <= 1e-9:
        raise Refusal("Nothing but water and exempt compounds is in it.", where="shares")
    return Voc(grams, grams / room)


def emitted(volume_ml: float, of_material: float) -> float:
    """g of VOC that leave `volume_ml` mL of a material of `of_material` g/L."""
    return volume_ml / 1000 * of_material
