"""A cup on the a*b* plane: against the target with what is near enough, what was read of it, and where the first way of adding leads."""

import numpy as np
from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.plane import PlaneShown, Spot, colour_plane
from hidewright.colour import cie
from hidewright.colour.cups import Pour
from hidewright.colour.search import metric

from . import colour, cups

MOST_READ = 6
"""Readings on the plane: the newest; older ones would only crowd it."""


def cup_plane(state: cups.CupState, aimed: colour.TargetValue) -> PlaneShown:
    """The cup as it is believed to be, its dry readings, and the colour foretold after each pouring of the first way."""
    aim = np.array(aimed.target.labs["D65"])
    square = metric(aim)
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
    return PlaneShown(Spot("target", aim), square.T @ square / aimed.tolerance**2, cup, read, then)


def plane_svg(state: cups.CupState, aimed: colour.TargetValue) -> SafeString:
    """The plane as a picture for the page or a paper."""
    return mark_safe(colour_plane(cup_plane(state, aimed)))  # noqa: S308 - our own SVG, every text in it is escaped
