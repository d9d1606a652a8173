"""Cups as the engine takes them: what went in, what was seen, what is known of the lots, and how to go on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
from django.db.models import Max
from numpy.typing import NDArray

from hidewright.colour.learning.cup import BASE, Cup, Pour
from hidewright.colour.learning.cup_rows import CupRow, cup_at_hand, cups_of, milk_told, pairs_of
from hidewright.colour.learning.learn import Knowledge, learn
from hidewright.colour.learning.lots import USUAL, Lot, Prior, Stock
from hidewright.colour.learning.stray import fitted_prior
from hidewright.colour.pigments.generic import SPREAD
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.wet import Milk, Pair
from hidewright.colour.reading.conditions import Conditions
from hidewright.colour.reading.readings import Reading, colour_reading
from hidewright.mixing.amounts import millilitres
from hidewright.workshop.pigments import values as gather
from hidewright.workshop.pigments.models import CupSight, Forgetting
from hidewright.workshop.shelf import models as rows
from hidewright.workshop.shelf import vessel_queries as mixing
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Run, RunState

Array = NDArray[np.float64]
LOT = "#"
"""Stands between a pigment's key and the name of its lot."""


def lot_key(pigment: str, lot: str) -> str:
    """How a lot is named in the engine: the pigment's key alone where no lot was logged."""
    return f"{pigment}{LOT}{lot}" if lot else pigment


FORGOTTEN = "\n"
"""Stands between a lot's key and the number of the act by which the shop began to learn it anew: what was read before is kept apart."""


def kind_of(lot: str) -> str:
    """The pigment of a lot's key."""
    return lot.partition(FORGOTTEN)[0].partition(LOT)[0]


def pours_of(vessel: MixVessel) -> list[tuple[str, float]]:
    """(lot, grams) of everything that stands in a vessel, in the order in which it went in.

    Where colour was drawn off in between, the contents as they stand now. What is no pigment counts as base of the same volume.
    """
    book = mixing.ledger_of([vessel])
    density = {row.key: row.density for row in rows.Pigment.objects.all()}
    clear = gather.base().density
    moves = [move for entry in book.standing() for move in entry.moves]
    if any(move.source == vessel.key for move in moves):
        from hidewright.mixing.ledger import contents

        found = [(key, lot, amount) for (key, lot), amount in contents(book, vessel.key).items()]
    else:
        found = [(m.component, m.lot, m.amount) for m in moves if m.target == vessel.key]
    return [
        (lot_key(key, lot), millilitres(amount) * density[key])
        if key in density
        else (BASE, millilitres(amount) * clear)
        for key, lot, amount in found
        if amount > 0
    ]


def standing_sights() -> list[CupSight]:
    """The readings of cups that count: not struck out, and made since the shop began to learn anew.

    Where one lot alone is learned anew, earlier readings count as of a lot apart, so that they still tell of the other lots in the cup.
    """
    found = CupSight.objects.filter(strikes=None, struck_by=None).select_related("vessel", "beside", "aimed")
    stand = list(Forgetting.objects.filter(withdrawn=None))
    whole = next((one for one in stand if not one.lot), None)
    if whole is not None:
        found = found.filter(made__gt=whole.made)
    sights = list(found)
    single = [one for one in reversed(stand) if one.lot]
    for row in sights:
        for one in single:
            if row.made <= one.made:
                apart = f"{one.lot}{FORGOTTEN}{one.pk}"
                row.pours = _apart(row.pours, one.lot, apart)
                row.beside_pours = _apart(row.beside_pours, one.lot, apart)
    return sights


def _apart(pours: Sequence[Sequence[object]], lot: str, apart: str) -> list[list[object]]:
    return [[apart if name == lot else name, grams] for name, grams in pours]


def sights_of(vessel: MixVessel) -> list[CupSight]:
    """Every reading of a vessel, newest first, those struck out too."""
    return list(
        CupSight.objects.filter(vessel=vessel, strikes=None)
        .select_related("person", "device", "struck_by")
        .order_by("-id")
    )


def is_struck(row: CupSight) -> bool:
    """True when a counter-entry strikes it out."""
    return hasattr(row, "struck_by")


def stock(sights: Iterable[CupSight], more: Iterable[str] = ()) -> Stock:
    """What can be poured: one lot of each pigment as drawn down, and every lot that a cup was made with.

    A lot of an illustrative pigment may be off much further.
    """
    drawn = {
        row.key: value
        for row in rows.Pigment.objects.filter(active=True)
        if (value := gather.pigment_value(row, learned=False)) is not None
    }
    named = [pour[0] for sight in sights for pour in (*sight.pours, *sight.beside_pours)]
    bottles = [key for key, one in drawn.items() if one.load == 1.0]
    keys = dict.fromkeys([*bottles, *named, *more])
    known = {key: _pigment_of(key, drawn) for key in keys if kind_of(key) in drawn}
    lots = tuple(Lot(key, one, SPREAD if one.illustrative else 1.0) for key, one in known.items())
    return Stock(lots, gather.base(), USUAL, gather.surface())


def _pigment_of(key: str, drawn: Mapping[str, Pigment]) -> Pigment:
    """A lot's pigment; what was learned before a lot was begun anew is no kin of it, so that nothing of it comes back that way."""
    pigment = drawn[kind_of(key)]
    return replace(pigment, key=key) if FORGOTTEN in key else pigment


def pours_as_values(pours: Iterable[Sequence[object]]) -> tuple[Pour, ...]:
    """(lot, grams) as the engine takes them; to a millionth of a gram, so that what was poured once compares equal."""
    found = ((str(lot), round(float(str(grams)), 6)) for lot, grams in pours)
    return tuple(Pour(lot, grams) for lot, grams in found if grams > 0)


def reading_of_sight(row: CupSight) -> Reading:
    """A kept reading of a cup as the engine takes any reading: its spectrum, or its colour with its covariance."""
    conditions = Conditions(state=row.state, light=row.light)
    if row.reflectance is not None:
        return Reading(row.name, np.array(row.reflectance), sd=row.spread, conditions=conditions)
    spread = row.covariance or (np.eye(3) * 0.5**2).tolist()
    return _colour(
        row.name, tuple(row.lab or ()), tuple(map(tuple, spread)), row.light, row.observer, conditions
    )


@lru_cache(maxsize=512)
def _colour(
    name: str,
    lab: tuple[float, ...],
    covariance: tuple[tuple[float, ...], ...],
    light: str,
    observer: str,
    conditions: Conditions,
) -> Reading:
    return colour_reading(name, lab, covariance, light, observer, conditions)


def rows_of_sights(sights: Iterable[CupSight], known: Stock) -> list[CupRow]:
    """Kept readings as rows of cups, as a file of them has; those of cups that hold what is not known are left out."""
    there = {lot.key for lot in known.lots} | {BASE}
    return [
        CupRow(f"v{row.vessel_id}", pours_as_values(row.pours), reading_of_sight(row), struck=False)
        for row in sights
        if not row.compares and all(lot in there for lot, _ in row.pours)
    ]


def cup_of_sights(
    name: str, sights: Sequence[CupSight], known: Stock, pours: Sequence[tuple[str, float]]
) -> Cup:
    """The cup as it stands with those readings whose contents are the beginning of what is in it now."""
    found = rows_of_sights(sights, known)
    return cup_at_hand(name, pours_as_values(pours), found, known, _milk_for(found))


def cups_told(sights: Sequence[CupSight], known: Stock) -> list[Cup]:
    """Every cup that was read; readings whose contents are the beginning of a later one's belong to one cup."""
    found = rows_of_sights(sights, known)
    return cups_of(found, known, _milk_for(found))


def _milk_for(found: Iterable[CupRow]) -> Milk | None:
    """The milk by which wet spectra are dried; None where there is none to dry."""
    return (
        _milk_as_drawn(reading_mark()) if any(row.wet and row.reading.is_spectrum for row in found) else None
    )


def reading_mark() -> tuple[object, ...]:
    """Changes whenever something that readings of cups are learned from changed; a comparison does not change it."""
    newest = CupSight.objects.filter(said__isnull=True, delta__isnull=True).aggregate(last=Max("id"))["last"]
    anew = tuple(Forgetting.objects.filter(withdrawn=None).values_list("id", flat=True))
    drawn = rows.Pigment.objects.aggregate(at=Max("characterised"), version=Max("version"))
    listed = tuple(rows.Pigment.objects.filter(active=True).values_list("key", "density", "solids"))
    clear = gather.base()
    shop = gather.setup()
    return newest, anew, drawn["at"], drawn["version"], listed, clear.density, clear.solids, shop.specular


@lru_cache(maxsize=8)
def _knowledge(mark: tuple[object, ...], more: tuple[str, ...], without: int, stray: Prior) -> Knowledge:
    sights = [row for row in standing_sights() if row.vessel_id != without]
    known = replace(stock(sights, more), prior=stray)
    return learn(known, cups_told(sights, known))


def knowledge(
    more: Iterable[str] = (), *, without: MixVessel | None = None, stray: Prior | None = None
) -> Knowledge:
    """What the readings of cups tell of the lots (with the comparisons, see `memory.known`); `more` lots that must be in it, `without` the cup that is being worked on.

    `stray` how far bottles are taken to stray before any cup is read; as the shop's own cups last told where it is not given.
    """
    return _knowledge(
        reading_mark(), tuple(sorted(set(more))), without.pk if without else 0, stray or straying()
    )


ENOUGH_CUPS = 8
"""Cups that must have been read before they are asked how far bottles stray (convention of this tool)."""


def straying() -> Prior:
    """How far this shop's bottles stray, as its cups told when they were last learned from; as usual before that."""
    last = Run.objects.filter(kind="colour.learn", state=RunState.DONE).first()
    stray = (last.result or {}).get("stray") if last else None
    return (
        replace(USUAL, **{name: float(stray[name]) for name in STRAY}) if isinstance(stray, dict) else USUAL
    )


STRAY = ("strength", "shape")
"""The spreads of a prior that cups are asked for."""


def told_straying() -> Prior:
    """What the readings that count speak for; the usual prior while there are few."""
    sights = standing_sights()
    known = stock(sights)
    cups = cups_told(sights, known)
    return fitted_prior(known, cups) if len(cups) >= ENOUGH_CUPS else USUAL


def milk() -> Milk:
    """The base's milk, from the shop's own pairs of wet and dry readings of one cup, by the pigments as the cups taught them; the starting values before that."""
    return _milk(reading_mark(), straying())


@lru_cache(maxsize=4)
def _milk(mark: tuple[object, ...], stray: Prior) -> Milk:
    known, pairs = _pairs()
    return milk_told(pairs, replace(known, prior=stray), knowledge(stray=stray)) if pairs else Milk()


@lru_cache(maxsize=4)
def _milk_as_drawn(mark: tuple[object, ...]) -> Milk:
    """The milk by the pigments as drawn down: what cups teach stands on it where they were read wet."""
    known, pairs = _pairs()
    return milk_told(pairs, known)


def _pairs() -> tuple[Stock, list[Pair]]:
    """The lots that were poured, and each cup that was read wet and then dry with nothing poured between."""
    sights = [row for row in standing_sights() if row.reflectance is not None and row.pours]
    known = stock(sights)
    return known, pairs_of(rows_of_sights(sights, known), known)


def current_lots() -> dict[str, str]:
    """Pigment key → key of the lot that is open now (the pigment's own key where none was noted)."""
    found = {p.key: p.key for p in gather.pigments()}
    opened = rows.PigmentLot.objects.filter(finished=None).exclude(opened=None).select_related("pigment")
    for lot in opened.order_by("opened", "id"):
        if lot.pigment.key in found:
            found[lot.pigment.key] = lot_key(lot.pigment.key, lot.name)
    return found


def lot_words(key: str) -> str:
    """“Yellow oxide, lot B7”."""
    kind, _, lot = key.partition(LOT)
    row = rows.Pigment.objects.filter(key=kind).first()
    name = row.name if row else (gather.base().name if kind == BASE else kind)
    return f"{name}, lot {lot}" if lot else name
