"""Cups that were read, as a CSV: a row a reading, with what was in the cup then. The shop's memory as a file.

Columns: `name` of the cup; `pours`, grams in the order in which they went in, such as "PW6=58 PBk7#B7=1.2 base=420" (a lot stands behind # where one is told);
`state` dry (or empty) or wet; `struck` yes where a reading turned out wrong: it stays on record and is left out; `sd` of the reading; and the bands, or l, a, b.
Rows of one cup whose pours begin those of a later row belong to one cup. A wet and a dry row of equal pours are a pair that tells of the base's milk.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.wet import Milk, Pair, dry_from_wet, learn_milk
from hidewright.colour.reading.formats import read_any
from hidewright.colour.reading.readings import Reading
from hidewright.refusals import Refusal, Refusals

from .cup import BASE, Cup, Pour, Sight, kind_of
from .learn import Knowledge
from .lots import Lot, Stock

WET_SD = 0.008
"""Reflectance sd of a dry colour that was worked out from a wet reading: a starting value of this tool, no source."""
STRAYS, LEFT = (0.9, 4.5), 0.6
"""How far straying bottles throw off what pairs tell of the milk: ln A by so many times their sd of strength, p by so many times that of shape; and what is left of it
once their cups were learned from. Measured in eighty simulated shops with three pairs each: rms 0.086 and 0.19 as drawn down, 0.057 and 0.11 as learned."""
HOW = "Write grams like PW6=58 PBk7=1.2 base=420."
YES, NO = ("yes", "true", "1", "x"), ("", "no", "false", "0")


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


def read_pours(text: str, where: str = "pours", known: Iterable[str] = ()) -> tuple[Pour, ...]:
    """Pours from "PW6=58 PBk7#B7=1.2 base=420" (grams, in order); with `known` pigment keys, others are refused."""
    kinds = {*known, BASE}
    found = []
    for part in text.split():
        key, _, value = part.partition("=")
        try:
            grams = float(value)
        except ValueError:
            grams = float("nan")
        strange = len(kinds) > 1 and key not in kinds and kind_of(key) not in kinds
        if not key or not 0 < grams < 1e6 or strange:
            remedy = f"{HOW[:-1]}; known are {', '.join(sorted(kinds))}." if len(kinds) > 1 else HOW
            raise Refusal(f"“{part[:30]}” cannot be read.", where=where, remedy=remedy)
        found.append(Pour(key, grams))
    if all(pour.lot == BASE for pour in found):
        raise Refusal("The cup holds no pigment.", where=where, remedy=HOW)
    return tuple(found)


def read_cups(text: str, known: Iterable[str] = ()) -> tuple[CupRow, ...]:
    """The rows of such a file; raises `Refusals` naming every reading that must be put right."""
    kinds = tuple(known)
    faults: list[Refusal] = []
    found: list[CupRow] = []
    for number, reading in enumerate(read_any(text), start=1):
        try:
            found.append(_row(reading, kinds))
        except Refusal as refusal:
            place = f"reading {number} ({reading.name[:30]})"
            faults.append(
                Refusal(refusal.what, where=f"{place}, column {refusal.where}", remedy=refusal.remedy)
            )
    if faults:
        raise Refusals(faults)
    return tuple(found)


def _row(reading: Reading, known: Sequence[str]) -> CupRow:
    if not reading.name:
        raise Refusal("The cup has no name.", where="name", remedy="Write what stands on it.")
    struck = reading.facts.get("struck", "").lower()
    if struck not in (*YES, *NO):
        raise Refusal(f"“{struck[:20]}” is neither yes nor no.", where="struck")
    written = reading.facts.get("sd", "")
    if reading.is_spectrum and written:
        try:
            sd = float(written)
        except ValueError:
            sd = -1.0
        if not 1e-5 <= sd <= 0.2:
            raise Refusal(
                f"A reading's sd of {written[:20]} cannot be.", where="sd", remedy="Such as 0.0015."
            )
        reading = replace(reading, sd=sd)
    return CupRow(
        reading.name, read_pours(reading.facts.get("pours", ""), known=known), reading, struck in YES
    )


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
    """The cups with their readings, in the order of the file; wet spectra count as the dry colour that they foretell, wet colours do not count."""
    by_name: dict[str, list[CupRow]] = {}
    for row in rows:
        by_name.setdefault(row.name, []).append(row)
    cups = []
    for name, mine in by_name.items():
        left, number = mine, 0
        while left:
            whole = max(left, key=lambda row: len(row.pours)).pours
            here = [row for row in left if whole[: len(row.pours)] == row.pours]
            left = [row for row in left if row not in here]
            sights = [sight for row in here if (sight := _sight(row, stock, milk)) is not None]
            number += 1
            if sights:
                cups.append(Cup(name if number == 1 else f"{name} ({number})", whole, tuple(sights)))
    return cups


def _sight(row: CupRow, stock: Stock, milk: Milk | None) -> Sight | None:
    after, reading = len(row.pours), row.reading
    if reading.colour is not None:
        if row.wet:
            return None
        told = reading.colour
        return Sight(after, told.lab, told.covariance, told.light, told.observer, row.struck)
    if row.wet:
        held = contents_of(row.pours, stock)
        dry = dry_from_wet(reading.reflectance, held, Knowledge.fresh(stock).pigments(), milk, stock.surface)
        return Sight(after, np.clip(dry, 0, 1.3), WET_SD, struck=row.struck)
    return Sight(
        after,
        reading.reflectance,
        reading.sd if np.ndim(reading.sd) else float(np.max(reading.sd)),
        struck=row.struck,
    )
