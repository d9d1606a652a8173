"""Damp and drying: dew point, how far a surface stands above it, and how fast water dries here against a reference.

Sources: saturation over water by the Magnus form with 17.62 and 243.12 °C (Sonntag 1990; WMO-No. 8); within 0.4 % of the ASHRAE formula from 0 to 45 °C (measured in the tests). Humidity
ratio: 0.621945 pv/(p − pv) (ASHRAE Fundamentals 2017, ch. 1). Evaporation from bare water: E = (25 + 19 v)(xs − x) kg/m²h, an engineering
rule of thumb: used for ratios only, since absolute times are good to a factor of 3.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log

from hidewright.refusals import Refusal

MAGNUS_A = 17.62
MAGNUS_B = 243.12
MAGNUS_C = 611.2
STANDARD_PRESSURE = 101325.0
WATER_TO_DRY_AIR = 0.621945
LEAST_MARGIN = 3.0
"""K above the dew point. Practice attributed to ISO 8502-4, which is about steel; for leather it is an analogy."""


def _check(celsius: float, humidity: float | None = None) -> None:
    if not -40 <= celsius <= 60:
        raise Refusal(f"{celsius:g} °C cannot be right.", where="temperature", remedy="Write −40 to 60 °C.")
    if humidity is not None and not 0 < humidity <= 1:
        raise Refusal(
            f"A relative humidity of {humidity:g} cannot be right.",
            where="humidity",
            remedy="Write a share above 0 and up to 1, such as 0.5 for 50 %.",
        )


def saturation_pressure(celsius: float) -> float:
    """Pa over water at `celsius` °C (−40 to 60): 611.2 exp(17.62 t/(243.12 + t)), WMO-No. 8."""
    _check(celsius)
    return MAGNUS_C * exp(MAGNUS_A * celsius / (MAGNUS_B + celsius))


def dew_point(celsius: float, humidity: float) -> float:
    """Dew point in °C of air at `celsius` °C and relative `humidity` (0 < humidity ≤ 1)."""
    _check(celsius, humidity)
    gamma = log(humidity) + MAGNUS_A * celsius / (MAGNUS_B + celsius)
    return MAGNUS_B * gamma / (MAGNUS_A - gamma)


def margin(surface: float, celsius: float, humidity: float) -> float:
    """K by which a surface at `surface` °C stands above the dew point of the air; below 0 it sweats."""
    _check(surface)
    return surface - dew_point(celsius, humidity)


@dataclass(frozen=True, slots=True)
class Damp:
    """How a surface stands to the damp: `dew_point` °C, `margin` K above it."""

    dew_point: float
    margin: float

    @property
    def close(self) -> bool:
        """Less than 3 K above the dew point."""
        return self.margin < LEAST_MARGIN

    @property
    def words(self) -> str:
        """What to do, in a sentence; in K."""
        return self.told(lambda kelvins: f"{kelvins:.1f} K")

    def told(self, show: Callable[[float], str]) -> str:
        """What to do, in a sentence; `show` writes a difference of so many K."""
        if self.margin <= 0:
            return "Water condenses on the part. Do not coat; warm it or dry the air."
        if self.close:
            return f"Only {show(self.margin)} above the dew point. Coatings may blush or stay soft: warm the part or dry the air, and ask the data sheet."
        return f"{show(self.margin)} above the dew point. The data sheet’s own limits of temperature and humidity rule."


def judge_damp(surface: float, celsius: float, humidity: float) -> Damp:
    """Dew point and margin of a surface at `surface` °C in air of `celsius` °C and relative `humidity`."""
    return Damp(dew_point(celsius, humidity), margin(surface, celsius, humidity))


def humidity_ratio(celsius: float, humidity: float, pressure: float = STANDARD_PRESSURE) -> float:
    """kg of water vapour per kg of dry air."""
    _check(celsius, humidity)
    vapour = humidity * saturation_pressure(celsius)
    if not 30000 <= pressure <= 120000:
        raise Refusal(f"{pressure:g} Pa is no air pressure.", where="pressure")
    return WATER_TO_DRY_AIR * vapour / (pressure - vapour)


@dataclass(frozen=True, slots=True)
class Air:
    """Room air: °C, relative humidity 0..1, and its speed over the work in m/s (0 to 5)."""

    celsius: float = 20.0
    humidity: float = 0.5
    speed: float = 0.0

    def __post_init__(self) -> None:
        _check(self.celsius, self.humidity)
        if not 0 <= self.speed <= 5:
            raise Refusal(
                f"{self.speed:g} m/s cannot be right.",
                where="speed",
                remedy="Write 0 to 5 m/s over the work.",
            )


REFERENCE = Air()
"""The air that data sheets usually mean: 20 °C, 50 %, still."""


def evaporation(air: Air) -> float:
    """kg/m²h from bare water as warm as the air: (25 + 19 v)(xs − x). Good to a factor of 3: use ratios of it."""
    return (25 + 19 * air.speed) * (
        humidity_ratio(air.celsius, 1.0) - humidity_ratio(air.celsius, air.humidity)
    )


def evaporation_ratio(air: Air, reference: Air = REFERENCE) -> float:
    """How many times as fast water dries in `air` as in `reference`; 0 in saturated air."""
    return evaporation(air) / evaporation(reference)


SLOWEST = 0.1


def drying_factor(air: Air, reference: Air = REFERENCE) -> float:
    """By how much drying times stretch (over 1) or shrink (under 1): the inverse of the ratio, never more than tenfold either way.

    In air so damp that the ratio falls under a tenth, drying in any planned time is refused: it cannot be told.
    """
    ratio = evaporation_ratio(air, reference)
    if ratio < SLOWEST:
        raise Refusal(
            "In air this damp a water-borne coat does not dry in a time that anybody can forecast.",
            where="humidity",
            remedy="Dry or warm the air, or wait.",
        )
    return max(1 / ratio, SLOWEST)
