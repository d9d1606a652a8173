"""How many coats a job's pieces get, and why: the one place that litres, days and price ask."""

from collections.abc import Iterator, Mapping

from hidewright.defaults import COLOUR_COATS
from hidewright.takeoff.coats import Assumptions
from hidewright.units import counted
from hidewright.workshop.room.work_queries import least_coats

MOST = 12
"""Coats of colour at the most."""


def planned_coats(hiding: int | None) -> tuple[int, str]:
    """Coats of colour to spray where a recipe hides with `hiding` of them (None: nobody knows), never fewer than the shop's least; and why, empty for a starting value."""
    least = least_coats()
    if hiding and hiding >= least:
        return min(hiding, MOST), "the recipe"
    if hiding:
        return least, f"the shop’s least; the recipe hides with {hiding}"
    return (least, "the shop’s least") if least > COLOUR_COATS else (COLOUR_COATS, "")


def coat_lines(assumed: Assumptions, sources: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """How many coats there are, in words, and why."""
    yield (
        counted(assumed.colour_coats, "sprayed coat") + " of colour",
        {
            "": "A usual figure: how many hide the old colour is not known without its reading."
            if "the recipe" in sources.values()
            else "A usual figure: no recipe is chosen yet.",
            "the recipe": "So many hide the old colour, by the recipe.",
            "set here": "Set here by hand.",
        }.get(sources.get("colour_coats", ""), f"{_sentence(sources.get('colour_coats', ''))}."),
    )
    if assumed.wiped:
        yield (
            "Colour wiped in first",
            "Only where it is sat on." if "wiped" in sources else "A usual figure: only where it is sat on.",
        )
    else:
        yield "No colour wiped in", "Set here by hand."
    yield (
        counted(assumed.clear_coats, "coat") + " of clear",
        "Set here by hand." if sources.get("clear_coats") == "set here" else "A usual figure.",
    )


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]
