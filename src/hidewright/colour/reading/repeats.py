"""How far a reading may be off by the instrument's noise, how many readings bring that down, and several readings of one thing as one.

The mean of n readings that do not hang on each other spreads by the spread of one over √n (JCGM 100:2008, GUM, 4.2.3, equation 5). Only noise shrinks so: what an
instrument misreads each time the same, such as by its white tile, stays.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, delta_e00, lab
from hidewright.colour.light.local import lab_slopes, metric
from hidewright.colour.light.spectra import numbers, spread
from hidewright.colour.pigments.drawdowns import READING_SD, Drawdown

from .readings import INSTRUMENT_SD, Reading

Array = NDArray[np.float64]
PROMISE = 0.3
"""ΔE00 within which a film's own reading should stand (convention of this tool): what more readings of it are advised by."""
MOST_READINGS = 9
"""More readings than these nobody is asked for (convention of this tool)."""
ALIKE = 2.0
"""ΔE00 from their mean within which readings of one name are taken for readings of one thing (convention of this tool)."""


def spread_of(reading: Reading) -> float:
    """ΔE00 by which a reading may be off (root mean square), under D65 or, without a spectrum, under its own light."""
    if reading.colour is not None:
        turn, covariance = metric(reading.colour.lab), reading.colour.covariance
    else:
        turn, covariance = metric(lab(reading.reflectance)), _covariance(reading.reflectance, reading.sd)
    return float(np.sqrt(np.trace(turn @ covariance @ turn.T)))


def lab_sd(reflectance: Array, sd: float | Array = INSTRUMENT_SD) -> float:
    """CIELAB units a channel (root mean square, D65) by which a spectrum (31,) read with a reflectance `sd` (scalar, or (31,)) may be off."""
    reflectance = numbers(reflectance, (BANDS,), "reading")
    spread(sd, "reading")
    return float(np.sqrt(np.trace(_covariance(reflectance, sd)) / 3))


def _covariance(reflectance: Array, sd: float | Array) -> Array:
    """Of Lab under D65, (3, 3), linearised: bands err each for itself."""
    slopes = lab_slopes(reflectance)
    return np.asarray(
        (slopes * np.broadcast_to(np.asarray(sd, dtype=float), slopes.shape[1:]) ** 2) @ slopes.T
    )


@dataclass(frozen=True, slots=True)
class Repeats:
    """How often something is best read: ΔE00 by which `one` reading of it may be off, and the `count` that brings that to `PROMISE` (at most `MOST_READINGS`)."""

    one: float

    @property
    def count(self) -> int:
        """Readings advised, each at another place: the least n with one/√n within the promise."""
        return min(MOST_READINGS, max(1, math.ceil((self.one / PROMISE) ** 2)))

    def after(self, readings: int) -> float:
        """ΔE00 by which the mean of so many readings may be off."""
        return self.one / math.sqrt(max(1, readings))

    @property
    def reached(self) -> float:
        """ΔE00 by which the mean of the advised readings may be off: the promise, or what the most readings leave of a very dark film."""
        return max(PROMISE, self.after(self.count))


def repeats(*reflectances: Array) -> Repeats:
    """How often a thing of these reflectances (each (31,), as an instrument reads them) is best read: the worst of them counts."""
    return Repeats(max(spread_of(Reading("film", read, sd=READING_SD)) for read in reflectances))


def repeats_of(drawdown: Drawdown) -> Repeats:
    """How often each side of a drawdown is best read: dark films want several readings."""
    return repeats(drawdown.over_black, drawdown.over_white)


def alike_as_one(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """Spectra of one name and the same conditions as their mean, where all lie within `ALIKE` of it; in the order in which the names first stand.

    Where they lie further apart they are different things, and are told apart by a number behind the name. Colours without a spectrum stay as they are.
    """
    groups: dict[object, list[Reading]] = {}
    for number, reading in enumerate(readings):
        same = reading.is_spectrum and reading.name
        key = (reading.name, reading.conditions, _state(reading)) if same else number
        groups.setdefault(key, []).append(reading)
    return tuple(one for group in groups.values() for one in _as_one(group))


def _state(reading: Reading) -> str:
    return reading.facts.get("state", "")


def _as_one(group: Sequence[Reading]) -> tuple[Reading, ...]:
    if len(group) == 1:
        return tuple(group)
    mean = group[0].averaged(*group[1:])
    apart = delta_e00(lab(np.array([each.reflectance for each in group])), lab(mean.reflectance))
    if float(np.max(apart)) > ALIKE:
        return tuple(replace(each, name=f"{each.name} ({n})") for n, each in enumerate(group, 1))
    told: dict[str, str] = {}
    for each in group:
        told |= {column: text for column, text in each.facts.items() if text and column not in told}
    return (replace(mean, facts=told),)
