"""A cup on the a*b* plane: against the target with what is near enough, what was read of it, and where the first way of adding leads."""

import numpy as np
from django.utils.safestring import SafeString, mark_safe
from numpy.typing import NDArray

from hidewright.charts.plane import PlaneShown, Spot, colour_plane
from hidewright.colour.learning.cup import BASE, Pour
from hidewright.colour.light import cie
from hidewright.colour.light.local import metric
from hidewright.mixing.recipe import pouring_order
from hidewright.workshop.colours import cup_queries as cups_cup_queries
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.pigments import knowledge as cups
from hidewright.workshop.pigments import memory
from hidewright.workshop.shop.models import Job

MOST_READ = 6
"""Readings on the plane: the newest; older ones would only crowd it."""


def cup_plane(state: cups_cup_queries.CupState, aimed: colour.TargetValue) -> PlaneShown:
    """The cup as it is believed to be, its dry readings, and the colour foretold after each pouring of the first way."""
    then, poured = [], []
    ways = state.advice.additions if state.advice is not None else ()
    for number, (lot, grams) in enumerate(ways[0].grams.items() if ways else (), 1):
        poured.append(Pour(lot, grams))
        then.append(Spot(f"after pouring {number}", state.opened.forecast(poured).lab()))
    read = []
    for sight in [s for s in state.opened.cup.sights if not s.struck][-MOST_READ:]:
        lab = sight.values if sight.is_colour else cie.lab(sight.values)
        read.append(Spot("reading", lab, cie.hex_from_lab(lab)))
    here = state.forecast.lab()
    cup = Spot("the cup", here, cie.hex_from_lab(here), state.forecast.lab_covariance())
    return PlaneShown(*_aim(aimed), cup, read, then)


def _aim(aimed: colour.TargetValue) -> tuple[Spot, NDArray[np.float64]]:
    """The target, and the (3, 3) matrix whose unit ellipsoid is what is near enough to it."""
    aim = np.array(aimed.target.labs["D65"])
    square = metric(aim)
    return Spot("target", aim), square.T @ square / aimed.tolerance**2


def recipe_plane(job: Job, number: int = 0) -> PlaneShown | None:
    """The chosen recipe with its spread, and the colour after each pour on the way to it, numbered as the mixing card pours.

    None without a target, and where a part of the recipe is none of the shop's bottles (a leftover jar).
    """
    chosen, aimed = colour.chosen_recipe(job, number), colour.target(job, number)
    if chosen is None or aimed is None or colour.pours_of_recipe(chosen.row.data):
        return None
    lots = cups.current_lots()
    base, masses = chosen.recipe.parts[-1], {part.key: part.mass for part in chosen.recipe.pigments}
    if any(key not in lots for key in masses):
        return None
    known = memory.known([lots[key] for key in masses])
    grams = {BASE: base.mass}
    way, whole = [], None
    ordered = pouring_order({part.key: part.volume for part in chosen.recipe.parts}, base.key)
    for number, key in enumerate(ordered[1:], 2):
        grams[lots[key]] = masses[key]
        whole = known.forecast(grams)
        way.append(Spot(f"after pour {number}", whole.lab()))
    if whole is None:
        return None
    here = whole.lab()
    recipe = Spot("the recipe", here, cie.hex_from_lab(here), whole.lab_covariance())
    return PlaneShown(*_aim(aimed), recipe, way=way[:-1], first=2)


def recipe_plane_svg(job: Job, number: int = 0) -> SafeString:
    """The plane of the chosen recipe for the page and the mixing card; empty where there is none."""
    shown = recipe_plane(job, number)
    return mark_safe(colour_plane(shown) if shown else "")  # noqa: S308 - our own SVG, every text in it is escaped


def plane_svg(state: cups_cup_queries.CupState, aimed: colour.TargetValue) -> SafeString:
    """The plane as a picture for the page or a paper."""
    return mark_safe(colour_plane(cup_plane(state, aimed)))  # noqa: S308 - our own SVG, every text in it is escaped
