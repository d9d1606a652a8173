"""Film build: from a dry film to mL on a square metre, and back.

Arithmetic only: one litre spread one µm thick covers 1000 m²; one US gallon one mil thick covers 1604.17 ft² (231 in³ / 0.001 in / 144). Practical cover is
theoretical cover times the share that lands.
"""

from hidewright.refusals import Refusal
from hidewright.units import FOOT, MIL_UM, US_GALLON_ML


def _share(value: float, name: str) -> None:
    if not 0 < value <= 1:
        raise Refusal(f"{value:g} is no share.", where=name, remedy="Write it from 0 to 1, such as 0.25.")


def ml_per_m2(microns: float, solids: float, transfer: float = 1.0) -> float:
    """mL of mix for 1 m² of dry film: DFT/(VS·TE). `microns` dry, `solids` volume solids 0..1, `transfer` share that lands 0..1."""
    _share(solids, "volume solids")
    _share(transfer, "transfer")
    return microns / (solids * transfer)


def cover(microns: float, solids: float, transfer: float = 1.0) -> float:
    """m² that one litre covers: 1000·VS·TE/DFT(µm)."""
    return 1000.0 / ml_per_m2(microns, solids, transfer)


def cover_us(mils: float, solids: float, transfer: float = 1.0) -> float:
    """ft² that one US gallon covers: 1604.17·VS·TE/DFT(mil)."""
    return cover(mils * MIL_UM, solids, transfer) * US_GALLON_ML / 1000 / FOOT**2


def wet_um(dry: float, solids: float, thinner: float = 0.0) -> float:
    """Wet film in µm for a dry one: dry·(1 + thinner)/VS; `thinner` parts added to one part by volume."""
    _share(solids, "volume solids")
    return dry * (1.0 + thinner) / solids


def dry_um(wet_grams: float, density: float, solids: float) -> float:
    """Dry film in µm from g/m² wet on the face, g/mL and volume solids: 1 mL on 1 m² is 1 µm."""
    _share(solids, "volume solids")
    if density <= 0:
        raise Refusal("A density is above nothing.", where="density")
    return wet_grams / density * solids


def pigment_share(pigment_parts: float, clear_parts: float) -> float:
    """Share of the mix that is pigment dispersion: 1 part to 5 of clear is 1/6."""
    if pigment_parts < 0 or clear_parts < 0 or not pigment_parts + clear_parts:
        raise Refusal("Parts are not below nothing, and not all nothing.", where="parts")
    return pigment_parts / (pigment_parts + clear_parts)
