"""Comparisons as the engine takes them: both sides as they were then, and what was seen of the difference.

The looks of one colour of a job make one job of the engine. The piece is one thing however often its target is read anew: what an eye said of it while it was only a word still
counts once an instrument has read it. Only a colour that was worked out (a target shifted on purpose) is another thing than the piece.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from hidewright.colour.cups.own import FAMILIES, family
from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Difference, Job, Side, Swatch, SwatchAt
from hidewright.colour.cups.words import Word, Words
from hidewright.colour.learning.cup import Cup, Pour
from hidewright.colour.light import cie
from hidewright.colour.light.smooth import smoothest
from hidewright.refusals import Refusal
from hidewright.workshop.pigments.knowledge import pours_as_values, standing_sights
from hidewright.workshop.pigments.models import CupSight

FAMILY = "family"
"""The source of a target of which only a word is known."""
WORKED_OUT = "worked out"
"""The source of a target that was shifted on purpose: it is another thing than the piece."""
SOURCES = {"file": "instrument", "photo": "photo"}
"""Where a target comes from → by which word its spread is known; anything else counts as a swatch."""
ANY = Swatch.of((50.0, 5.0, 10.0), "guess", 40.0)
"""A thing of which nothing is known."""
STICK = "stick: "
"""How the engine's name of a stick or sample begins."""
JUST_SO = 0.05
"""ΔE00 within which a mix that is made again is aimed at as it is."""
Colour = tuple[int, int]
"""A job's key (0 for none) and the number of its colour."""


def colour_of(row: CupSight) -> Colour:
    """Which colour of which job a look belongs to."""
    return row.job_id or 0, row.vessel.colour_number


def standing_comparisons() -> list[CupSight]:
    """The comparisons that count, in the order in which they were made."""
    return [row for row in standing_sights() if row.compares]


def seen_of(row: CupSight) -> Words | Difference:
    """What was seen of the difference."""
    if row.delta is not None:
        how = row.source if row.source in ("photo", "instrument") else "photo"
        return Difference(np.array(row.delta), np.array(row.covariance), how)
    return Words(tuple(Word(word, strength) for word, strength in row.said or ()))


def swatch_of(reading: Any) -> Swatch:
    """What a reading of the piece (a row) says of it: never exact, and as wide as its source is vague."""
    if reading.source == FAMILY and reading.name.partition(",")[0] in FAMILIES:
        return family(reading.name.partition(",")[0])
    if reading.reflectance is None and (reading.light, reading.observer) == ("D65", "10"):
        lab = np.array(reading.lab, dtype=float)
    else:
        seen = reading.reflectance
        spectrum = smoothest(reading.lab, reading.light, reading.observer) if seen is None else np.array(seen)
        lab = cie.lab(spectrum)
    if reading.source == WORKED_OUT:
        return Swatch.of(lab, WORKED_OUT, float(np.clip(2.0 * reading.spread, 1.0, 15.0)))
    return Swatch.of(lab, SOURCES.get(reading.source, "swatch"))


class _Cups:
    """Every state of every vessel as a cup of the engine: what is the beginning of something later is one cup."""

    def __init__(self) -> None:
        self.chains: dict[str, tuple[Pour, ...]] = {}

    def at(self, vessel: int, pours: tuple[Pour, ...]) -> CupAt:
        """The cup that was so; longer states must be asked for first."""
        number = 0
        while True:
            name = f"v{vessel}" if not number else f"v{vessel}/{number}"
            held = self.chains.setdefault(name, pours)
            if held[: len(pours)] == pours:
                return CupAt(name, len(pours))
            number += 1


@dataclass(frozen=True, slots=True)
class _State:
    vessel: int
    pours: tuple[Pour, ...]


def _states(rows: Iterable[CupSight]) -> Iterable[_State]:
    for row in rows:
        yield _State(row.vessel_id, pours_as_values(row.pours))
        if row.beside_id and row.beside_pours:
            yield _State(row.beside_id, pours_as_values(row.beside_pours))


@dataclass(frozen=True, slots=True, eq=False)
class Steered:
    """A job of the engine, and the cup in it that is at hand."""

    job: Job
    cup: Cup | None


def job_of(
    rows: Sequence[CupSight],
    aimed: Any = None,
    *,
    here: tuple[int, tuple[Pour, ...]] | None = None,
    like: tuple[int, tuple[Pour, ...]] | None = None,
) -> Steered:
    """The looks of one colour as a job of the engine, aimed at the piece as `aimed` (a reading's row) tells of it, or as was known of it at the last look.

    `here` is the vessel at hand with what is in it; with `like`, another vessel with its contents, that one is aimed at instead.
    """
    aimed = aimed or next((row.aimed for row in reversed(rows) if row.aimed_id), None)
    piece = swatch_of(aimed) if aimed is not None else ANY
    cups = _Cups()
    states = [*_states(rows), *(_State(*one) for one in (here, like) if one is not None)]
    for state in sorted(states, key=lambda one: -len(one.pours)):
        cups.at(state.vessel, state.pours)
    twin = cups.at(*like) if like is not None else None
    swatches: dict[str, Swatch] = {PIECE: piece}
    looks = []
    for row in rows:
        other: Side = _other(row, aimed, cups, swatches)
        looks.append(
            Comparison(
                cups.at(row.vessel_id, pours_as_values(row.pours)),
                SwatchAt("like") if other == twin and twin is not None else other,
                seen_of(row),
                wet=row.state == "wet",
            )
        )
    if twin is not None:
        swatches["like"] = Swatch.of(piece.lab, "guess", 40.0)
        same = Difference(np.zeros(3), np.eye(3) * JUST_SO**2, "instrument")
        looks.append(Comparison(twin, SwatchAt("like"), same))
    made = tuple(Cup(name, pours) for name, pours in cups.chains.items())
    job = Job(swatches, made, tuple(looks), "like" if twin is not None else PIECE)
    return Steered(job, job.cup(cups.at(*here).cup) if here is not None else None)


def _other(row: CupSight, aimed: Any, cups: _Cups, swatches: dict[str, Swatch]) -> Side:
    """The other side of a look; a swatch that the job does not have yet is put among its `swatches`."""
    if row.beside_id and row.beside_pours:
        return cups.at(row.beside_id, pours_as_values(row.beside_pours))
    if row.beside_id or row.swatch:
        name = STICK + row.swatch if row.swatch else f"vessel {row.beside_id}"
        swatches.setdefault(name, Swatch.of(swatches[PIECE].lab, "guess", 25.0))
        return SwatchAt(name)
    then = row.aimed
    if then is None or aimed is None or then.pk == aimed.pk or WORKED_OUT not in (then.source, aimed.source):
        return SwatchAt(PIECE)
    name = f"reading {then.pk}"
    swatches.setdefault(name, swatch_of(then))
    return SwatchAt(name)


def refuse_itself(vessel: int, beside: int | None) -> None:
    """Refuse a look at one thing against itself."""
    if beside == vessel:
        raise Refusal(
            "A cup was compared with itself.", where="against", remedy="Choose what it was held against."
        )
