"""What a variant takes: the coats that hide the old colour, the price and the working days, by the same stages as the quote."""

from dataclasses import replace
from typing import Any

from hidewright.colour.recipes.match import match
from hidewright.refusals import Refusal
from hidewright.takeoff.ballpark import days_for
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.colours import search_queries as shelf
from hidewright.workshop.colours.models import Reading
from hidewright.workshop.papers.price_queries import crew_hours, option_with_coats
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.pigments import values as colour_values
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities.coat_queries import planned_coats
from hidewright.workshop.shop.models import Job


def takes(job: Job, number: int, reading: Reading) -> dict[str, Any]:
    """What aiming at a reading takes: `coats` of colour, `delta_e` by which the shop's pigments miss it, `money` before tax, `hours`, working `days`.

    What cannot be worked out yet is left out: `why` says what is missing.
    """
    found: dict[str, Any] = {}
    why = []
    coats = quantities.assumptions(job, number).colour_coats
    try:
        recipe = _best(job, number, reading)
        found["delta_e"] = round(recipe.delta_e[str(colour_values.LIGHTS[0])], 2)
        coats = planned_coats(recipe.coats)[0] if recipe.coats else coats
    except Refusal as refusal:
        why.append(refusal.what)
    found["coats"] = coats
    option = option_with_coats(job, number, coats)
    if option is None:
        why.append("No piece is listed yet.")
        return {**found, "why": " ".join(why)}
    found |= {"money": str(option.price.total), "hours": round(option.hours, 1)}
    weekly, weekdays, _ = crew_hours()
    if weekly:
        nights = 2 if any(p.turned for p in pieces(job)) else 1
        found["days"] = days_for(option.hours, weekly, weekdays, nights)
    return {**found, "why": " ".join(why)}


def _best(job: Job, number: int, reading: Reading) -> Any:
    """The recipe that comes nearest, of the chosen recipe's pigments where one is chosen, else of three of the shelf."""
    chosen = colour.chosen_recipe(job, number)
    known = {p.key for p in colour_values.pigments()}
    keys = {part.key for part in chosen.recipe.pigments} if chosen else set()
    setup = colour_values.setup()
    asked: dict[str, Any] = {
        "load": (setup.load_low, setup.load_high),
        "most": min(5, len(keys)) if keys else 3,
        "must_not_use": known - keys if keys and keys <= known else (),
        "number": number,
    }
    wanted = colour.reading_value(reading)
    problem = replace(shelf.problem(job, asked), target=wanted.reflectance)
    light = str(colour_values.LIGHTS[0])
    return min(match(problem).recipes, key=lambda recipe: recipe.delta_e[light])
