"""Guided steps: one pour at a time, in grams on the balance with tare and running total, in drops, or in mL."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from hidewright.refusals import Refusal

from .amounts import microlitres, microlitres_of_mass, millilitres
from .grain import Grain
from .needed import Needed, PartNeed

USUAL_DROP_ML = 0.05
"""About 20 drops of water a mL (USP <1101>); not valid for pigment dispersions: calibrate the bottle, or weigh."""


MOST_DROPS = 10_000
"""Nobody counts more drops than this."""


class Measure(StrEnum):
    """How a pour is measured."""

    BALANCE = "g"
    DROPS = "drops"
    VOLUME = "mL"


@dataclass(frozen=True, slots=True)
class Step:
    """One pour: `volume` mL and `grams` to pour; `shows` g is what the balance shows after it, with the tare and all that went in before.

    `drops` is None unless a drop volume (mL) is known for its bottle.
    """

    key: str
    name: str
    volume: float
    grams: float
    shows: float
    drops: int | None
    done: bool
    poured_volume: float
    poured_grams: float


def drop_volume(drops: int, grams: float, density: float) -> float:
    """mL of one drop, from weighing `drops` of them: count at least 10, so that the balance's 0.1 g matters little."""
    if drops < 10:
        raise Refusal(
            "Too few drops to calibrate by.", where="drops", remedy="Count 20 or more and weigh them."
        )
    volume = microlitres_of_mass(grams, density) / 1000 / drops
    if not 0.005 <= volume <= 0.5:
        raise Refusal(
            f"A drop of {volume:.3f} mL cannot be right.",
            where="grams",
            remedy="Zero the balance with the empty cup, count the drops again.",
        )
    return volume


def mass_in(needed: Needed, others: float = 0.0) -> float:
    """g of what is in the cup by its recipe parts, plus `others` g of foreign things."""
    return others + sum(millilitres(part.have) * part.density for part in needed.parts)


def steps(
    needed: Needed,
    *,
    tare: float = 0.0,
    others: float = 0.0,
    drops: Mapping[str, float] | None = None,
    grains: Mapping[str, Grain] | None = None,
) -> tuple[Step, ...]:
    """The pours still to do and those done, in the recipe's order.

    `tare` g of the empty cup (0 when the balance was zeroed with the cup on it), `others` g of things in the cup that are not in the recipe,
    `drops` mL of one drop by component key. With `grains` every pour is a whole number of steps of its part, and none that is still to do is less than one.
    """
    known = drops or {}
    running = tare + mass_in(needed, others)
    found = []
    for part in needed.parts:
        if grains is not None:
            part = _in_whole_steps(part, grains[part.key])
        grams = millilitres(part.need) * part.density
        running += grams
        found.append(_step(part, grams, running, known.get(part.key)))
    return tuple(found)


def _in_whole_steps(part: PartNeed, grain: Grain) -> PartNeed:
    """The part with a need of whole steps; what is less than half a step is none."""
    return replace(part, want=part.have + round(grain.whole(part.need) * grain.volume))


def _step(part: PartNeed, grams: float, shows: float, drop: float | None) -> Step:
    volume = millilitres(part.need)
    return Step(
        part.key,
        part.name,
        volume,
        grams,
        shows,
        round(volume / drop) if drop else None,
        part.done,
        millilitres(part.have),
        millilitres(part.have) * part.density,
    )


def poured(
    value: float,
    measure: Measure,
    *,
    density: float,
    drop: float | None = None,
    shown_before: float | None = None,
) -> int:
    """µL of what was poured, from what was read.

    BALANCE: `value` g poured, or, with `shown_before` (g the balance showed before the pour), the new reading. DROPS: a count, with `drop` mL each.
    """
    if measure is Measure.VOLUME:
        return microlitres(value)
    if measure is Measure.DROPS:
        if not 0 <= value <= MOST_DROPS or value != int(value):
            raise Refusal(
                f"{value:,.6g} drops cannot be counted.",
                where="drops",
                remedy=f"Write a whole number up to {MOST_DROPS:,}; more is weighed.",
            )
        return microlitres(value * (drop if drop is not None else USUAL_DROP_ML), where="drops")
    grams = value if shown_before is None else value - shown_before
    if shown_before is not None and grams < 0:
        raise Refusal(
            f"The balance showed {shown_before:.1f} g before; {value:.1f} g is less.",
            where="reading",
            remedy="Write what it shows now, with everything that is in the cup.",
        )
    return microlitres_of_mass(grams, density)
