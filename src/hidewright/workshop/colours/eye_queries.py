"""A cup steered by eye: what was seen of it against the piece and against other cups, in one estimate of bottles, target and eye, and what to do now."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.cups.advice import advise
from hidewright.colour.cups.estimate import Estimate, estimate
from hidewright.colour.cups.memory import Memory
from hidewright.colour.cups.pours import Table
from hidewright.colour.cups.things import PIECE
from hidewright.colour.learning.cup import BASE, Cup, Pour
from hidewright.colour.learning.lots import Stock
from hidewright.refusals import Refusal
from hidewright.workshop.colours.cup_queries import counted_grams, steps_of
from hidewright.workshop.colours.likeness_queries import contents_of, grams_of, look_of, made_like
from hidewright.workshop.colours.models import Target
from hidewright.workshop.pigments import values
from hidewright.workshop.pigments.comparisons import (
    FAMILY,
    Colour,
    Steered,
    colour_of,
    job_of,
    standing_comparisons,
)
from hidewright.workshop.pigments.knowledge import (
    current_lots,
    kind_of,
    lot_words,
    milk,
    pours_as_values,
    pours_of,
    standing_sights,
)
from hidewright.workshop.pigments.memory import memory_for
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shelf.vessel_queries import job_vessels

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class EyeState:
    """A cup by eye: the joint estimate of its colour's looks, the cup in it, those looks, and whether the vessel that it makes again is aimed at."""

    now: Estimate
    cup: Cup
    rows: tuple[CupSight, ...]
    twin: bool

    @property
    def target_spread(self) -> float:
        """ΔE00 by which the target may be off."""
        return self.now.target_spread

    @property
    def eye(self) -> tuple[float, float]:
        """How many times as large a difference looks to this person as usual, and the sd of that in per cent."""
        times, sd = self.now.eye
        return times, 100 * sd

    @property
    def lab(self) -> Array:
        """Lab (3,) that the cup is now believed to have when dry."""
        labs, _ = self.now.slopes_of(self.cup, self.now.amounts(self.cup)[0][None])
        return np.asarray(labs[0])


def looks_of_colour(vessel: MixVessel) -> list[CupSight]:
    """Every comparison that counts of the colour that a vessel belongs to."""
    here: Colour = (vessel.job_id or 0, vessel.colour_number)
    return [row for row in standing_comparisons() if colour_of(row) == here]


def eye_state(vessel: MixVessel, person: int | None = None) -> EyeState | None:
    """The joint estimate of a cup's colour; None where nothing known is in the cup, or neither piece nor another vessel is there to aim at."""
    pours = pours_of(vessel)
    if not any(lot != BASE for lot, _ in pours):
        return None
    rows = looks_of_colour(vessel)
    aimed = _aimed(vessel)
    like = _like(vessel, rows)
    if aimed is None and like is None and not rows:
        return None
    here = (vessel.pk, pours_as_values(pours))
    steered = job_of(rows, aimed.reading if aimed else None, here=here, like=like)
    memory = _memory(vessel, rows, steered, person)
    if memory is None or steered.cup is None:
        return None
    return EyeState(estimate(steered.job, memory, milk()), steered.cup, tuple(rows), like is not None)


def _aimed(vessel: MixVessel) -> Target | None:
    return (
        Target.objects.filter(job=vessel.job_id, colour_number=vessel.colour_number, withdrawn=None)
        .select_related("reading")
        .first()
    )


def _like(vessel: MixVessel, rows: Iterable[CupSight]) -> tuple[int, tuple[Pour, ...]] | None:
    """The vessel that a cup makes again, where it is aimed at: not once the cup itself was held against the piece."""
    mine = [row for row in rows if row.vessel_id == vessel.pk]
    gone = made_like(vessel)
    if vessel.like is None or (mine and not mine[-1].beside_id and not mine[-1].swatch):
        return None
    if gone is not None:
        return vessel.like.pk, pours_as_values(grams_of(gone[1]).items())
    held = [row for row in mine if row.beside_id == vessel.like_id and row.beside_pours]
    pours = held[-1].beside_pours if held else (pours_of(vessel.like) or contents_of(vessel.like).items())
    values_ = pours_as_values(pours)
    return (vessel.like.pk, values_) if any(pour.lot != BASE for pour in values_) else None


def _memory(vessel: MixVessel, rows: list[CupSight], steered: Steered, person: int | None) -> Memory | None:
    """What is known before this colour; None where one of its lots is not known."""
    lots = {pour.lot for cup in steered.job.cups for pour in cup.pours} - {BASE}
    who = person if person is not None or not rows else rows[-1].person_id
    memory = memory_for(who, {*lots, *current_lots().values()}, without=vessel)
    return memory if lots <= {lot.key for lot in memory.knowledge.stock.lots} else None


@dataclass(frozen=True, slots=True)
class EyeAdvice:
    """What to do now: `act` as the engine names it, `words` why, `off` ΔE00 of the cup as it is believed to be now, `within` the same with its doubt (root mean square), `looks` that count, at this cup and in all of its colour.

    `pours` are lot, its words, grams and how that is measured, in the order to pour; `growth` percent by which the cup grows; `poured` how many pours it rests on; `target` ΔE00 by which the target may be off;
    `eye` how many times as large a difference looks to this person as usual, and the sd of that in per cent. `fresh` are the words and amounts of a cup made afresh.
    """

    act: str
    words: str
    off: float
    within: float
    looks: int
    others: int
    pours: tuple[tuple[str, str, float, str], ...]
    growth: float
    poured: int
    target: float
    eye: tuple[float, float]
    twin: bool
    fresh: tuple[tuple[str, str], ...] = ()

    @property
    def spread(self) -> float:
        """ΔE00 by which the cup may be off from where it is believed to be."""
        return float(np.sqrt(max(self.within**2 - self.off**2, 0.0)))


def eye_advice(vessel: MixVessel, person: int | None = None) -> EyeAdvice | None:
    """Advice by what was seen of this cup; None where nothing was compared, an instrument read it, or nothing known is in it."""
    mine = [row for row in standing_sights() if row.vessel_id == vessel.pk]
    if any(not row.compares for row in mine):
        return None
    if not mine and not _only_a_word(vessel):
        return None
    state = eye_state(vessel, person)
    if state is None:
        return None
    stock = state.now.memory.knowledge.stock
    table = _table(vessel, stock, set(current_lots().values()))

    def measured(lot: str, amount: float) -> str:
        return counted_grams(vessel, amount, table.step(lot))

    advice = advise(state.now, state.cup, table)
    best = advice.pours[0] if advice.act == "pour" and advice.pours else None
    grams = best.grams if best else {}
    return EyeAdvice(
        advice.act,
        advice.words,
        advice.now,
        advice.within,
        len(mine),
        len(state.rows) - len(mine),
        tuple((lot, lot_words(lot), amount, measured(lot, amount)) for lot, amount in grams.items()),
        100 * best.growth if best else 0.0,
        len(state.cup.pours),
        state.target_spread,
        state.eye,
        state.twin,
        tuple((lot_words(lot), measured(lot, amount)) for lot, amount in advice.fresh.grams.items())
        if advice.act == "afresh" and advice.fresh
        else (),
    )


def _only_a_word(vessel: MixVessel) -> bool:
    aimed = _aimed(vessel)
    return aimed is not None and aimed.reading.source == FAMILY


def _table(vessel: MixVessel, stock: Stock, allowed: set[str]) -> Table:
    shop = values.setup()
    there = {lot.key for lot in stock.lots}
    out = {row.key for row in Pigment.objects.filter(on_shelf=False)}
    barred = {lot for lot in there if lot not in allowed or kind_of(lot) in out}
    return Table(
        steps=steps_of(vessel, (lot.pigment for lot in stock.lots), stock.base),
        load=(shop.load_low, shop.load_high),
        vessel_ml=vessel.capacity / 1000,
        must_not_use=frozenset(barred),
    )


def near_colour(vessel: MixVessel, beside: MixVessel | None) -> Array:
    """Lab (3,) that the other side of a photo is believed to have: of another vessel, else of the piece."""
    state = eye_state(vessel)
    if beside is not None:
        look = look_of(beside)
        if look is not None:
            return np.array(look.labs["D65"])
    if state is None:
        raise Refusal(
            "Nothing known is in this cup.", where=vessel.name, remedy="Log its pours on the bench."
        )
    return state.now.swatch(PIECE)


def sides(vessel: MixVessel) -> list[tuple[str, str]]:
    """What a cup can be held against: key → words. The vessel that it makes again first, then the piece, then other cups and jars of its colour, then a stick or sample."""
    others = (
        [row for row in job_vessels(vessel.job, vessel.colour_number) if row.pk != vessel.pk]
        if vessel.job
        else []
    )
    first = [vessel.like] if vessel.like is not None and made_like(vessel) is None else []
    rest = [row for row in others if row not in first]
    named = [(f"v{row.pk}", row.name) for row in rest]
    return [
        *((f"v{row.pk}", f"{row.name}, which it makes again") for row in first),
        ("piece", "the piece"),
        *named,
        ("stick", "a stick or sample"),
    ]
