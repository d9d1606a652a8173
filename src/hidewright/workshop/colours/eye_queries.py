"""A cup steered by eye: what was said of it, in one estimate of bottles, target and eye, and what to do now."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hidewright.colour.cups.advice import advise
from hidewright.colour.cups.estimate import estimate
from hidewright.colour.cups.memory import Memory
from hidewright.colour.cups.own import FAMILIES, family
from hidewright.colour.cups.pours import Table
from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Job, Swatch, SwatchAt
from hidewright.colour.cups.words import Word, Words
from hidewright.colour.learning.cup import BASE, Cup
from hidewright.colour.light import cie
from hidewright.workshop.colours.cup_queries import step_of
from hidewright.workshop.colours.likeness_queries import aim_of
from hidewright.workshop.colours.queries import ReadingValue
from hidewright.workshop.pigments import values
from hidewright.workshop.pigments.knowledge import (
    current_lots,
    kind_of,
    knowledge,
    lot_words,
    pours_as_values,
    pours_of,
    standing_sights,
)
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf.models import MixVessel, Pigment

BY_EYE = "By eye: "
"""How the kept name of what an eye said begins; the words follow, parted by commas."""
FAMILY = "family"
"""The source of a target of which only a word is known."""
SOURCES = {"file": "instrument", "photo": "photo"}
"""Where a target comes from → by which word its spread is known; anything else counts as a swatch."""


def words_of(row: CupSight) -> Words | None:
    """The words of a look by eye, read off its name; None for a reading of another kind."""
    if row.source != "by eye" or not row.name.startswith(BY_EYE):
        return None
    said = row.name.removeprefix(BY_EYE)
    if said == "looks the same":
        return Words()
    pairs = (part.rpartition(" ") for part in said.split(", "))
    return Words(tuple(Word(word, strength) for strength, _, word in pairs))


@dataclass(frozen=True, slots=True)
class EyeAdvice:
    """What to do now: `act` as the engine names it, `words` why, `within` ΔE00 the cup is believed to be off by now, `looks` that count.

    `pours` are lot, its words and grams, in the order to pour; `growth` percent by which the cup grows; `poured` how many pours it rests on.
    """

    act: str
    words: str
    within: float
    looks: int
    pours: tuple[tuple[str, str, float], ...]
    growth: float
    poured: int


def eye_advice(vessel: MixVessel) -> EyeAdvice | None:
    """Advice by what the eye said of this cup; None where nothing was said, an instrument read it, or nothing known is in it."""
    pours = pours_of(vessel)
    aimed = aim_of(vessel)
    sights = [row for row in standing_sights() if row.vessel_id == vessel.pk]
    if aimed is None or not any(lot != BASE for lot, _ in pours) or not _by_eye(sights, aimed.target):
        return None
    lots = current_lots()
    known = knowledge([lot for lot, _ in pours if lot != BASE] + list(lots.values()), without=vessel)
    if not {lot for lot, _ in pours} <= {lot.key for lot in known.stock.lots} | {BASE}:
        return None
    cup = Cup(f"v{vessel.pk}", pours_as_values(pours))
    job = Job({PIECE: swatch_of(aimed.target)}, (cup,), tuple(_looks(cup, sights)))
    now = estimate(job, Memory.of(known))
    told = advise(now, cup, _table(vessel, {lot.key for lot in known.stock.lots}, set(lots.values())))
    best = told.pours[0] if told.act == "pour" and told.pours else None
    grams = best.grams if best else {}
    return EyeAdvice(
        told.act,
        told.words,
        told.within,
        len(job.comparisons),
        tuple((lot, lot_words(lot), amount) for lot, amount in grams.items()),
        100 * best.growth if best else 0.0,
        len(pours),
    )


def _by_eye(sights: Iterable[CupSight], target: ReadingValue) -> bool:
    """Whether this cup is steered by eye: an eye said something, or only a word is known of the target, and no device read the cup."""
    rows = list(sights)
    if any(row.source != "by eye" for row in rows):
        return False
    return bool(rows) or target.source == FAMILY


def swatch_of(target: ReadingValue) -> Swatch:
    """The target as a colour that is known only so far: an instrument's reading, a photo, a colour that was typed, or a word."""
    if target.source == FAMILY and target.name.partition(",")[0] in FAMILIES:
        return family(target.name.partition(",")[0])
    return Swatch.of(cie.lab(target.reflectance), SOURCES.get(target.source, "swatch"))


def _looks(cup: Cup, sights: Sequence[CupSight]) -> Iterable[Comparison]:
    """What was said of this cup as it was then; a look whose contents are no beginning of today's is left out."""
    for row in sights:
        words = words_of(row)
        after = len(row.pours)
        if words is None or not 1 <= after <= len(cup.pours):
            continue
        if pours_as_values(row.pours) == cup.pours[:after]:
            yield Comparison(CupAt(cup.name, after), SwatchAt(), words, wet=row.state == "wet")


def _table(vessel: MixVessel, there: set[str], allowed: set[str]) -> Table:
    shop = values.setup()
    out = {row.key for row in Pigment.objects.filter(on_shelf=False)}
    barred = {lot for lot in there if lot not in allowed or kind_of(lot) in out}
    return Table(
        step_g=step_of(vessel),
        load=(shop.load_low, shop.load_high),
        vessel_ml=vessel.capacity / 1000,
        must_not_use=frozenset(barred),
    )
