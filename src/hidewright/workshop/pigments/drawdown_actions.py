"""Keeping one drawdown that was entered by hand, with the file of its readings."""

from collections.abc import Sequence

from hidewright.colour.pigments.shop_films import turned
from hidewright.colour.reading.readings import Reading, drawdowns_of, entry_facts
from hidewright.colour.reading.sides import film_readings
from hidewright.lists.mixes import Entry
from hidewright.refusals import Refusal
from hidewright.workshop.pigments.actions import keep_drawdowns
from hidewright.workshop.pigments.drawdown_queries import last_card
from hidewright.workshop.pigments.values import things
from hidewright.workshop.shop.models import Act


def enter_drawdown(name: str, entry: Entry, readings: Sequence[Reading]) -> Act:
    """Keep a film as the shop wrote it down, with its readings; the bare card is the last one that was read where the file has none. Does not find K and S."""
    name = " ".join(name.split())
    if name.casefold() == "card":
        raise Refusal(
            "Card is what the bare card is called.", where="Name", remedy="Give the film another name."
        )
    made = turned(entry, things())
    sorted_out = film_readings(name, entry_facts(entry), readings, last_card())
    return keep_drawdowns(
        drawdowns_of(sorted_out, things()), text=f"Kept the drawdown {name}: {made.both_ways}"
    )
