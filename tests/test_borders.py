"""Every range that the stages before colour state is tried on both sides of its ends: the end itself is taken, the next number beyond it is refused.

The ends are written here by hand from the docstrings and remedies, not read from the code.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from math import inf, nextafter
from typing import Any

import pytest

from hidewright.mixing.amounts import microlitres, microlitres_of_mass
from hidewright.mixing.grain import Grain, balance_grains
from hidewright.mixing.guide import Measure, drop_volume, poured
from hidewright.mixing.ledger import Vessel, VesselKind
from hidewright.mixing.portions import PotLife, crosslinker_for
from hidewright.mixing.recipe import MixPart, MixRecipe
from hidewright.mixing.vessels import Pot
from hidewright.refusals import Refusal
from hidewright.safety.air import Solvent, dilution_air, dilution_cfm
from hidewright.safety.burn import Specimen, horizontal_rate
from hidewright.safety.damp import Air, dew_point, humidity_ratio, margin, saturation_pressure
from hidewright.safety.emissions import Exempt, voc
from hidewright.safety.finish import Check, compare, cross_cut_class
from hidewright.takeoff.ballpark import days_for
from hidewright.takeoff.build import ml_per_m2
from hidewright.takeoff.byhand import Used
from hidewright.takeoff.coats import Assumptions, Stage
from hidewright.takeoff.price import price
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.yields import Use


@dataclass(frozen=True)
class Range:
    """A range of one figure of one thing, both ends as stated; an end may be `open`, that is not in the range itself."""

    name: str
    make: Callable[[float], Any]
    low: float
    high: float
    open_low: bool = False
    open_high: bool = False
    whole: bool = False
    """Whether only whole numbers make sense."""
    step: float = 0.0
    """The least difference that the thing can see; 0: that of the numbers themselves."""

    def inside(self) -> tuple[float, float]:
        """The lowest and the highest number that are taken."""
        return (
            self.beyond(self.low, up=True) if self.open_low else self.low,
            self.beyond(self.high, up=False) if self.open_high else self.high,
        )

    def outside(self) -> tuple[float, float]:
        """The nearest numbers that are refused."""
        return (
            self.low if self.open_low else self.beyond(self.low, up=False),
            self.high if self.open_high else self.beyond(self.high, up=True),
        )

    def beyond(self, end: float, *, up: bool) -> float:
        """The next number that differs."""
        if self.whole or self.step:
            step = self.step or 1
            return end + (step if up else -step)
        if end == 0 and up:
            return 1e-9
        return nextafter(end, inf if up else -inf)


BEGAN = datetime(2026, 3, 2, 8)
TAN = MixRecipe("Tan", (MixPart("tan", "Tan", 1.0, 1.0),))
PETROL = Solvent("Spirit", 0.8, 100.0, limit=100.0)


def product(**figures: Any) -> Product:
    return Product("clear", "Clear", Role.CLEAR, **figures)


def money(hours: float = 1.0, **how: Any) -> object:
    return price(hours, Decimal(50), (), Decimal(0), **how)


def drop_of(grams: float) -> float:
    """A hundred drops of water."""
    return drop_volume(100, grams, 1.0)


RANGES = (
    Range("pot life", lambda x: PotLife(BEGAN, x), 1, 86_400),
    Range("crosslinker's ratio", lambda x: crosslinker_for(1000, x), 0, 1, open_low=True),
    Range("share of a part", lambda x: MixPart("a", "A", x, 1.0), 0, 1, open_low=True),
    Range("density of a part", lambda x: MixPart("a", "A", 0.5, x), 0.3, 10),
    Range("density of a mass", lambda x: microlitres_of_mass(1.0, x), 0.3, 10),
    Range("volume", microlitres, 0, 10**6),
    Range("grain", lambda x: Grain(x, "a step"), 0, 1e9, open_low=True, open_high=True),
    Range("step of a balance", lambda x: balance_grains(TAN, x), 0, 10, open_low=True),
    Range("capacity of a vessel in the book", lambda x: Vessel("a", "A", VesselKind.CUP, int(x)), 1, 10**9, whole=True),
    Range("tare of a vessel in the book", lambda x: Vessel("a", "A", VesselKind.CUP, 1000, x), 0, 1e6, open_high=True),
    Range("capacity of a pot", lambda x: Pot("a", "A", int(x)), 1000, 10**9, whole=True),
    Range("tare of a pot", lambda x: Pot("a", "A", 1000, x), 0, 1e6, open_high=True),
    Range("drops", lambda x: poured(x, Measure.DROPS, density=1.0), 0, 10_000, whole=True),
    Range("grams of a hundred drops", drop_of, 0.5, 50, step=0.001),
    Range("mixing factor", lambda x: dilution_air(PETROL, 100.0, k=x), 1, 10),
    Range("solvent's density", lambda x: Solvent("s", x, 100.0), 0.5, 3),
    Range("solvent's molar mass", lambda x: Solvent("s", 1.0, x), 10, 500),
    Range("solvent's limit", lambda x: Solvent("s", 1.0, 100.0, limit=x), 0.001, 1e5),
    Range("solvent's LEL", lambda x: Solvent("s", 1.0, 100.0, lel=x), 0.1, 30),
    Range("solvent's flash point", lambda x: Solvent("s", 1.0, 100.0, flash=x), -60, 250),
    Range("temperature of saturation", saturation_pressure, -40, 60),
    Range("temperature of a dew point", lambda x: dew_point(x, 0.5), -40, 60),
    Range("temperature of a surface", lambda x: margin(x, 20.0, 0.5), -40, 60),
    Range("humidity of a dew point", lambda x: dew_point(20.0, x), 0, 1, open_low=True),
    Range("temperature of air", Air, -40, 60),
    Range("humidity of air", lambda x: Air(20.0, x), 0, 1, open_low=True),
    Range("speed of air", lambda x: Air(20.0, 0.5, x), 0, 5),
    Range("hours a week", lambda x: days_for(10.0, x, 5, 1), 0, inf, open_low=True, open_high=True),
    Range("specific gravity", lambda x: dilution_cfm(x, 1.0, 100.0, 200.0), 0, inf, open_low=True, open_high=True),
    Range("pints a minute", lambda x: dilution_cfm(0.8, x, 100.0, 200.0), 0, inf, open_high=True),
    Range("air pressure", lambda x: humidity_ratio(20.0, 0.5, x), 30_000, 120_000),
    Range("specimen's burn length", lambda x: Specimen(x, 1.0, 1.0), 0, 400),
    Range("share that came off", cross_cut_class, 0, 100),
    Range("gloss", lambda x: compare(Check.GLOSS, f"{x:.17g}"), 0, 100),
    Range("figure of adhesion", lambda x: compare(Check.ADHESION, f"{x:.17g}"), 0, 1000),
    Range("density of a coating", lambda x: voc(x, 0.5, 0.1), 0.5, 3),
    Range("density of an exempt one", lambda x: voc(1.0, 0.5, 0.0, (Exempt(0.1, x),)), 0.3, 3),
    Range("volatile share", lambda x: voc(1.0, x, 0.0), 0, 1),
    Range("water's share", lambda x: voc(0.9, 1.0, x), 0, 1),
    Range("weekdays", lambda x: days_for(10.0, 40.0, int(x), 1), 1, 7, whole=True),
    Range("volume solids", lambda x: ml_per_m2(7.5, x), 0, 1, open_low=True),
    Range("transfer", lambda x: ml_per_m2(7.5, 0.3, x), 0, 1, open_low=True),
    Range("used against forecast", lambda x: Used(x, 1.0), 0.02, 50),
    Range("used against a forecast of two", lambda x: Used(2 * x, 2.0), 0.02, 50),
    Range("hours of a price", money, 0, 1e5, open_high=True),
    Range("markup", lambda x: money(markup=x), 0, 5),
    Range("odds of a price", lambda x: money(odds=x), 0.5, 1, open_high=True),
    Range("share of a stage", lambda x: Use(Stage.COLOUR, {"a": x}, 100.0), 0, 1, open_low=True),
    Range("mL of a use", lambda x: Use(Stage.COLOUR, {"a": 1.0}, x), 0, 1e6, open_low=True, open_high=True),
    Range("loss of a use", lambda x: Use(Stage.COLOUR, {"a": 1.0}, 100.0, x), 0, 1e6, open_high=True),
    Range("product's density", lambda x: product(density=x), 0.5, 3),
    Range("product's solids", lambda x: product(solids=x), 0, 1),
    Range("product's pack", lambda x: product(pack=x), 1, 1e6),
    Range("product's price", lambda x: product(price=Decimal(int(x))), 0, 10**7 - 1, whole=True),
    Range("product's ratio", lambda x: product(ratio=x), 0, 1),
    Range("product's pot life", lambda x: product(pot_life=x), 1, 50_000),
    Range("product's touch dry", lambda x: product(touch_dry=x), 0, 20_000),
    Range("product's cure", lambda x: product(cure=x), 0, 50_000),
    Range("product's LEL", lambda x: product(lel=x), 0.1, 100),
    Range("product's flash point", lambda x: product(flash=x), -100, 400),
    Range("product's limit", lambda x: product(limit_ppm=x), 0.0001, 100_000),
    Range("product's VOC", lambda x: product(voc=x), 0, 2000),
    Range("product's molar mass", lambda x: product(molar_mass=x), 1, 5000),
    Range("product's shelf life", lambda x: product(shelf=x), 1, 20_000),
    Range("product's cure when warm", lambda x: product(cure=50_000.0, warm_cure=x, warm_at=30.0), 1, 50_000),
    Range("product's warmth", lambda x: product(warm_cure=60.0, warm_at=x), 21, 60),
    *(
        Range(name, lambda x, name=name: Assumptions(**{name: x}), low, high, whole=name.endswith("coats"))
        for name, low, high in (
            ("colour_coats", 0, 12), ("clear_coats", 0, 8), ("colour_um", 0.5, 200), ("clear_um", 0.5, 200),
            ("wiped_um", 0.5, 200), ("solids_colour", 0.02, 1), ("solids_clear", 0.02, 1), ("transfer", 0.05, 1),
            ("wiped_transfer", 0.05, 1), ("area_sd", 0, 1), ("build_sd", 0, 1), ("transfer_sd", 0, 1),
            ("piece_sd", 0, 1), ("cup_loss", 0, 2000), ("session_area", 0.1, 1000), ("keep_back", 0, 100_000),
            ("strip_ml", 0, 5000), ("clean_ml", 0, 5000), ("wipe_ml", 0, 5000), ("prime_ml", 0, 5000),
        )
    ),
)  # fmt: skip


@pytest.mark.parametrize("each", RANGES, ids=lambda each: each.name)
def test_the_ends_of_a_range_are_where_they_are_said_to_be(each: Range) -> None:
    for taken in each.inside():
        each.make(taken)
    for beyond in each.outside():
        with pytest.raises(Refusal):
            each.make(beyond)


@pytest.mark.parametrize("figures", [(-1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0)])
def test_a_specimen_has_no_figure_below_nothing(figures: tuple[float, float, float]) -> None:
    with pytest.raises(Refusal):
        Specimen(*figures)
    Specimen(0.0, 0.0, 0.0)


def test_a_burn_rate_wants_a_time() -> None:
    assert horizontal_rate(0.0, 1.0) == 0.0
    for distance, seconds in ((-1.0, 1.0), (1.0, 0.0)):
        with pytest.raises(Refusal):
            horizontal_rate(distance, seconds)
