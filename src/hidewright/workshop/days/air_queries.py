"""Air and damp as values: the air as read, the dew point and drying in it, and what air the solvents of a job want."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.utils import timezone

from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.work import work_pieces
from hidewright.refusals import Refusal
from hidewright.safety.air import (
    FIRE_SHARE,
    DilutionAir,
    RoomVapour,
    Solvent,
    dilution_air,
    fire_air,
    room_vapour,
)
from hidewright.safety.cautions import Caution, Operation, beside
from hidewright.safety.damp import Air, Damp, drying_factor, judge_damp
from hidewright.safety.emissions import emitted
from hidewright.takeoff.products import Product
from hidewright.workshop.days import queries as days
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.room import drying_queries as drying
from hidewright.workshop.room.models import AirReading, AirSetup
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shop.models import Job

CFM = 0.3048**3 * 60
"""m³/h in one cubic foot a minute."""
CUBIC_FOOT = 0.3048**3
"""m³."""
SHOWN_DRYING = ("wiped", "colour", "cure")
"""The drying times that are forecast."""


def kelvins_shown(kelvins: float, units: str) -> str:
    """A difference of temperature (K) in the shop's units."""
    return f"{kelvins * 1.8:.1f} °F" if units == "us" else f"{kelvins:.1f} K"


def setup() -> AirSetup:
    """The room and its fan; nothing is known until somebody enters it."""
    return AirSetup.objects.filter(pk=1).first() or AirSetup(pk=1)


@dataclass(frozen=True, slots=True)
class Now:
    """The air that is reckoned with: today's newest reading, else the room as it is expected to be."""

    air: Air
    surface: float
    reading: AirReading | None

    @property
    def damp(self) -> Damp:
        """Dew point, and how far the part stands above it."""
        return judge_damp(self.surface, self.air.celsius, self.air.humidity)


def air_now(job: Job) -> Now:
    """Today's newest reading of any job (the room is one), else what is expected."""
    today = timezone.localdate()
    row = next(
        (
            r
            for r in AirReading.objects.filter(struck=None)[:20]
            if timezone.localtime(r.made).date() == today
        ),
        None,
    )
    if row is None:
        air = drying.room_air()
        return Now(air, air.celsius, None)
    air = Air(row.celsius, row.humidity, row.speed)
    return Now(air, row.surface if row.surface is not None else row.celsius, row)


@dataclass(frozen=True, slots=True)
class Dries:
    """One drying time: `usual` minutes at 20 °C and 50 % as learned, `now` minutes in today's air."""

    words: str
    usual: float
    now: float


@dataclass(frozen=True, slots=True)
class DryingNow:
    """How drying times stretch today; `refusal` when no time can be told."""

    factor: float | None
    lines: tuple[Dries, ...]
    refusal: Refusal | None


def drying_now(air: Air) -> DryingNow:
    """Drying forecast in today's air."""
    usual = replace(drying.learned_drying()[0], factor=1.0)
    try:
        now = replace(drying.planning_drying(air), factor=max(drying_factor(air), 1.0))
        factor = drying_factor(air)
    except Refusal as refusal:
        return DryingNow(None, (), refusal)
    lines = tuple(
        Dries(drying.DRYING_WORDS[name], getattr(usual, name), now.minutes(name)) for name in SHOWN_DRYING
    )
    return DryingNow(factor, lines, None)


@dataclass(frozen=True, slots=True)
class SolventAir:
    """What air one product wants: `hourly` mL/h while it is used, `whole` mL on the job; None where its data sheet's figure is not entered.

    `fresh` to keep its mean vapour at the exposure limit; `fire` m³/h of air to stay at a quarter of the LEL; `room` the worst case of an hour's
    use in the unvented room; `short` m³/h of fresh air that the fan lacks.
    """

    product: Product
    hourly: float
    whole: float
    fresh: DilutionAir | None
    fire: float | None
    room: RoomVapour | None
    short: float | None
    missing: tuple[str, ...]

    @property
    def wanted(self) -> float | None:
        """m³/h: the larger of the two."""
        told = [
            value for value in (self.fresh.wanted if self.fresh else None, self.fire) if value is not None
        ]
        return max(told, default=None)

    @property
    def over(self) -> bool:
        """An hour's use unvented would stand above a quarter of the LEL."""
        return self.room is not None and self.room.of_lel >= FIRE_SHARE


def solvents(job: Job, hourly: float | None = None) -> list[SolventAir]:
    """The solvents that the shop lists, with the air they want at `hourly` mL/h (the planned pace of the wipe-down without)."""
    listed = [p for p in products.products().values() if p.role.value == "solvent"]
    whole, pace = usage(job)
    rate = hourly if hourly is not None else pace
    return [_solvent(product, rate, whole) for product in listed] if rate > 0 else []


def usage(job: Job) -> tuple[float, float]:
    """mL of solvent that the job takes, and mL an hour while somebody wipes down, by the forecast and the shop's pace."""
    found = quantities.forecast(job)
    if found is None:
        return 0.0, 0.0
    whole = found.solvent.p50
    pace = days.learned()[0][Kind.WIPE_DOWN]
    hours = sum(pace.minutes(piece.area) for piece in work_pieces(pieces(job))) / 60
    return whole, whole / hours if hours else 0.0


def _solvent(product: Product, hourly: float, whole: float) -> SolventAir:
    room = setup()
    missing = [
        words
        for words, value in (
            ("molar mass", product.molar_mass),
            ("exposure limit", product.limit_ppm),
            ("lower explosive limit", product.lel),
        )
        if value is None
    ]
    fresh, fire, vapour = None, None, None
    if product.molar_mass is not None:
        facts = Solvent(
            product.name, product.density, product.molar_mass, product.limit_ppm, product.lel, product.flash
        )
        fresh = dilution_air(facts, hourly, k=room.mixing) if product.limit_ppm is not None else None
        fire = fire_air(facts, hourly) if product.lel is not None else None
        if product.lel is not None and room.room:
            vapour = room_vapour(facts, hourly, room.room)
    wanted = max((v for v in (fresh.wanted if fresh else None, fire) if v is not None), default=None)
    short = max(0.0, wanted - room.fresh) if wanted is not None and room.fresh is not None else None
    return SolventAir(product, hourly, whole, fresh, fire, vapour, short, tuple(missing))


@dataclass(frozen=True, slots=True)
class Emission:
    """What leaves into the air of one thing, on the whole job at the middle of the forecast: g, by g/L as entered (None: not entered)."""

    words: str
    millilitres: float
    voc: float | None

    @property
    def grams(self) -> float | None:
        """g of volatile organic compounds."""
        return emitted(self.millilitres, self.voc) if self.voc is not None else None


def emissions(job: Job) -> list[Emission]:
    """What leaves into the air of each product that the job takes."""
    found = quantities.forecast(job)
    if found is None:
        return []
    wants = quantities.wants(job, found)
    return [Emission(w.what, w.spread.at(0.5), w.product.voc) for w in wants if w.product is not None]


def cautions(used: Sequence[SolventAir]) -> tuple[Caution, ...]:
    """What stands beside wiping, spraying and drying."""
    listed = [line.product for line in used]
    return tuple(
        dict.fromkeys((*beside(Operation.WIPE, listed), *beside(Operation.SPRAY), *beside(Operation.DRY)))
    )
