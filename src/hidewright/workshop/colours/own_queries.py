"""A cup of one's own as it is: what colour it should be, its share of pigment, what base it still needs, and how much paint its pigment makes."""

from collections.abc import Mapping
from dataclasses import dataclass

from hidewright.colour.cups.own import Mix, mix_of
from hidewright.colour.cups.pours import Table
from hidewright.colour.learning.cup import BASE
from hidewright.colour.learning.learn import Forecast
from hidewright.refusals import Refusal
from hidewright.units import US_FL_OZ_ML, US_GALLON_ML
from hidewright.workshop.colours.cup_queries import CupState, cup_state, steps_of
from hidewright.workshop.pigments import values
from hidewright.workshop.pigments.knowledge import lot_words, pours_of
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shop.models import Job

PART = "part_ml"
"""In the plan of a cup of one's own: mL of one part. No other cup has it."""
UNITS = (
    ("parts", "parts"),
    ("g", "g"),
    ("drops", "drops"),
    ("mL", "mL"),
    ("cups", "cups (US)"),
    ("fl oz", "fl oz (US)"),
)
"""How a free pour is measured: key, words."""


def sizes(part: float, drop: float) -> dict[str, float]:
    """mL of one of each measure but grams, with a part and a drop of so many mL."""
    return {"parts": part, "drops": drop, "mL": 1.0, "cups": US_GALLON_ML / 16, "fl oz": US_FL_OZ_ML}


def part_of(row: MixVessel) -> float:
    """mL of one part of a cup of one's own; refuses any other cup."""
    plan = row.plan or {}
    if PART not in plan:
        raise Refusal(
            "This cup has a recipe.", where=row.name, remedy="Pour it on the bench, or begin one of your own."
        )
    return float(plan[PART])


def own_cups(job: Job, number: int) -> list[MixVessel]:
    """The cups of one's own of one of the job's colours, the newest first."""
    rows = MixVessel.objects.filter(job=job, colour_number=number, put_away=None, kind=MixVessel.Kind.CUP)
    return [row for row in rows.order_by("-pk") if PART in (row.plan or {})]


def bottles() -> list[tuple[str, str]]:
    """What can be poured freely, key and name: every listed pigment whose K and S are known, and the base."""
    listed = Pigment.objects.filter(active=True, load=1.0, on_shelf=True, k__isnull=False)
    return [*((row.key, row.name) for row in listed), (BASE, values.base().name)]


def grams_in(row: MixVessel) -> Mapping[str, float]:
    """Lot → g of what is in a cup."""
    found: dict[str, float] = {}
    for lot, grams in pours_of(row):
        found[lot] = found.get(lot, 0.0) + grams
    return found


def forecast_of(row: MixVessel) -> Forecast:
    """What a cup should dry to; refuses one of which nothing is known."""
    state = cup_state(row.job, row) if row.job else None
    if state is None:
        raise Refusal(
            "There is no pigment in the cup yet.", where=row.name, remedy="Pour one of the bottles."
        )
    return state.forecast


@dataclass(frozen=True, slots=True, eq=False)
class OwnCup:
    """A cup of one's own: `pours` lot's words and g in order, its `state` and `mix` (both None before any pigment), the shop's window of pigment (shares), and what it `holds` (mL)."""

    pours: tuple[tuple[str, float], ...]
    state: CupState | None
    mix: Mix | None
    window: tuple[float, float]
    holds: float

    @property
    def fits(self) -> bool:
        """What its pigment makes at least goes into the cup of `holds` mL."""
        return self.mix is None or self.mix.makes_ml[0] <= self.holds

    @property
    def load(self) -> float:
        """Share of pigment, per cent."""
        return 100 * self.mix.load if self.mix else 0.0

    @property
    def window_percent(self) -> tuple[float, float]:
        """The window of pigment, per cent."""
        return 100 * self.window[0], 100 * self.window[1]

    @property
    def base_ml(self) -> tuple[float, float]:
        """mL of base still to add, least and most."""
        density = values.base().density
        least, most = self.mix.base_g if self.mix else (0.0, 0.0)
        return least / density, most / density

    @property
    def more(self) -> tuple[tuple[str, float], ...]:
        """Where there is too little pigment: words and g of each bottle to add so that the colour stays."""
        grams = self.mix.pigment_g if self.mix else {}
        return tuple((lot_words(lot), each) for lot, each in grams.items() if each > 0)


def own_cup(job: Job, row: MixVessel) -> OwnCup:
    """A cup of one's own as it is now."""
    shop = values.setup()
    state = cup_state(job, row)
    window = (shop.load_low, shop.load_high)
    pours = tuple((lot_words(lot), grams) for lot, grams in pours_of(row))
    if state is None:
        return OwnCup(pours, None, None, window, row.capacity / 1000)
    known = state.opened.knowledge
    steps = steps_of(row, known.pigments(), known.stock.base)
    table = Table(steps=steps, load=window, vessel_ml=row.capacity / 1000)
    return OwnCup(pours, state, mix_of(known, state.opened.cup, table), window, row.capacity / 1000)
