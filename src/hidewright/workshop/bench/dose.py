"""Today's spraying as gun loads: what the day's list still wants of crosslinked colour, session by session."""

from dataclasses import dataclass

from hidewright.mixing.grain import HONEST
from hidewright.mixing.ledger import volume
from hidewright.mixing.portions import crosslinker_for
from hidewright.takeoff.products import Product, Role
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shelf import vessel_queries as mixing
from hidewright.workshop.shelf.vessel_queries import VesselState


@dataclass(frozen=True, slots=True)
class Dose:
    """What of the shop's crosslinker goes into a vessel: mL and g for what is in it, by its data sheet's ratio; `step` g of the balance."""

    product: Product
    millilitres: float
    step: float

    @property
    def grams(self) -> float:
        """On the balance, in whole steps of it, one at least."""
        steps = max(1, round(self.millilitres * self.product.density / self.step))
        return round(steps * self.step, 6)

    @property
    def small(self) -> bool:
        """Half a step of the balance is more of it than may be off."""
        return 0.5 * self.step > HONEST * self.millilitres * self.product.density

    @property
    def percent(self) -> float:
        """Parts to 100 of colour."""
        return 100 * self.product.ratio


def dose_for(state: VesselState) -> Dose | None:
    """The dose for a gun load as it stands; None where the shop lists no crosslinker with a pot life, or none is wanted."""
    linker = products.first_of(Role.CROSSLINKER)
    if linker is None or linker.pot_life is None or state.crosslinked or not state.volume:
        return None
    held = volume(mixing.ledger_of([state.row]), state.row.key)
    return Dose(linker, crosslinker_for(held, linker.ratio) / 1000, state.row.grain)
