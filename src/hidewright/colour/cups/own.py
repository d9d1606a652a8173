"""A cup of one's own: poured freely, without a target reading and without a recipe.

What colour it should be, how much of it is pigment, what it still needs to reach the load window, and how much paint its pigment makes. The target may be no more than a family word.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cup import BASE, Cup
from hidewright.colour.learning.learn import Forecast, Knowledge
from hidewright.colour.learning.lots import Lot
from hidewright.colour.light.smooth import smoothest
from hidewright.colour.light.spectra import numbers
from hidewright.colour.pigments.film import Surface, below, k_over_s
from hidewright.colour.pigments.pigment import Pigment
from hidewright.refusals import Refusal

from .pours import Table
from .things import Swatch

Array = NDArray[np.float64]
FAMILIES: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "white": ((88.0, 0.0, 4.0), (6.0, 2.0, 5.0)),
    "cream": ((82.0, 2.0, 16.0), (7.0, 3.0, 7.0)),
    "beige": ((68.0, 5.0, 18.0), (9.0, 4.0, 7.0)),
    "tan": ((52.0, 14.0, 28.0), (10.0, 6.0, 8.0)),
    "brown": ((34.0, 12.0, 17.0), (9.0, 6.0, 8.0)),
    "dark brown": ((24.0, 6.0, 8.0), (6.0, 4.0, 5.0)),
    "grey": ((55.0, 0.0, 1.0), (15.0, 2.0, 4.0)),
    "dark grey": ((32.0, 0.0, 0.0), (8.0, 2.0, 3.0)),
    "black": ((22.0, 0.0, 0.0), (5.0, 2.0, 2.0)),
    "red": ((38.0, 42.0, 22.0), (9.0, 11.0, 9.0)),
    "burgundy": ((27.0, 20.0, 6.0), (6.0, 8.0, 5.0)),
    "orange": ((58.0, 36.0, 46.0), (9.0, 10.0, 11.0)),
    "yellow": ((75.0, 8.0, 58.0), (8.0, 7.0, 14.0)),
    "green": ((42.0, -18.0, 12.0), (12.0, 10.0, 9.0)),
    "blue": ((40.0, -4.0, -24.0), (12.0, 7.0, 11.0)),
    "navy": ((26.0, 0.0, -11.0), (6.0, 4.0, 6.0)),
}
"""Lab (D65, 10°) of the middle of a family of leather colours and its sd along each axis: wide guesses of this tool, no source."""
LEFT_SPREAD = 5.0
"""How many times as far as a drawn-down pigment a leftover of unknown content may be off."""
LEFT_SCATTER = 0.3
"""S per µm that is taken for such a leftover's share of pigment: that of a mix with white in it (a guess)."""


def family(word: str) -> Swatch:
    """The target's prior colour from a word such as "tan"; refuses a word that is not known."""
    if word not in FAMILIES:
        raise Refusal(
            f"“{word}” is no family of colours.", where="family", remedy=f"Use {', '.join(FAMILIES)}."
        )
    middle, sd = FAMILIES[word]
    return Swatch(np.array(middle), np.diag(np.array(sd) ** 2), f"{word}, a guess")


@dataclass(frozen=True, slots=True, eq=False)
class Mix:
    """What is in a cup as far as it is known: `forecast` of its dry colour; `load` pigment volume by volume; `millilitres` in it.

    `base_g` (least, most) grams of base still to add so that the load lies inside its window, (0, 0) where it cannot take any; `makes_ml` (least, most) mL of paint that
    its pigment makes at the window's upper and lower end; `pigment_g` grams to add of each bottle, in the cup's own proportion, where the load is below the window.
    """

    forecast: Forecast
    load: float
    millilitres: float
    base_g: tuple[float, float]
    makes_ml: tuple[float, float]
    pigment_g: Mapping[str, float]

    @property
    def inside(self) -> bool:
        """The load is inside the window as it is."""
        return self.base_g[0] == 0.0 and not self.pigment_g


def mix_of(known: Knowledge, cup: Cup, table: Table | None = None) -> Mix:
    """What a freely poured cup is: pigment first or base first, in any order. Refuses a cup without pigment."""
    table = table or Table()
    stock = known.stock
    opened = known.open(cup)
    volumes = opened.volumes()
    base = volumes.pop(BASE, 0.0)
    lots = {lot.key: lot.pigment for lot in stock.lots}
    pigment = sum(v * lots[key].load for key, v in volumes.items())
    if pigment <= 0.0:
        raise Refusal("There is no pigment in the cup yet.", where="cup", remedy="Pour one of the bottles.")
    total = base + sum(volumes.values())
    low, high = table.load
    least, most = max(pigment / high - total, 0.0), max(pigment / low - total, 0.0)
    short = _short(volumes, pigment, total, low, lots)
    density = stock.base.density
    return Mix(
        opened.forecast(),
        pigment / total,
        total,
        (least * density, most * density),
        (pigment / high, pigment / low),
        {key: _on_step(v * lots[key].density, table.step(key)) for key, v in short.items()},
    )


def _short(
    volumes: Mapping[str, float], pigment: float, total: float, low: float, lots: Mapping[str, Pigment]
) -> dict[str, float]:
    """mL of each bottle, in the cup's own proportion, that lift the load to `low`; empty where it is there."""
    if pigment >= low * total:
        return {}
    held = sum(volumes.values())
    # (pigment + f·pigment) = low·(total + f·held)
    share = pigment - low * held
    if share <= 0.0:
        return {}
    f = (low * total - pigment) / share
    return {key: f * v for key, v in volumes.items()}


def _on_step(grams: float, step: float) -> float:
    return round(round(grams / step) * step, 4)


def leftover_lot(key: str, lab: object, load: float = 0.18, density: float = 1.15) -> Lot:
    """A leftover of unknown content as a bottle of its own, from the colour (3,) that it looks: what was thrown in need not have been logged.

    Its strength is a guess with a wide spread, which the next looks narrow down.
    """
    reading = smoothest(numbers(lab, (3,), "Lab"))
    inside = np.clip(below(np.maximum(reading, 0.045), Surface()), 1e-3, 0.999)
    scatter = np.full(reading.size, LEFT_SCATTER)
    return Lot(
        key, Pigment(key, key, "", k_over_s(inside) * scatter, scatter, density, load=load), LEFT_SPREAD
    )
