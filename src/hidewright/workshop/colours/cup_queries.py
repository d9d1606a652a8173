"""Cups as the engine takes them: what went in, what was seen, what is known of the lots, and how to go on."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.swatches import Swatch, touching_swatches
from hidewright.colour.cups.adjust import AdjustProblem, Advice, adjust, as_if
from hidewright.colour.learning.cup import BASE, Pour
from hidewright.colour.learning.cup_rows import read_wet
from hidewright.colour.learning.learn import Forecast, OpenCup
from hidewright.colour.light import cie
from hidewright.colour.light.far import how_far
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.pigments.wet import look_wet
from hidewright.mixing.amounts import millilitres
from hidewright.mixing.grain import STEP_ML
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours.likeness_queries import aim_of
from hidewright.workshop.pigments import memory
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.pigments.knowledge import (
    Array,
    cup_of_sights,
    current_lots,
    kind_of,
    milk,
    pours_of,
    standing_sights,
)
from hidewright.workshop.shelf import models as rows
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


def steps_of(vessel: MixVessel, pigments: Iterable[Pigment], base: Base) -> dict[str, float]:
    """g of the smallest addition that can be measured into this vessel, by lot and for the base: a step of its balance, a drop of that bottle, or a tenth of a mL."""
    densities = {**{p.key: p.density for p in pigments}, BASE: base.density}
    if vessel.measure == MixVessel.Measure.VOLUME:
        return {key: STEP_ML * density for key, density in densities.items()}
    if vessel.measure != MixVessel.Measure.DROPS:
        return dict.fromkeys(densities, vessel.grain)
    usual = the_shop().drop
    drops = dict(rows.MixComponent.objects.exclude(drop=None).values_list("key", "drop"))
    return {key: (drops.get(kind_of(key)) or usual) * density for key, density in densities.items()}


def said_step(vessel: MixVessel) -> str:
    """The smallest addition in words, such as “a step of the balance, 0.1 g”."""
    if vessel.measure == MixVessel.Measure.DROPS:
        return "a drop"
    if vessel.measure == MixVessel.Measure.VOLUME:
        return f"a step of {STEP_ML:g} mL"
    return f"a step of the balance, {vessel.grain:g} g,"


def counted_grams(vessel: MixVessel, grams: float, step: float) -> str:
    """An addition as it is measured into this vessel: “3 drops”, “0.4 mL” or “1.2 g”; always whole steps of `step` g."""
    count = round(grams / step)
    if vessel.measure == MixVessel.Measure.DROPS:
        return counted(count, "drop")
    if vessel.measure == MixVessel.Measure.VOLUME:
        return f"{count * STEP_ML:.1f} mL"
    return f"{grams:.{2 if vessel.grain < 0.1 else 1}f} g"


@dataclass(frozen=True, slots=True, eq=False)
class CupState:
    """A cup as it is believed to be: its forecast with spread, how far it is from the target, and what to add."""

    vessel: MixVessel
    pours: tuple[tuple[str, float], ...]
    forecast: Forecast
    opened: OpenCup
    delta: float | None
    advice: Advice | None
    readings: int
    odd: int

    @property
    def spread(self) -> float:
        """ΔE00 by which the forecast may be off."""
        return self.forecast.spread()

    def measured(self, lot: str, grams: float) -> str:
        """How so many g of a lot are measured into it."""
        known = self.opened.knowledge
        return counted_grams(
            self.vessel, grams, steps_of(self.vessel, known.pigments(), known.stock.base)[lot]
        )

    @property
    def grams(self) -> float:
        """What is in it, g."""
        return sum(grams for _, grams in self.pours)


def cup_state(job: Job, vessel: MixVessel) -> CupState | None:
    """How a cup stands against the job's target; None while there is no known pigment in it."""
    pours = pours_of(vessel)
    lots = current_lots()
    before = memory.known([lot for lot, _ in pours if lot != BASE] + list(lots.values()), without=vessel)
    there = {lot.key for lot in before.stock.lots}
    strange = sorted({lot for lot, _ in pours if lot != BASE and lot not in there})
    if strange:
        raise Refusal(
            f"{', '.join(strange)} is in the cup but its K and S are not known.",
            where=vessel.name,
            remedy="Bring its drawdowns on the page Pigments.",
        )
    if not any(lot != BASE for lot, _ in pours):
        return None
    mine = [row for row in standing_sights() if row.vessel_id == vessel.pk]
    cup = cup_of_sights(f"v{vessel.pk}", mine, before.stock, pours)
    opened = before.open(cup)
    forecast = opened.forecast()
    aimed = aim_of(vessel)
    delta = (
        float(cie.delta_e00(forecast.lab(), cie.lab(aimed.target.reflectance))) if aimed is not None else None
    )
    advice = _advice(vessel, opened, aimed, set(lots.values())) if aimed is not None else None
    return CupState(vessel, tuple(pours), forecast, opened, delta, advice, len(cup.sights), len(opened.odd))


def _advice(
    vessel: MixVessel, opened: OpenCup, aimed: gather.TargetValue, allowed: set[str]
) -> Advice | None:
    known = opened.knowledge
    volumes = opened.volumes()
    base_ml = volumes.pop(BASE, 0.0)
    held = Contents(volumes, base_ml)
    shop = gather_values.setup()
    out = {row.key for row in rows.Pigment.objects.filter(on_shelf=False)}
    barred = {p.key for p in known.pigments() if p.key not in allowed or kind_of(p.key) in out}
    # an emptied or overfull vessel still gets advice: the vessel only bounds what is added
    room = max(millilitres(vessel.capacity), held.total)
    problem = AdjustProblem(
        held,
        aimed.target.reflectance,
        known.pigments(),
        known.stock.base,
        known.surface,
        vessel_ml=room,
        load=(shop.load_low, shop.load_high),
        steps=steps_of(vessel, known.pigments(), known.stock.base),
        tolerance=aimed.tolerance,
        must_not_use=frozenset(barred),
        spread_of=lambda grams: opened.forecast([Pour(k, g) for k, g in grams.items() if g > 0]).spread(),
        guessed=aimed.target.guessed(("D65",)),
    )
    return adjust(problem)


def unknown_cup(job: Job, reading: gather.ReadingValue, volume: float, number: int = 0) -> Advice:
    """What to add to a cup of unknown contents: it is taken for the mix that comes nearest to its reading."""
    aimed = gather.target(job, number)
    if aimed is None:
        raise Refusal("There is no target yet.", where="target", remedy="Pick the reading to aim at first.")
    if reading.state == "wet":
        raise read_wet(reading.name)
    known = gather_values.pigments()
    if not known:
        raise Refusal("No pigment is known yet.", where="pigments", remedy="Bring drawdowns first.")
    shop = gather_values.setup()
    held = as_if(
        reading.reflectance, volume, known, gather_values.base(), (shop.load_low + shop.load_high) / 2
    )
    out = {row.key for row in rows.Pigment.objects.filter(on_shelf=False)}
    return adjust(
        AdjustProblem(
            held,
            aimed.target.reflectance,
            known,
            gather_values.base(),
            Surface(specular=shop.specular),
            load=(shop.load_low, shop.load_high),
            step_g=the_shop().balance_step,
            tolerance=aimed.tolerance,
            must_not_use=frozenset(out),
            guessed=aimed.target.guessed(("D65",)) or reading.guessed(("D65",)),
        )
    )


def cup_swatches(job: Job, state: CupState) -> list[SafeString]:
    """Target against the cup under each light, dry; and the cup wet against dry."""
    aimed = aim_of(state.vessel)
    dry = state.forecast.reflectance
    shown = [_against(aimed, dry, light) for light in gather_values.LIGHTS] if aimed else []
    volumes = state.opened.volumes()
    base_ml = volumes.pop(BASE, 0.0)
    wet = look_wet(Contents(volumes, base_ml), state.opened.knowledge.pigments(), milk())
    patches = [
        Swatch(cie.hex_from_reflectance(wet), "Wet in the cup"),
        Swatch(cie.hex_from_reflectance(dry), "Dry"),
    ]
    shown.append(touching_swatches(patches, caption="Wet against dry", height=96))
    return [mark_safe(svg) for svg in shown]  # noqa: S308 - our own SVG, text escaped


def _against(aimed: gather.TargetValue, dry: Array, light: str) -> str:
    delta = float(cie.delta_e00(cie.lab(dry, light), aimed.target.labs[light]))
    patches = [
        Swatch(cie.hex_from_lab(aimed.target.labs[light]), "Target"),
        Swatch(cie.hex_from_reflectance(dry, light), "Cup, dry", how_far(delta)),
    ]
    name = gather_values.LIGHT_NAMES[light]
    return touching_swatches(patches, caption=name[:1].upper() + name[1:], height=96)


def wet_drift(state: CupState) -> float:
    """ΔE00 between the cup wet and dry."""
    volumes = state.opened.volumes()
    base_ml = volumes.pop(BASE, 0.0)
    wet = look_wet(Contents(volumes, base_ml), state.opened.knowledge.pigments(), milk())
    return float(cie.delta_e00(cie.lab(wet), cie.lab(state.forecast.reflectance)))
