"""From readings of cups to what is learned: the one way, for the page and for the shell, for a file of cups and for the cup at hand.

A reading counts as what it is: a measured spectrum with its noise, a colour under its light with its covariance (never the spectrum that stands in for it), a wet
spectrum as the dry colour that it foretells. A colour read wet teaches nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.wet import Milk, Pair, dry_from_wet, learn_milk
from hidewright.colour.reading.readings import Reading
from hidewright.refusals import Refusal

from .cup import BASE, Cup, Pour, Sight, kind_of
from .learn import Knowledge
from .lots import Lot, Stock

WET_SD = 0.008
"""Reflectance sd of a dry colour that was worked out from a wet reading: a starting value of this tool, no source."""
STRAYS, LEFT = (0.9, 4.5), 0.6
"""How far straying bottles throw off what pairs tell of the milk: ln A by so many times their sd of strength, p by so many times that of shape; and what is left of it
once their cups were learned from. Measured in eighty simulated shops with three pairs each: rms 0.086 and 0.19 as drawn down, 0.057 and 0.11 as learned."""


@dataclass(frozen=True, slots=True, eq=False)
class CupRow:
    """One reading of a cup: the cup's name, what was in it in pouring order, wet or dry, struck out or not."""

    name: str
    pours: tuple[Pour, ...]
    reading: Reading
    struck: bool

    @property
    def wet(self) -> bool:
        """True for a reading of the wet mix."""
        return self.reading.conditions.state == "wet"

    def begins(self, pours: Sequence[Pour]) -> bool:
        """True when what was in it then is the beginning of `pours`."""
        return tuple(pours[: len(self.pours)]) == self.pours


def stock_for(
    rows: Sequence[CupRow],
    pigments: Sequence[Pigment],
    plain: Stock,
    spread: Mapping[str, float] | None = None,
) -> Stock:
    """One lot of each pigment, and every lot that a cup was made with; `spread` times as far off as usual by pigment key. Base, prior and surface as in `plain`."""
    drawn = {p.key: p for p in pigments}
    named = [pour.lot for row in rows for pour in row.pours if pour.lot != BASE]
    lots = tuple(
        Lot(
            key,
            drawn[kind_of(key)] if key not in drawn else drawn[key],
            (spread or {}).get(kind_of(key), 1.0),
        )
        for key in dict.fromkeys([*drawn, *named])
    )
    return replace(plain, lots=lots)


def contents_of(pours: Sequence[Pour], stock: Stock) -> Contents:
    """mL of each lot and of base that these pours put into a cup."""
    volumes: dict[str, float] = {}
    base = 0.0
    for pour in pours:
        if pour.lot == BASE:
            base += pour.grams / stock.base.density
        else:
            density = stock.lots[stock.number(pour.lot)].pigment.density
            volumes[pour.lot] = volumes.get(pour.lot, 0.0) + pour.grams / density
    return Contents(volumes, base)


def pairs_of(rows: Sequence[CupRow], stock: Stock) -> list[Pair]:
    """Every dry spectrum with the wet one of the same cup and the same pours; those struck out are passed over."""
    usable = [row for row in rows if row.reading.is_spectrum and not row.struck]
    wet = {(row.name, row.pours): row for row in usable if row.wet}
    return [
        Pair(contents_of(row.pours, stock), wet[at].reading.reflectance, row.reading.reflectance)
        for row in usable
        if not row.wet and (at := (row.name, row.pours)) in wet
    ]


def milk_of(rows: Sequence[CupRow], stock: Stock, known: Knowledge | None = None) -> Milk:
    """The base's milk as the pairs among the rows tell it: see `milk_told`."""
    return milk_told(pairs_of(rows, stock), stock, known)


def milk_told(pairs: Sequence[Pair], stock: Stock, known: Knowledge | None = None) -> Milk:
    """The base's milk as these pairs tell it, by the pigments as drawn down or, better, as `known`; the starting values where there is no pair.

    A cup whose pigments scatter a tenth more than drawn down looks as if the milk did less, so that the spread takes in how far bottles stray: see `STRAYS`.
    """
    lots = {lot.key for lot in known.stock.lots} if known else set()
    taught = known if known and all(set(pair.contents.volumes) <= lots for pair in pairs) else None
    believed = taught or Knowledge.fresh(stock)
    milk = learn_milk(pairs, believed.pigments(), surface=believed.surface)
    if not milk.pairs:
        return milk
    left = LEFT if taught else 1.0
    return replace(
        milk,
        amplitude_sd=float(np.hypot(milk.amplitude_sd, left * STRAYS[0] * stock.prior.strength)),
        power_sd=float(np.hypot(milk.power_sd, left * STRAYS[1] * stock.prior.shape)),
    )


def cups_of(rows: Sequence[CupRow], stock: Stock, milk: Milk | None = None) -> list[Cup]:
    """The cups with their readings, in the order of the rows; those of which nothing counts are left out. Rows of one name whose pours begin another's belong to one cup."""
    by_name: dict[str, list[CupRow]] = {}
    for row in rows:
        by_name.setdefault(row.name, []).append(row)
    cups = []
    for name, mine in by_name.items():
        left, number = mine, 0
        while left:
            whole = max(left, key=lambda row: len(row.pours)).pours
            cup = cup_at_hand(name if number == 0 else f"{name} ({number + 1})", whole, left, stock, milk)
            left = [row for row in left if not row.begins(whole)]
            number += 1
            if cup.sights and any(pour.lot != BASE for pour in whole):
                cups.append(cup)
    return cups


def cup_at_hand(
    name: str, pours: Sequence[Pour], rows: Sequence[CupRow], stock: Stock, milk: Milk | None = None
) -> Cup:
    """A cup with these pours in it, and of the rows those that were read of it: their pours are the beginning of what is in it."""
    found = (sight_of(row, stock, milk) for row in rows if row.begins(pours))
    return Cup(name, tuple(pours), tuple(sight for sight in found if sight is not None))


def sight_of(row: CupRow, stock: Stock, milk: Milk | None = None) -> Sight | None:
    """What a reading of a cup teaches from: its spectrum with its noise; its colour under its own light; wet, the dry spectrum that it foretells with `milk`.

    None for a colour read wet (no spectrum, no forecast of drying), and for a reading of nothing poured.
    """
    after, reading = len(row.pours), row.reading
    if after == 0:
        return None
    if reading.colour is not None:
        only = reading.colour
        return (
            None
            if row.wet
            else Sight(after, only.lab, only.covariance, only.light, only.observer, row.struck)
        )
    if row.wet:
        held = contents_of(row.pours, stock)
        dry = dry_from_wet(reading.reflectance, held, Knowledge.fresh(stock).pigments(), milk, stock.surface)
        return Sight(after, np.clip(dry, 0, 1.3), WET_SD, struck=row.struck)
    sd = reading.sd if np.ndim(reading.sd) else float(np.max(reading.sd))
    return Sight(after, reading.reflectance, sd, struck=row.struck)


def dry_only(reading: Reading) -> Reading:
    """The reading, for a use that wants the dry colour: refuses one that was taken wet and foretells nothing."""
    if reading.conditions.state == "wet":
        raise read_wet(reading.name)
    return reading


def read_wet(name: str) -> Refusal:
    """What is answered where a dry colour is wanted and the one of that name was read wet."""
    return Refusal(
        "This was read wet, and nobody knows by how much it dries.",
        where=name or "reading",
        remedy="Let a drawdown of it dry, and read that.",
    )
