"""Air for solvents: dilution air below an exposure limit, and below a quarter of the lower explosive limit.

Sources: dilution Q′ = 403·10⁶·SG·ER/(MW·C), Q = K·Q′ (ACGIH Industrial Ventilation, general form; cfm, pint/min; 403·10⁶ = 62.43 lb/ft³ ·
0.0167 ft³/pint · 387 ft³/lb mol · 10⁶, at 70 °F); fire: stay under 25 % of
the LEL (29 CFR 1910.94). Steady, well-mixed air; a spray cloud near the gun is far richer than the mean. These figures help to ask the right question;
they clear nothing. The local limit, the product's data sheet and the authority having jurisdiction rule.
"""

from dataclasses import dataclass
from math import inf

from hidewright.refusals import Refusal
from hidewright.units import US_GALLON_ML

PINT_ML = US_GALLON_ML / 8
FOOT3_M3 = 0.3048**3
MOLAR_M3 = 0.0240550
"""m³/mol of ideal gas at 20 °C and 101 325 Pa (8.314462618 · 293.15 / 101325)."""
FIRE_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class Solvent:
    """A solvent's facts, from its data sheet: `density` g/mL, `molar` g/mol, `limit` ppm (exposure), `lel` % by volume, `flash` °C."""

    name: str
    density: float
    molar: float
    limit: float | None = None
    lel: float | None = None
    flash: float | None = None

    def __post_init__(self) -> None:
        for field, value, low, high in (
            ("density", self.density, 0.5, 3.0), ("molar mass", self.molar, 10.0, 500.0),
            ("limit", self.limit, 0.001, 1e5), ("LEL", self.lel, 0.1, 30.0), ("flash", self.flash, -60.0, 250.0),
        ):  # fmt: skip
            if value is not None and not low <= value <= high:
                raise Refusal(
                    f"{value:g} cannot be right.",
                    where=f"{self.name}, {field}",
                    remedy=f"It lies from {low:g} to {high:g}; see the data sheet.",
                )


def dilution_cfm(specific_gravity: float, pints_per_minute: float, molar: float, ppm: float) -> float:
    """Q′ in cfm: 403·10⁶·SG·ER/(MW·C). Multiply by K (3 to 10) for how badly the air mixes."""
    given = (specific_gravity, molar, ppm)
    if not all(0 < figure < inf for figure in given) or not 0 <= pints_per_minute < inf:
        raise Refusal("These figures cannot be right.", where="dilution air")
    return 403e6 * specific_gravity * pints_per_minute / (molar * ppm)


@dataclass(frozen=True, slots=True)
class DilutionAir:
    """`ideal` and `wanted` (times K) m³/h of fresh air; `k` the mixing factor used."""

    ideal: float
    k: float

    @property
    def wanted(self) -> float:
        """m³/h with the mixing factor."""
        return self.ideal * self.k


def dilution_air(solvent: Solvent, ml_per_hour: float, *, k: float = 5.0) -> DilutionAir:
    """Fresh air that keeps the mean vapour of `ml_per_hour` mL/h at the solvent's exposure limit; k from 3 (good) to 10 (poor mixing).

    Refuses when the solvent has no limit on record: no number is better than an invented one.
    """
    if solvent.limit is None:
        raise Refusal(
            f"No exposure limit is on record for {solvent.name}.",
            where="limit",
            remedy="Copy it from section 8 of its data sheet.",
        )
    if not 1 <= k <= 10:
        raise Refusal(f"A mixing factor of {k:g} cannot be right.", where="k", remedy="It lies from 3 to 10.")
    cfm = dilution_cfm(solvent.density, ml_per_hour / PINT_ML / 60, solvent.molar, solvent.limit)
    return DilutionAir(cfm * FOOT3_M3 * 60, k)


def vapour_m3(solvent: Solvent, millilitres: float) -> float:
    """m³ of vapour at 20 °C from `millilitres` mL, ideal gas."""
    return millilitres * solvent.density / solvent.molar * MOLAR_M3


def fire_air(solvent: Solvent, millilitres: float) -> float:
    """m³ of air that brings the vapour of `millilitres` mL to 25 % of the LEL: 4(100 − LEL)V/LEL (the form used with 29 CFR 1910.94); refuses when no LEL is on record."""
    if solvent.lel is None:
        raise Refusal(
            f"No lower explosive limit is on record for {solvent.name}.",
            where="LEL",
            remedy="Copy it from section 9 of its data sheet.",
        )
    return (100 - solvent.lel) / solvent.lel * vapour_m3(solvent, millilitres) / FIRE_SHARE


@dataclass(frozen=True, slots=True)
class RoomVapour:
    """If all of it stood in the room at once: `percent` by volume, `of_lel` share of the LEL."""

    percent: float
    of_lel: float

    @property
    def words(self) -> str:
        """What that means, in a sentence."""
        if self.of_lel >= FIRE_SHARE:
            return f"If all of it evaporated unvented, the room would be at {self.of_lel:.0%} of its lower explosive limit; 25 % is the line not to cross. Less at a time, and move the air."
        return f"If all of it evaporated unvented, the room’s mean would be {self.of_lel:.0%} of its lower explosive limit. Near the rag or gun it is far more."


def room_vapour(solvent: Solvent, millilitres: float, room_m3: float) -> RoomVapour:
    """The worst case without ventilation in a room of `room_m3` m³."""
    if room_m3 <= 0:
        raise Refusal("A room is bigger than nothing.", where="room", remedy="Write length x width x height.")
    if solvent.lel is None:
        raise Refusal(
            f"No lower explosive limit is on record for {solvent.name}.",
            where="LEL",
            remedy="Copy it from section 9 of its data sheet.",
        )
    percent = 100 * vapour_m3(solvent, millilitres) / room_m3
    return RoomVapour(percent, percent / solvent.lel)
