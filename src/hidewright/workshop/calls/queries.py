"""The ballpark out of counts: typical pieces through takeoff, the shop's routes at its own pace, and its prices; nothing is listed yet."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from hidewright.defaults import BASE_SHARE
from hidewright.planning.problem.work import Coats, work_pieces
from hidewright.refusals import Refusal
from hidewright.survey import Material
from hidewright.survey.typical import FURNITURE, typical_pieces
from hidewright.takeoff.ballpark import Ballpark, Figures, days_for, figures_of, sigma_of_counts, spread_about
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.howmuch import take_off
from hidewright.takeoff.odds import Spread
from hidewright.takeoff.price import price
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.shopping import wants_of
from hidewright.takeoff.sundries import rules_with, sundries, work_of
from hidewright.workshop.calls.models import Call
from hidewright.workshop.days import queries as days
from hidewright.workshop.days.rest_queries import rest_hours_of
from hidewright.workshop.papers.price_queries import crew_hours, hands_with, minutes_of, pace_entries
from hidewright.workshop.pieces.route_queries import shop_routes
from hidewright.workshop.quantities import used_queries as used
from hidewright.workshop.quantities.models import Figures as FiguresRow
from hidewright.workshop.room import queries as room
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shelf.models import Pigment

STRIPS = {"yes": (True,), "no": (False,), "unknown": (False, True)}
"""What was said of the old coat → the ways that are worked out."""
MATERIALS = (Material.LEATHER, Material.VINYL)
NIGHTS = {False: 1, True: 2}
"""Nights that a piece dries, by whether some are coated on both sides: one for each side."""


@dataclass(frozen=True, slots=True)
class _Way:
    hours: float
    money: float
    colour: Spread
    nights: int


def ballpark(counts: Mapping[str, int], material: str = "leather", strip: str = "unknown") -> Ballpark:
    """What so many of each kind likely take; `strip` is yes, no or unknown: then both are worked out and the figures span them.

    Refuses nothing counted, and a shop in which nobody has hours.
    """
    if strip not in STRIPS:
        raise Refusal(
            f"“{strip}” says not whether it is stripped.", where="strip", remedy="Say yes, no or unknown."
        )
    ways = [_way(counts, material, strips) for strips in STRIPS[strip]]
    sigma = sigma_of_counts(pace_entries())
    weekly, weekdays, _ = crew_hours()
    hours = figures_of([spread_about(way.hours, sigma) for way in ways])
    nights = max(way.nights for way in ways)
    last = [float(days_for(each, weekly, weekdays, nights)) for each in (hours.low, hours.likely, hours.high)]
    return Ballpark(
        len(typical_pieces(counts, material=material, strip=False)),
        hours,
        figures_of([spread_about(way.money, sigma) for way in ways]),
        figures_of([way.colour for way in ways]),
        Figures(*last),
    )


def _way(counts: Mapping[str, int], material: str, strip: bool) -> _Way:
    pieces = typical_pieces(counts, material=material, strip=strip)
    assumed = Assumptions()
    forecast = take_off(pieces, assumed, by_hand_sd=used.spreads(used.learned()))
    work = work_pieces(pieces, coats=Coats(assumed.colour_coats, assumed.clear_coats, assumed.wiped))
    factors = {name: each.factor for name, each in days.learned_names().items()}
    coating = minutes_of(work, shop_routes(), days.learned()[0], factors) / 60
    hours = hands_with(coating, rest_hours_of(len(pieces), 1, factors))
    lines = sundries(work_of(pieces, forecast, room.gun().cup), rules_with(used.rule_amounts({})))
    start = FiguresRow()
    wants = wants_of(forecast, products.products(), pigments=_pigment())
    cost = sum((line.price for line in lines), Decimal(0))
    made = price(hours, Decimal(start.hourly), wants, cost, markup=start.markup, odds=0.5)
    return _Way(hours, float(made.total), forecast.colour.spread, NIGHTS[any(p.turned for p in pieces)])


def _pigment() -> list[tuple[Product, float]]:
    """The pigments as one dispersion at the middle price of the shop's own; none while the shop lists none with a price."""
    prices = sorted(Pigment.objects.filter(price__gt=0).values_list("price", flat=True))
    if not prices:
        return []
    middle = Decimal(prices[len(prices) // 2])
    return [(Product("pigments", "Pigments", Role.BASE, pack=1000.0, price=middle), 1 - BASE_SHARE)]


def answer_of(made: Ballpark) -> dict[str, Any]:
    """A ballpark as it is kept with a call."""
    return asdict(made)


def ballpark_of(row: Call) -> Ballpark:
    """What was said on a call."""
    figures = {name: Figures(**row.answer[name]) for name in ("hours", "money", "colour", "days")}
    return Ballpark(pieces=int(row.answer["pieces"]), **figures)


def counted_words(counts: Mapping[str, int]) -> str:
    """“12 seats with arms, 2 settees”."""
    return ", ".join(
        f"{count} {kind.one if count == 1 else kind.several}"
        for kind in FURNITURE.values()
        if (count := counts.get(kind.key, 0))
    )


def calls() -> QuerySet[Call]:
    """The calls, the newest first."""
    return Call.objects.filter(withdrawn=None).select_related("job")
