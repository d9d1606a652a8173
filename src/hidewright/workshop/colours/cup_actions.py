"""What is done about a cup's colour: reading it, striking a reading out, learning from it, pouring what was advised."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from django.db import IntegrityError, transaction

from hidewright.colour.cups.words import NEAR_GREY, Word, Words
from hidewright.colour.learning.cup import BASE
from hidewright.colour.light.smooth import smoothest
from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.shine import read_alike, shine_stated
from hidewright.colour.reading.stick import StickDifference
from hidewright.mixing.amounts import microlitres_of_mass
from hidewright.refusals import Refusal
from hidewright.workshop.colours.likeness_queries import contents_of
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.pigments import knowledge as told
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.pigments.comparisons import refuse_itself, swatch_of
from hidewright.workshop.pigments.learning_actions import start_learning
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.pigments.saving import numbers
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf.models import MixComponent, MixVessel, Pigment
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def _add(
    vessel: MixVessel, name: str, *, person: Person | None, device: Device | None, **facts: Any
) -> CupSight:
    pours = told.pours_of(vessel)
    if not any(lot != BASE for lot, _ in pours):
        raise Refusal(
            "There is no pigment in this cup yet.",
            where=vessel.name,
            remedy="Log the pours on the bench first.",
        )
    with transaction.atomic():
        row = CupSight.objects.create(
            job=vessel.job,
            vessel=vessel,
            name=name.strip()[:120] or vessel.name,
            pours=[[lot, grams] for lot, grams in pours],
            person=person,
            device=device,
            **facts,
        )
        record(
            vessel.job,
            f"Kept a {'comparison' if row.compares else 'reading'} of {vessel.name}",
            undo="cups.sight",
            undo_with={"id": row.pk},
            device=device,
        )
        start_learning()
        return row


def read_cup(
    vessel: MixVessel,
    reading: Reading,
    *,
    state: str = "dry",
    source: str = "file",
    person: Person | None = None,
    device: Device | None = None,
) -> CupSight:
    """Keep a spectrum of a cup, with what is in it now; one that was read with the shine where the pigments were not, or the other way, is brought alike, and its note says so."""
    surface = gather_values.surface()
    stated = (
        reading if state == "dry" else replace(reading, conditions=replace(reading.conditions, state="wet"))
    )
    reading, words = read_alike(stated, surface)
    return _add(
        vessel,
        reading.name,
        note=" ".join(words or [shine_stated(reading, surface)])[:240],
        reflectance=numbers(reading.reflectance),
        spread=float(np.sqrt(np.mean(np.square(reading.sd)))),
        state=state,
        source=source,
        person=person,
        device=device,
    )


def read_colour(
    vessel: MixVessel,
    colour: tuple[float, float, float],
    *,
    light: str = "D65",
    observer: str = "10",
    state: str = "dry",
    spread: float = 0.3,
    name: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> CupSight:
    """Keep a colour of a cup given as L*, a*, b*, with its spread in CIELAB units a channel."""
    smoothest(colour, light, observer)
    return _add(
        vessel,
        name or f"{vessel.name}, typed",
        lab=[float(v) for v in colour],
        covariance=(np.eye(3) * spread**2).tolist(),
        light=light,
        observer=observer,
        state=state,
        source="typed",
        person=person,
        device=device,
    )


@dataclass(frozen=True, slots=True)
class Against:
    """What a cup was held against: another vessel (`beside`), a stick or sample by its name (`swatch`), or with neither the piece."""

    beside: MixVessel | None = None
    swatch: str = ""

    def facts(self, vessel: MixVessel) -> dict[str, Any]:
        """The other side as it is now, as it is kept; refuses the cup itself, an empty vessel, and a piece of which nothing is known."""
        refuse_itself(vessel.pk, self.beside.pk if self.beside else None)
        aimed = target_row(vessel.job, vessel.colour_number) if vessel.job else None
        known = {"aimed": aimed.reading if aimed else None}
        if self.beside is not None:
            pours = told.pours_of(self.beside) or list(contents_of(self.beside).items())
            if not any(lot != BASE for lot, _ in pours):
                raise Refusal(
                    f"What is in {self.beside.name} is not known.",
                    where="against",
                    remedy="Call it a sample, and give it a name.",
                )
            return {"beside": self.beside, "beside_pours": [[lot, grams] for lot, grams in pours], **known}
        if self.swatch:
            return {"swatch": self.swatch.strip()[:60], **known}
        if aimed is None:
            raise Refusal(
                "Nothing is known of the piece yet.",
                where="target",
                remedy="Say on the page Colour what colour it is: a word is enough.",
            )
        return known

    @property
    def words(self) -> str:
        """The other side in words."""
        return self.beside.name if self.beside is not None else (self.swatch.strip() or "the piece")


def say_by_eye(
    vessel: MixVessel,
    words: Sequence[tuple[str, str]],
    *,
    state: str = "dry",
    against: Against = Against(),
    person: Person | None = None,
    device: Device | None = None,
) -> CupSight:
    """Keep what an eye says of the cup against something else: (word, strength); no words mean that they look the same. Both sides are kept, and no colour."""
    said = Words(tuple(Word(word, strength) for word, strength in words))
    facts = against.facts(vessel)
    _refuse_grey(said, facts)
    text = ", ".join(f"{strength} {word}" for word, strength in words) or "the same"
    return _add(
        vessel,
        f"By eye: {text}, against {against.words}",
        said=[[word.word, word.strength] for word in said.said],
        state=state,
        source="by eye",
        person=person,
        device=device,
        **facts,
    )


def _refuse_grey(said: Words, facts: Mapping[str, Any]) -> None:
    """Of a piece that an instrument reads as nearly grey, cleaner and greyer say nothing."""
    aimed = facts["aimed"]
    if len(facts) > 1 or aimed.source != "file" or not any(word.axis == "chroma" for word in said.said):
        return
    lab = swatch_of(aimed).lab
    if float(np.hypot(lab[1], lab[2])) < NEAR_GREY:
        raise Refusal(
            "The piece is nearly grey: cleaner or greyer says nothing there.",
            where="by eye",
            remedy="Say redder, greener, yellower or bluer.",
        )


def keep_stick(
    vessel: MixVessel,
    seen: StickDifference,
    *,
    state: str = "dry",
    against: Against = Against(),
    person: Person | None = None,
    device: Device | None = None,
) -> CupSight:
    """Keep the difference that a photo of one stick shows: the cup less the other side."""
    off = ", ".join(f"{name}* {value:+.1f}" for name, value in zip("Lab", seen.delta, strict=True))
    return _add(
        vessel,
        f"Stick photo: {off}, against {against.words}",
        delta=[float(v) for v in seen.delta],
        covariance=seen.covariance.tolist(),
        state=state,
        source="photo",
        note=" ".join(seen.doubts)[:240],
        person=person,
        device=device,
        **against.facts(vessel),
    )


def strike_sight(
    row: CupSight, *, note: str, person: Person | None = None, device: Device | None = None
) -> CupSight:
    """Strike out a reading of a cup by a counter-entry with its reason; what was learned from it is forgotten."""
    if not note.strip():
        raise Refusal("Say why it is struck out.", where="Why")
    try:
        with transaction.atomic():
            counter = CupSight.objects.create(
                job=row.job,
                vessel=row.vessel,
                name=f"Struck out: {row.name}"[:120],
                strikes=row,
                note=note.strip()[:240],
                person=person,
                device=device,
            )
            start_learning()
            return counter
    except IntegrityError:
        raise Refusal("This reading was struck out already.", where=row.name) from None


@undoes("cups.sight")
def _strike(data: dict[str, Any]) -> None:
    row = CupSight.objects.filter(pk=data["id"], struck_by=None).first()
    if row is not None:
        strike_sight(row, note="Undone")


def pour_addition(
    job: Job, vessel: MixVessel, grams: Mapping[str, float], *, seen: int, device: Device | None = None
) -> int:
    """Log what was advised as poured, all or nothing; `seen` is how many pours stood when it was advised. Returns how many pours."""
    if vessel.job_id != job.pk:
        raise Refusal("This vessel belongs to another job.", where=vessel.name)
    if not grams or min(grams.values()) <= 0:
        raise Refusal("There is nothing to pour.", where="addition")
    with transaction.atomic():
        MixVessel.objects.select_for_update().get(pk=vessel.pk)
        if len(told.pours_of(vessel)) != seen:
            raise Refusal(
                "Something was poured or drawn off since this was advised.",
                where=vessel.name,
                remedy="Look at the new advice.",
            )
        for lot, amount in grams.items():
            kind, _, name = lot.partition(told.LOT)
            density = known_component(kind)
            mixing.pour(
                vessel,
                kind,
                microlitres_of_mass(amount, density),
                lot=name,
                said=f"{amount:g} g, to adjust",
                device=device,
            )
        vessel.refresh_from_db()
        if vessel.accepted is None:
            mixing.accept(vessel, device=device)
    return len(grams)


def known_component(key: str) -> float:
    """Make sure that the bench knows a component; returns its density in g/mL."""
    if key == BASE:
        clear = gather_values.base()
        name, density, shade = clear.name, clear.density, gather_values.CLEAR_HEX
    else:
        row = Pigment.objects.get(key=key)
        name, density, shade = row.name, row.density, gather_values.hexes().get(key, "")
    MixComponent.objects.get_or_create(key=key, defaults={"name": name, "density": density, "hex": shade})
    return density
