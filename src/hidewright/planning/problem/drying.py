"""Drying times for the job: from the products' data sheets, learned from what was seen, and in the air of the room.

Damp or cold air stretches every time by the ratio of evaporation. Warm or dry air shortens what only dries as far as the shop's own entries in such air carry it, and
what sets (`routes.SETS`: film formation, crosslinking) only by a line of the product's data sheet.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, drying_factor
from hidewright.takeoff.products import Product, Role

from .pace import DRYING, Learned, Took, learn_drying
from .routes import SETS, Drying

REFERENCE_CELSIUS = 20.0
NEAR = 0.9
"""Air that dries in this share of the time at 20 °C and 50 %, or longer, counts as no quicker: so near a room thermometer and hygrometer tell (1 K, 3 %)."""


@dataclass(frozen=True, slots=True)
class Warm:
    """A line of a data sheet: at `celsius` (21 to 60 °C) the cure takes `ratio` (0 < ratio ≤ 1) of its time at 20 °C."""

    celsius: float
    ratio: float

    def __post_init__(self) -> None:
        if not 21 <= self.celsius <= 60:
            raise Refusal(
                f"{self.celsius:g} °C is no warm cure.", where="warm_at", remedy="Write 21 to 60 °C."
            )
        if not 0 < self.ratio <= 1:
            raise Refusal("A coat cures no slower when it is warm.", where="warm_cure")

    def at(self, celsius: float) -> float:
        """Share of the time at 20 °C that the cure takes at `celsius`: 1 up to 20 °C, then straight in its logarithm to the line of the sheet, and no shorter beyond it."""
        way = (celsius - REFERENCE_CELSIUS) / (self.celsius - REFERENCE_CELSIUS)
        return float(self.ratio ** min(1.0, max(0.0, way)))


def warm_of(products: Mapping[str, Product]) -> Warm | None:
    """What the data sheets of the clears say of a warm cure; None unless each of them says it. Of several the slowest counts, at the least warm of them."""
    clears = [p for p in products.values() if p.role is Role.CLEAR and p.cure]
    lines = [
        Warm(p.warm_at, p.warm_cure / p.cure)
        for p in clears
        if p.warm_at is not None and p.warm_cure is not None
    ]
    if not lines or len(lines) < len(clears):
        return None
    least = min(line.celsius for line in lines)
    return Warm(least, max(line.at(least) for line in lines))


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

    def at_reference(self, warm: Warm | None = None) -> float:
        """What it would have been at 20 °C and 50 %, in min: shorter than was seen in damp or cold air, and in warm or dry air longer as far as that is known."""
        met = drying_factor(self.air)
        if self.what not in SETS:
            return self.minutes / met
        return self.minutes / (max(met, 1.0) * (warm.at(self.air.celsius) if warm else 1.0))

    def says(self, start: float, warm: Warm | None = None) -> bool:
        """False for a quick setting in warm or dry air of which no data sheet tells: how long it takes at 20 °C and 50 % cannot be known from it. `start` in min."""
        known = self.what not in SETS or warm is not None or drying_factor(self.air) >= NEAR
        return known or self.at_reference() >= start

    def in_quicker(self, quick: float, warm: Warm | None = None) -> float:
        """What it says, in min, of air in which water dries in `quick` (0.1 to 1) of the time at 20 °C and 50 %.

        It is brought to such air only as far as it was seen in it: never to quicker air than its own. What sets stays as at 20 °C.
        """
        if self.what in SETS:
            return self.at_reference(warm)
        met = drying_factor(self.air)
        return self.minutes * max(quick, min(met, 1.0)) / met

    def against(self, prior: Drying, quick: float = 1.0, warm: Warm | None = None) -> Took:
        """The entry for learning, against the starting value at 20 °C and 50 %; refuses what is out of all proportion."""
        return Took(self.what, getattr(prior, self.what), self.in_quicker(quick, warm))


def learn_from(
    seen: Iterable[Seen], prior: Drying, *, quick: float = 1.0, warm: Warm | None = None
) -> tuple[Drying, dict[str, Learned]]:
    """The shop's own drying times at 20 °C and 50 % (or where water dries in `quick` of that time, 0.1 to 1), and what was learned of each.

    Every entry is brought to that air first, and those that say nothing of it are left out. Since each is set against the starting value of today, a changed data sheet
    does not shift what was seen.
    """
    telling = [entry for entry in seen if entry.says(getattr(prior, entry.what), warm)]
    return learn_drying((entry.against(prior, quick, warm) for entry in telling), prior)


def drying_in(prior: Drying, air: Air, seen: Iterable[Seen] = (), warm: Warm | None = None) -> Drying:
    """The drying times in this air, learned from what was `seen`; `prior` as at 20 °C and 50 % before anything was seen.

    Damp or cold air stretches all of them (`factor`, at most tenfold) by the ratio of evaporation (`safety.damp.drying_factor`). Warm or dry air shortens what dries as far
    as entries in such air carry it, and the cure only by the line of the data sheet (`warm`). Refuses air so damp that drying cannot be told.
    """
    met = drying_factor(air)
    times, _ = learn_from(seen, prior, quick=min(met, 1.0), warm=warm)
    cure = times.cure * (warm.at(air.celsius) if warm else 1.0)
    return replace(times, cure=cure, factor=min(10.0, max(0.1, prior.factor * max(met, 1.0))))
