"""How a brought list of drawdowns is taken: all of them are kept, and K and S are found again."""

from typing import Any

from django.db import transaction
from django.utils.safestring import SafeString

from hidewright.colour.light.cie import hex_from_reflectance
from hidewright.colour.pigments.drawdowns import Drawdown as Value
from hidewright.colour.pigments.shop_films import turned
from hidewright.colour.reading.readings import drawdowns_of
from hidewright.colour.reading.readings_in import DRAWDOWNS
from hidewright.lists.draft import Draft
from hidewright.refusals import Refusal, Refusals
from hidewright.units import counted
from hidewright.workshop.lists.queries import Prospect, Taker, Way, swatch, takes
from hidewright.workshop.pigments.actions import keep_drawdowns
from hidewright.workshop.pigments.find_actions import start_characterising
from hidewright.workshop.pigments.queries import names_taken
from hidewright.workshop.pigments.values import things
from hidewright.workshop.shop.models import Act, Job


def _take(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    act = keep_drawdowns(drawdowns_of(draft.values, things()), name)
    transaction.on_commit(start_characterising)
    return act


def _prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    try:
        films: tuple[Value, ...] = drawdowns_of(draft.values, things())
    except Refusal as refusal:
        return Prospect(
            (), (), tuple(map(str, refusal.items if isinstance(refusal, Refusals) else (refusal,)))
        )
    twice = names_taken(films)
    pigments = sorted({key for film in films for key in film.shares})
    doubts = (
        (
            f"There is a drawdown of this name already: {', '.join(twice[:8])}. Set it aside first, or leave its rows out.",
        )
        if twice
        else ()
    )
    ways = () if twice else (Way("keep", f"Keep the {counted(len(films), 'drawdown')}"),)
    facts = (("Drawdowns", str(len(films))), ("Pigments", ", ".join(pigments)))
    return Prospect(ways, facts, doubts, _becomes(films))


def _becomes(films: tuple[Value, ...]) -> tuple[tuple[str, str], ...]:
    """What was weighed and gauged, and what it becomes, film by film."""
    return tuple(
        (film.name, f"{film.entry.mix}, {film.entry.film}. {turned(film.entry, things()).plain}")
        for film in films
        if film.entry is not None
    )


def _picture(reading: Any) -> SafeString:
    return swatch(hex_from_reflectance(reading.reflectance))


takes(Taker(DRAWDOWNS, of_job=False, to="pigments", take=_take, prospect=_prospect, picture=_picture))
