"""Film build: from a dry film to mL on a square metre.

Arithmetic only: one litre spread one µm thick covers 1000 m²; one US gallon one mil thick covers 1604.17 ft² (231 in³ / 0.001 in / 144). Practical cover is
theoretical cover times the share that lands.
"""

from hidewright.refusals import Refusal


def _share(value: float, name: str) -> None:
    if not 0 < value <= 1:
        raise Refusal(f"{value:g} is no share.", where=name, remedy="Write it from 0 to 1, such as 0.25.")


def ml_per_m2(microns: float, solids: float, transfer: float = 1.0) -> float:
    """mL of mix for 1 m² of dry film: DFT/(VS·TE). `microns` dry, `solids` volume solids 0..1, `transfer` share that lands 0..1."""
    _share(solids, "volume solids")
    _share(transfer, "transfer")
    return microns / (solids * transfer)
