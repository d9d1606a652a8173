"""Drying times for the job: from the products' data sheets, learned from what was seen, and stretched by the air of the room."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, drying_factor
from hidewright.takeoff.products import Product, Role

from .pace import DRYING, Learned, Took, learn_drying
from .routes import Drying


def drying_of(products: Mapping[str, Product], drying: Drying | None = None) -> Drying:
    """Drying times with what the products say at 20 °C and 50 %: cleaner, stripper and base until touch-dry, clear until cured; the slowest of a role counts.

    What the products do not say keeps its starting value: stripping and filling dry longer than their touch-dry time tells, so these only lengthen.
    """
    drying = drying or Drying()
    found: dict[Role, list[Product]] = {}
    for product in products.values():
        found.setdefault(product.role, []).append(product)

    def slowest(role: Role, what: str) -> float:
        return max((float(getattr(p, what)) for p in found.get(role, [])), default=0.0)

    return replace(
        drying,
        strip=max(drying.strip, slowest(Role.STRIPPER, "touch_dry")),
        clean=slowest(Role.CLEANER, "touch_dry") or drying.clean,
        repair=max(drying.repair, slowest(Role.FILLER, "touch_dry")),
        prime=slowest(Role.PRIMER, "touch_dry") or drying.prime,
        wiped=slowest(Role.BASE, "touch_dry") or drying.wiped,
        colour=max(slowest(Role.BASE, "touch_dry"), slowest(Role.CLEAR, "touch_dry")) or drying.colour,
        cure=slowest(Role.CLEAR, "cure") or drying.cure,
    )


def pot_life_of(products: Mapping[str, Product]) -> dict[str, int]:
    """min that crosslinked colour and clear last, by the crosslinkers' data sheets (the shortest counts); empty when none gives a pot life."""
    lives = [p.pot_life for p in products.values() if p.role is Role.CROSSLINKER and p.pot_life]
    return {"colour": int(min(lives)), "clear": int(min(lives))} if lives else {}


def drying_in(drying: Drying, air: Air) -> Drying:
    """The drying times in this air: stretched or shortened by the ratio of evaporation (`safety.damp.drying_factor`); the absolute times are the product's.

    Refuses air so damp that drying cannot be told.
    """
    factor = min(10.0, max(0.1, drying.factor * drying_factor(air)))
    return replace(drying, factor=factor)


@dataclass(frozen=True, slots=True)
class Seen:
    """One time that somebody saw it dry: `what` is one of `pace.DRYING`, `minutes` until it was dry, in this `air`."""

    what: str
    minutes: float
    air: Air

    def __post_init__(self) -> None:
        if self.what not in DRYING:
            raise Refusal(f"“{self.what}” does not dry.", where="what", remedy=f"Use {', '.join(DRYING)}.")
        if not 0 < self.minutes <= 14 * 24 * 60:
            raise Refusal(
                f"{self.minutes:g} min of drying cannot be.", where="minutes", remedy="Up to a fortnight."
            )

    @property
    def at_reference(self) -> float:
        """What it would have been at 20 °C and 50 %, in min: shorter than was seen in damp or cold air."""
        return self.minutes / drying_factor(self.air)

    def against(self, prior: Drying) -> Took:
        """The entry for learning, against the starting value at 20 °C and 50 %; refuses what is out of all proportion."""
        return Took(self.what, getattr(prior, self.what), self.at_reference)


def learn_from(seen: Iterable[Seen], prior: Drying) -> tuple[Drying, dict[str, Learned]]:
    """The shop's own drying times at 20 °C and 50 %, and what was learned of each.

    Every entry is brought to 20 °C and 50 % first. Since each is set against the starting value of today, a changed data sheet does not shift what was seen.
    """
    return learn_drying((entry.against(prior) for entry in seen), prior)
