"""Which reading of a file is of the film over black, over white, and of the bare card: by a column `over`, or by the words in its name."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from hidewright.lists.cells import folded
from hidewright.refusals import Refusal

from .readings import Reading

CARD = "card"
CARDS = ("card", "bare card", "bare", "substrate", "blank", "uncoated", "karte", "leer", "carton")
SIDES: Mapping[str, tuple[str, ...]] = {
    "black": ("b", "k", "bk", "schwarz", "noir", "negro", "over black", "dark"),
    "white": ("w", "wh", "weiss", "weiß", "blanc", "blanco", "over white", "light"),
}
"""The sides of a card with other words for them, as instruments and shops write them (common practice, no source)."""


def side_of(reading: Reading) -> str:
    """Over which side it was read: by its column `over`, else by the last word of its name that names one. Refuses where nothing says it."""
    for text in (reading.facts.get("over", ""), reading.name):
        found = [
            (place.start(), side)
            for side, words in SIDES.items()
            for word in (side, *words)
            for place in re.finditer(rf"\b{re.escape(folded(word))}\b", folded(text))
        ]
        if found:
            return max(found)[1]
    raise Refusal(
        f"Nothing says over which side “{reading.name[:40]}” was read.",
        where="Readings",
        remedy="Name the rows black, white, card black and card white.",
    )


def of_the_card(reading: Reading) -> bool:
    """Whether it is of the bare card."""
    return bool(set(re.findall(r"\w+", folded(reading.name))) & set(CARDS))


def film_readings(
    name: str, facts: Mapping[str, str], readings: Sequence[Reading], card: Sequence[Reading] = ()
) -> tuple[Reading, ...]:
    """The readings of one film and its bare card, named and sorted as a list of drawdowns has them; `card` are those of the bare card where the file holds none. Refuses what is not clear."""
    colours = [reading.name for reading in readings if not reading.is_spectrum]
    if colours:
        raise Refusal(
            f"“{colours[0][:40]}” holds a colour and no spectrum.",
            where="Readings",
            remedy="Export the spectrum, 400 to 700 nm.",
        )
    bare = [replace(r, name=CARD, facts={"over": side_of(r)}) for r in readings if of_the_card(r)]
    film = [
        replace(r, name=name, facts={"over": side_of(r), **facts}) for r in readings if not of_the_card(r)
    ]
    sides = {reading.facts["over"] for reading in film}
    missing = [side for side in SIDES if side not in sides]
    if missing:
        raise Refusal(
            f"The film over {' and '.join(missing)} is missing.",
            where="Readings",
            remedy="Read it over both sides of the card, and name the rows black and white.",
        )
    if len({reading.facts["over"] for reading in bare or card}) < 2:
        raise Refusal(
            "The bare card is missing.",
            where="Readings",
            remedy="Add its readings as rows named card black and card white.",
        )
    return (*(bare or card), *film)
