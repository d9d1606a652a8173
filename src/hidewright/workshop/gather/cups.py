"""Cups as the engine takes them: what went in, what was seen, what is known of the lots, and how to go on."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from django.db.models import Max
from django.utils.safestring import SafeString, mark_safe
from numpy.typing import NDArray

from hidewright.charts.swatches import Swatch, touching_swatches
from hidewright.colour.cups.adjust import AdjustProblem, Advice, adjust, as_if
from hidewright.colour.learning.cup import BASE, Cup, Pour, Sight
from hidewright.colour.learning.cups_csv import milk_told
from hidewright.colour.learning.learn import Forecast, Knowledge, OpenCup, best_prior, learn
from hidewright.colour.learning.lots import ROUGH, USUAL, Lot, Stock
from hidewright.colour.light import cie
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.generic import SPREAD
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.wet import Milk, Pair, dry_from_wet, look_wet
from hidewright.mixing.amounts import millilitres
from hidewright.refusals import Refusal

from ..models import colour as rows
from ..models.cups import CupSight, Forgetting
from ..models.jobs import Job
from ..models.mixing import MixVessel
from ..models.runs import Run, RunState
from . import colour as gather
from . import mixing

Array = NDArray[np.float64]
LOT = "#"
"""Stands between a pigment's key and the name of its lot."""
WET_SD = 0.008
"""Reflectance sd of a dry colour that was worked out from a wet reading: a starting value of this tool, no source."""
GRAIN_G = 0.05
"""A drop, in g: what additions are worked out in."""


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
    found = CupSight.objects.filter(strikes=None, struck_by=None)
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
                row.pours = [[apart if lot == one.lot else lot, grams] for lot, grams in row.pours]
    return sights


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
    named = [pour[0] for sight in sights for pour in sight.pours]
    keys = dict.fromkeys([*drawn, *named, *more])
    known = {key: _pigment_of(key, drawn) for key in keys if kind_of(key) in drawn}
    lots = tuple(Lot(key, one, SPREAD if one.illustrative else 1.0) for key, one in known.items())
    return Stock(lots, gather.base(), USUAL, gather.surface())


def _pigment_of(key: str, drawn: Mapping[str, Pigment]) -> Pigment:
    """A lot's pigment; what was learned before a lot was begun anew is no kin of it, so that nothing of it comes back that way."""
    pigment = drawn[kind_of(key)]
    return replace(pigment, key=key) if FORGOTTEN in key else pigment


def _cup(name: str, sights: Sequence[CupSight], known: Stock, pours: Sequence[tuple[str, float]]) -> Cup:
    """The cup as it stands with those readings whose contents are the beginning of what is in it now."""
    there = {lot.key for lot in known.lots} | {BASE}
    usable = [(lot, float(grams)) for lot, grams in pours if lot in there and grams > 0]
    seen = tuple(
        sight for row in sights if _begins(row.pours, pours) and (sight := _sight(row, known)) is not None
    )
    return Cup(name, tuple(Pour(lot, grams) for lot, grams in usable), seen)


def _begins(part: Sequence[Sequence[object]], whole: Sequence[tuple[str, float]]) -> bool:
    return len(part) <= len(whole) and all(
        a[0] == b[0] and abs(float(str(a[1])) - b[1]) < 1e-6 for a, b in zip(part, whole, strict=False)
    )


def _contents(pours: Sequence[Sequence[object]], known: Stock) -> Contents:
    volumes: dict[str, float] = {}
    base = 0.0
    for lot, grams in ((str(p[0]), float(str(p[1]))) for p in pours):
        if lot == BASE:
            base += grams / known.base.density
        else:
            volumes[lot] = volumes.get(lot, 0.0) + grams / known.lots[known.number(lot)].pigment.density
    return Contents(volumes, base)


def _as_pigments(known: Stock) -> tuple[Pigment, ...]:
    return Knowledge.fresh(known).pigments()


def _sight(row: CupSight, known: Stock) -> Sight | None:
    after = len(row.pours)
    if after == 0:
        return None
    if row.reflectance is not None:
        values = np.array(row.reflectance)
        if row.state == "wet":
            held = _contents(row.pours, known)
            values = dry_from_wet(values, held, _as_pigments(known), _milk_as_drawn(_mark()), known.surface)
            return Sight(after, np.clip(values, 0, 1.3), WET_SD)
        return Sight(after, values, row.spread)
    if row.state == "wet":
        return None
    covariance = np.array(row.covariance) if row.covariance else np.eye(3) * 0.5**2
    return Sight(after, np.array(row.lab), covariance, row.light, row.observer)


def cups_told(sights: Sequence[CupSight], known: Stock) -> list[Cup]:
    """Every cup that was read; readings whose contents are the beginning of a later one's belong to one cup."""
    by_vessel: dict[int, list[CupSight]] = {}
    for row in sights:
        by_vessel.setdefault(row.vessel_id, []).append(row)
    cups = []
    for vessel, found in by_vessel.items():
        left = list(found)
        while left:
            last = max(left, key=lambda row: (len(row.pours), row.pk))
            whole = [(str(lot), float(grams)) for lot, grams in last.pours]
            mine = [row for row in left if _begins(row.pours, whole)]
            left = [row for row in left if row not in mine]
            cup = _cup(f"v{vessel}-{last.pk}", mine, known, whole)
            if cup.pours and cup.sights and any(pour.lot != BASE for pour in cup.pours):
                cups.append(cup)
    return cups


def _mark() -> tuple[object, ...]:
    """Changes whenever something that is learned from changed."""
    newest = CupSight.objects.aggregate(last=Max("id"))["last"]
    anew = tuple(Forgetting.objects.filter(withdrawn=None).values_list("id", flat=True))
    drawn = rows.Pigment.objects.aggregate(at=Max("characterised"), version=Max("version"))
    listed = tuple(rows.Pigment.objects.filter(active=True).values_list("key", "density", "solids"))
    clear = gather.base()
    shop = gather.setup()
    return newest, anew, drawn["at"], drawn["version"], listed, clear.density, clear.solids, shop.specular


@lru_cache(maxsize=8)
def _knowledge(mark: tuple[object, ...], more: tuple[str, ...], without: int, stray: str) -> Knowledge:
    sights = [row for row in standing_sights() if row.vessel_id != without]
    known = replace(stock(sights, more), prior=STRAY[stray])
    return learn(known, cups_told(sights, known))


def knowledge(
    more: Iterable[str] = (), *, without: MixVessel | None = None, stray: str | None = None
) -> Knowledge:
    """What all readings of cups tell of the lots; `more` lots that must be in it, `without` the cup that is being worked on.

    `stray` how far bottles are taken to stray before any cup is read; as the shop's own cups last told where it is not given.
    """
    return _knowledge(_mark(), tuple(sorted(set(more))), without.pk if without else 0, stray or straying())


STRAY = {"usual": USUAL, "rough": ROUGH}
ENOUGH_CUPS = 8
"""Cups that must have been read before they are asked how far bottles stray (convention of this tool)."""


def straying() -> str:
    """How far this shop's bottles stray, as its cups told when they were last learned from: “usual” or “rough”."""
    last = Run.objects.filter(kind="colour.learn", state=RunState.DONE).first()
    told = (last.result or {}).get("stray", "") if last else ""
    return told if told in STRAY else "usual"


def told_straying() -> str:
    """Which of the two the readings that count speak for; “usual” while there are few."""
    sights = standing_sights()
    known = stock(sights)
    cups = cups_told(sights, known)
    if len(cups) < ENOUGH_CUPS:
        return "usual"
    best = best_prior(known, cups, tuple(STRAY.values()))
    return next(name for name, prior in STRAY.items() if prior == best)


def milk() -> Milk:
    """The base's milk, from the shop's own pairs of wet and dry readings of one cup, by the pigments as the cups taught them; the starting values before that."""
    return _milk(_mark(), straying())


@lru_cache(maxsize=4)
def _milk(mark: tuple[object, ...], stray: str) -> Milk:
    known, pairs = _pairs()
    return milk_told(pairs, replace(known, prior=STRAY[stray]), knowledge(stray=stray)) if pairs else Milk()


@lru_cache(maxsize=4)
def _milk_as_drawn(mark: tuple[object, ...]) -> Milk:
    """The milk by the pigments as drawn down: what cups teach stands on it where they were read wet."""
    known, pairs = _pairs()
    return milk_told(pairs, known)


def _pairs() -> tuple[Stock, list[Pair]]:
    """The lots that were poured, and each cup that was read wet and then dry with nothing poured between."""
    sights = [row for row in standing_sights() if row.reflectance is not None and row.pours]
    known = stock(sights)
    wet = {(r.vessel_id, len(r.pours)): r for r in sights if r.state == "wet"}
    dry = {(r.vessel_id, len(r.pours)): r for r in sights if r.state == "dry"}
    pairs = [
        Pair(_contents(wet[at].pours, known), np.array(wet[at].reflectance), np.array(dry[at].reflectance))
        for at in wet
        if at in dry and wet[at].pours == dry[at].pours
    ]
    return known, pairs


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

    @property
    def grams(self) -> float:
        """What is in it, g."""
        return sum(grams for _, grams in self.pours)


def cup_state(job: Job, vessel: MixVessel) -> CupState | None:
    """How a cup stands against the job's target; None while there is no known pigment in it."""
    pours = pours_of(vessel)
    lots = current_lots()
    before = knowledge([lot for lot, _ in pours if lot != BASE] + list(lots.values()), without=vessel)
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
    cup = _cup(f"v{vessel.pk}", mine, before.stock, pours)
    opened = before.open(cup)
    forecast = opened.forecast()
    aimed = gather.target(job)
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
    shop = gather.setup()
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
        step_g=GRAIN_G,
        tolerance=aimed.tolerance,
        must_not_use=frozenset(barred),
        spread_of=lambda grams: opened.forecast([Pour(k, g) for k, g in grams.items() if g > 0]).spread(),
    )
    return adjust(problem)


def unknown_cup(job: Job, reading: gather.ReadingValue, volume: float) -> Advice:
    """What to add to a cup of unknown contents: it is taken for the mix that comes nearest to its reading."""
    aimed = gather.target(job)
    if aimed is None:
        raise Refusal("There is no target yet.", where="target", remedy="Pick the reading to aim at first.")
    if reading.state == "wet":
        raise Refusal(
            "This was read wet, and what stands in an unknown cup dries by nobody knows how much.",
            where="reading",
            remedy="Let a drawdown of it dry, and read that.",
        )
    known = gather.pigments()
    if not known:
        raise Refusal("No pigment is known yet.", where="pigments", remedy="Bring drawdowns first.")
    shop = gather.setup()
    held = as_if(reading.reflectance, volume, known, gather.base(), (shop.load_low + shop.load_high) / 2)
    out = {row.key for row in rows.Pigment.objects.filter(on_shelf=False)}
    return adjust(
        AdjustProblem(
            held,
            aimed.target.reflectance,
            known,
            gather.base(),
            Surface(specular=shop.specular),
            load=(shop.load_low, shop.load_high),
            step_g=GRAIN_G,
            tolerance=aimed.tolerance,
            must_not_use=frozenset(out),
        )
    )


def cup_swatches(job: Job, state: CupState) -> list[SafeString]:
    """Target against the cup under each light, dry; and the cup wet against dry."""
    aimed = gather.target(job)
    dry = state.forecast.reflectance
    shown = [_against(aimed, dry, light) for light in gather.LIGHTS] if aimed else []
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
        Swatch(cie.hex_from_reflectance(dry, light), "Cup, dry", f"ΔE00 {delta:.1f}"),
    ]
    name = gather.LIGHT_NAMES[light]
    return touching_swatches(patches, caption=name[:1].upper() + name[1:], height=96)


def wet_drift(state: CupState) -> float:
    """ΔE00 between the cup wet and dry."""
    volumes = state.opened.volumes()
    base_ml = volumes.pop(BASE, 0.0)
    wet = look_wet(Contents(volumes, base_ml), state.opened.knowledge.pigments(), milk())
    return float(cie.delta_e00(cie.lab(wet), cie.lab(state.forecast.reflectance)))
