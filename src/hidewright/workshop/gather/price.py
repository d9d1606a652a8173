"""Price as values: the ways a job could be done, side by side, with what each takes; and its sundries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from hidewright import survey as stage
from hidewright.planning.problem import Kind
from hidewright.planning.routes import PACE, Pace, route_of
from hidewright.planning.work import WorkPiece, work_pieces
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.howmuch import Takeoff, take_off
from hidewright.takeoff.price import Price, price
from hidewright.takeoff.shopping import wants_of
from hidewright.takeoff.sundries import SundryLine, rules_with, sundries, work_of

from ..models.days import Hours
from ..models.jobs import Job
from ..models.quantities import Figures
from ..models.shop import Person
from . import products, quantities, survey

SPRAYED_IN_ROUTE = 2
"""Colour coats that the usual route of a piece holds; more are added, one is taken off."""


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One way of doing the job, with what it takes: `hours` of hands, `hand_days` of the whole crew (drying is not in them)."""

    key: str
    name: str
    words: str
    takeoff: Takeoff
    apart: int
    stripped: int
    hours: float
    hand_days: float | None
    sundries: tuple[SundryLine, ...]
    price: Price


def _remade(piece: stage.Piece, *, strip: bool, turned: bool) -> stage.Piece:
    if piece.strip == strip and piece.turned == turned:
        return piece
    faces = stage.make_piece(
        key=piece.key,
        name=piece.name,
        group=piece.group,
        shape=piece.shape,
        length=piece.length,
        width=piece.width,
        thickness=piece.thickness,
        sat_on=piece.sat_on,
        turned=turned,
    ).faces
    return replace(piece, strip=strip, turned=turned, faces=faces, measured=0.0)


def _ways(
    pieces: Sequence[stage.Piece], assumed: Assumptions
) -> list[tuple[str, str, str, tuple[stage.Piece, ...], Assumptions]]:
    """Key, name, words, pieces and figures of each way."""
    changed = tuple(
        _remade(p, strip=p.material is stage.Material.LEATHER or p.strip, turned=p.turned or p.sat_on)
        for p in pieces
    )
    kept = tuple(_remade(p, strip=p.condition is stage.Condition.OVERCOATED, turned=p.turned) for p in pieces)
    light = replace(assumed, colour_coats=max(1, min(assumed.colour_coats, 2)))
    return [
        (
            "surveyed",
            "As surveyed",
            "What the survey says of each piece, with the coats that the quantities stand on.",
            tuple(pieces),
            assumed,
        ),
        (
            "change",
            "Strip and change fully",
            "All leather is stripped; what is sat on comes apart and is coated on both sides, so that the old colour shows nowhere.",
            changed,
            assumed,
        ),
        (
            "recoat",
            "Recoat as it was",
            "Only overcoated pieces are stripped; one or two coats of the same colour.",
            kept,
            light,
        ),
        (
            "shift",
            "Shift it a little",
            "Nothing more is stripped than must be; two coats or more, until the old colour is hidden.",
            kept,
            replace(assumed, colour_coats=max(2, assumed.colour_coats)),
        ),
    ]


def minutes_of(
    pieces: Sequence[WorkPiece], colour_coats: int, pace: Mapping[Kind, Pace] | None = None
) -> int:
    """Minutes of hands for all pieces along the shop's route, with this many sprayed coats."""
    paces = pace or PACE
    total = 0
    for piece in pieces:
        for pass_key, kind in route_of(piece):
            area = {"front": piece.front, "back": piece.back}.get(pass_key, piece.front + piece.back)
            times = 1
            if kind in (Kind.SECOND, Kind.SAND, Kind.TACK):
                times = colour_coats + 1 - SPRAYED_IN_ROUTE
            total += max(times, 0) * paces[kind].minutes(area)
    return total


def crew_hours() -> tuple[float, int]:
    """Hours of hands in a week of everybody who works here, and on how many weekdays."""
    total, days = 0.0, set()
    for person in Person.objects.filter(active=True):
        own = list(Hours.objects.filter(person=person)) or list(Hours.objects.filter(person=None))
        for row in own:
            total += (row.end.hour - row.start.hour) + (row.end.minute - row.start.minute) / 60
            days.add(row.weekday)
    return total, len(days)


def _option(
    way: tuple[str, str, str, tuple[stage.Piece, ...], Assumptions], job: Job, figures: Figures
) -> Option:
    key, name, words, pieces, assumed = way
    forecast = take_off(pieces, assumed, belief=quantities.belief(job))
    base_share, pigments = quantities.wanted_pigments(job)
    wants = wants_of(forecast, products.products(), base_share=base_share, pigments=pigments)
    hours = minutes_of(work_pieces(pieces), assumed.colour_coats) / 60
    weekly, weekdays = crew_hours()
    lines = sundries(work_of(pieces, forecast), rules_with(figures.sundries))
    cost = sum((line.price for line in lines), Decimal(0))
    return Option(
        key,
        name,
        words,
        forecast,
        sum(p.turned for p in pieces),
        sum(p.strip for p in pieces),
        hours,
        hours / weekly * weekdays if weekly else None,
        lines,
        price(hours, Decimal(figures.hourly), wants, cost, markup=figures.markup, odds=figures.price_odds),
    )


def options(job: Job) -> list[Option]:
    """The ways of doing the job, side by side; none without pieces."""
    listed = survey.pieces(job)
    if not listed:
        return []
    figures = quantities.figures(job)
    return [_option(way, job, figures) for way in _ways(listed, quantities.assumptions(job))]
