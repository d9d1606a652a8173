"""Price as values: the ways a job could be done, side by side, with what each takes; and its sundries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil

from hidewright import survey as stage
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.route import Route
from hidewright.planning.problem.routes import PACE, Drying, Pace, Times, placed_steps
from hidewright.planning.problem.work import Coats, WorkPiece, work_pieces
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.howmuch import Takeoff, take_off
from hidewright.takeoff.price import Price, price
from hidewright.takeoff.shopping import wants_of
from hidewright.takeoff.sundries import Rule, SundryLine, rules_with, sundries, work_of
from hidewright.takeoff.together import together
from hidewright.units import FOOT, counted
from hidewright.workshop.days import queries as days
from hidewright.workshop.days.rest_queries import RestHours, rest_hours
from hidewright.workshop.pieces import queries as survey
from hidewright.workshop.pieces.colour_queries import job_colours
from hidewright.workshop.pieces.route_queries import chosen_routes, shop_routes
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities import used_queries as used
from hidewright.workshop.quantities.models import Figures
from hidewright.workshop.room import queries as portions
from hidewright.workshop.room.models import Hours
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job, Person


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One way of doing the job, with what it takes: `hours` of hands (`rest` of them besides the coating itself), `hand_days` of the whole crew (drying is not in them)."""

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
    pieces: tuple[stage.Piece, ...] = ()
    rest: float = 0.0
    added: "Added | None" = None


@dataclass(frozen=True, slots=True)
class Added:
    """What a way takes more (or, below nothing, less) than the survey's: pieces to take apart and to strip, coats, mL of colour, hours, working days, money."""

    apart: int
    stripped: int
    coats: int
    colour: float
    hours: float
    hand_days: float | None
    money: Decimal

    @property
    def saved(self) -> Decimal:
        """Money that it takes less."""
        return -self.money

    @property
    def size(self) -> float:
        """mL of colour, without its sign."""
        return abs(self.colour)

    @property
    def less_or_more(self) -> str:
        """The sign of the colour in words, before its volume."""
        return "less by " if self.colour < 0 else "more by "

    @property
    def days_words(self) -> str:
        """Working days of all hands."""
        return (
            f"{abs(self.hand_days or 0):.1f} working days {'less' if (self.hand_days or 0) < 0 else 'more'}"
        )

    @property
    def apart_words(self) -> str:
        """Pieces to take apart."""
        return _pieces(self.apart)

    @property
    def stripped_words(self) -> str:
        """Pieces to strip."""
        return _pieces(self.stripped)

    @property
    def coats_words(self) -> str:
        """Sprayed coats."""
        count = abs(self.coats)
        return f"{counted(count, 'coat')} {'less' if self.coats < 0 else 'more'}"


def _pieces(count: int) -> str:
    return f"{counted(abs(count), 'piece')} {'less' if count < 0 else 'more'}"


def _added(option: Option, surveyed: Option) -> Added:
    days = (
        option.hand_days - surveyed.hand_days
        if option.hand_days is not None and surveyed.hand_days is not None
        else None
    )
    return Added(
        option.apart - surveyed.apart,
        option.stripped - surveyed.stripped,
        option.takeoff.assumed.colour_coats - surveyed.takeoff.assumed.colour_coats,
        option.takeoff.colour.p50 - surveyed.takeoff.colour.p50,
        option.hours - surveyed.hours,
        days,
        option.price.total - surveyed.price.total,
    )


def _remade(piece: stage.Piece, *, strip: bool, turned: bool) -> stage.Piece:
    """The piece stripped and taken apart otherwise; an area off a template grows with the sides that are coated then."""
    if piece.turned == turned:
        return replace(piece, strip=strip)
    measured = piece.measured and piece.measured * _drawn(piece, turned) / _drawn(piece, piece.turned)
    faces = _faces(piece, turned, measured)
    return replace(piece, strip=strip, turned=turned, faces=faces, measured=measured)


def _faces(piece: stage.Piece, turned: bool, measured: float) -> tuple[stage.Face, ...]:
    size = (piece.length, piece.width, piece.thickness)
    return stage.faces_of(piece.shape, *size, sat_on=piece.sat_on, turned=turned, measured=measured)


def _drawn(piece: stage.Piece, turned: bool) -> float:
    """m² of the faces as the shape alone gives them."""
    return sum(face.area for face in _faces(piece, turned, 0.0))


Way = tuple[str, str, str, tuple[stage.Piece, ...], tuple[Assumptions, ...]]
"""Key, name, words, pieces, and the figures of each of the job's colours."""


def _ways(pieces: Sequence[stage.Piece], assumed: tuple[Assumptions, ...]) -> list[Way]:
    """The ways of doing it; one that comes to the same as the survey is left out."""
    changed = tuple(
        _remade(p, strip=p.material is stage.Material.LEATHER or p.strip, turned=p.turned or p.sat_on)
        for p in pieces
    )
    kept = tuple(_remade(p, strip=p.condition is stage.Condition.OVERCOATED, turned=p.turned) for p in pieces)
    ways = [
        (
            "surveyed",
            "As surveyed",
            "What the survey says of each piece, with the coats that the quantities are worked out from.",
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
            "Only overcoated pieces are stripped; one sprayed coat, since the same colour has nothing to hide.",
            kept,
            tuple(replace(each, colour_coats=1) for each in assumed),
        ),
        (
            "shift",
            "Shift it a little",
            "Nothing more is stripped than must be; two coats or more, until the old colour is hidden.",
            kept,
            tuple(replace(each, colour_coats=max(2, each.colour_coats)) for each in assumed),
        ),
    ]
    surveyed = ways[0]
    return [surveyed, *(way for way in ways[1:] if way[3:] != surveyed[3:])]


def minutes_of(
    pieces: Sequence[WorkPiece],
    routes: Sequence[Route],
    pace: Mapping[Kind, Pace] | None = None,
    named: Mapping[str, float] | None = None,
) -> int:
    """Minutes of hands for all pieces along their routes, at this pace."""
    times = Times({**PACE, **(pace or {})}, Drying(), named=named or {})
    total = 0
    for piece in pieces:
        for pass_key, step in placed_steps(piece, routes):
            total += times.minutes(step, piece.area_in(pass_key))
    return total


def hands_with(coating: float, takes: RestHours) -> float:
    """Hours of hands with all that the job takes besides coating; setting up and cleaning a day lengthen them by their share of the crew's week, threefold at most."""
    hours = coating + takes.hours
    weekly, _, shifts = crew_hours()
    return hours * weekly / max(weekly / 3, weekly - shifts * takes.daily / 60) if weekly else hours


def crew_hours() -> tuple[float, int, int]:
    """Hours of hands in a week of everybody who works here, on how many weekdays, and how many days of one person that is."""
    total, days, shifts = 0.0, set(), 0
    for person in Person.objects.filter(active=True):
        own = list(Hours.objects.filter(person=person)) or list(Hours.objects.filter(person=None))
        for row in own:
            total += (row.end.hour - row.start.hour) + (row.end.minute - row.start.minute) / 60
            days.add(row.weekday)
        shifts += len({row.weekday for row in own})
    return total, len(days), shifts


def _by_colour(way: Way, job: Job) -> list[tuple[int, tuple[stage.Piece, ...], Assumptions]]:
    """Number, pieces and figures of each of the job's colours that pieces get."""
    _, _, _, pieces, assumed = way
    found = []
    for colour, each in zip(job_colours(job), assumed, strict=True):
        mine = tuple(piece for piece in pieces if piece.colour == colour.name)
        if mine:
            found.append((colour.number, mine, each))
    return found


def _option(way: Way, job: Job, figures: Figures) -> Option:
    key, name, words, pieces, assumed = way
    sd, belief = used.spreads(used.learned()), quantities.belief(job)
    parts = _by_colour(way, job)
    made = {n: take_off(mine, each, belief=belief, by_hand_sd=sd) for n, mine, each in parts}
    forecast = together(list(made.values()), take_off(pieces, assumed[0], belief=belief, by_hand_sd=sd))
    base_share, pigments = quantities.wanted_pigments(job, tuple((n, f.colour.p50) for n, f in made.items()))
    wants = wants_of(forecast, products.products(), base_share=base_share, pigments=pigments)
    own = chosen_routes(job, [piece.key for piece in pieces])
    pace = days.learned()[0]
    work = [
        piece
        for _, mine, each in parts
        for piece in work_pieces(
            mine, coats=Coats(each.colour_coats, each.clear_coats, each.wiped), routes=own
        )
    ]
    factors = {name: found.factor for name, found in days.learned_names().items()}
    coating = minutes_of(work, shop_routes(), pace, factors) / 60
    hours = hands_with(coating, rest_hours(job, factors))
    weekly, weekdays, _ = crew_hours()
    lines = sundries(
        work_of(pieces, forecast, portions.gun().cup), rules_with(used.rule_amounts(figures.sundries))
    )
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
        pieces,
        hours - coating,
    )


def options(job: Job) -> list[Option]:
    """The ways of doing the job, side by side; none without pieces."""
    listed = survey.pieces(job)
    if not listed:
        return []
    figures = quantities.figures(job)
    assumed = tuple(quantities.assumptions(job, colour.number) for colour in job_colours(job))
    surveyed, *others = (_option(way, job, figures) for way in _ways(listed, assumed))
    return [surveyed, *(replace(option, added=_added(option, surveyed)) for option in others)]


def option_with_coats(job: Job, number: int, coats: int) -> Option | None:
    """The job as surveyed, with so many sprayed coats of one of its colours; None without pieces."""
    listed = survey.pieces(job)
    if not listed:
        return None
    assumed = tuple(
        replace(each, colour_coats=coats) if colour.number == number else each
        for colour in job_colours(job)
        for each in (quantities.assumptions(job, colour.number),)
    )
    return _option(_ways(listed, assumed)[0], job, quantities.figures(job))


def pace_entries() -> int:
    """How many entries of the shop's log the pace stands on; 0 for the starting values."""
    return sum(found.entries for found in days.learned()[1].values())


@dataclass(frozen=True, slots=True)
class SundryShown:
    """A line of the sundries with where its rule comes from."""

    line: SundryLine
    source: str
    units: str

    @property
    def rule(self) -> Rule:
        """The rule."""
        return self.line.rule

    @property
    def amount(self) -> str:
        """The rule's amount as it is written."""
        return f"{self.rule.amount * self.rule.scale_in(self.units):.3g}"

    @property
    def words(self) -> str:
        """The rule in words, in the shop's units."""
        words = self.rule.words_in(self.units)
        return words.replace("s for", " for", 1) if self.amount == "1" else words

    @property
    def unit(self) -> str:
        """What quantity and pack count."""
        return self.rule.unit_in(self.units)

    @property
    def pack(self) -> str:
        """What a pack holds."""
        return f"{self.rule.pack * self._length:.3g}"

    @property
    def _length(self) -> float:
        return 1 / FOOT if self.unit == "ft" else 1.0

    @property
    def quantity(self) -> str:
        """How much of it as it is written; whole pieces where it comes in pieces."""
        if self.rule.unit == "m":
            return f"{self.line.quantity * self._length:.1f}"
        return f"{ceil(self.line.quantity - 1e-9):d}"

    @property
    def packs(self) -> int:
        """Packs to buy."""
        return self.line.packs

    @property
    def price(self) -> Decimal:
        """Money for them."""
        return self.line.price


def sundries_shown(job: Job, option: Option) -> list[SundryShown]:
    """The sundries of a way, each with the source of its rule: set here, learned, or a usual figure."""
    set_here, found = quantities.figures(job).sundries, used.learned()
    units = the_shop().units

    def source(key: str) -> str:
        if key in set_here:
            return "set here"
        if key in found:
            return f"learned from {found[key].jobs} job{'' if found[key].jobs == 1 else 's'}"
        return "a usual figure"

    return [SundryShown(line, source(line.rule.key), units) for line in option.sundries]
