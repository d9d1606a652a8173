"""Cover and build against printed tables, arithmetic and the trade's own facts."""

import pytest

from hidewright import units
from hidewright.survey import Piece, make_piece
from hidewright.takeoff.build import cover, cover_us, dry_um, ml_per_m2, pigment_share, wet_um
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.howmuch import take_off


def test_a_gallon_one_mil_thick() -> None:
    """Arithmetic: 231 in³ / 0.001 in / 144 in²/ft² = 1604.1667 ft²; one litre one µm thick covers 1000 m²."""
    assert cover_us(1.0, 1.0) == pytest.approx(231 / 0.001 / 144, rel=1e-12)
    assert cover(1.0, 1.0) == pytest.approx(1000.0, rel=1e-12)


def test_printed_cover_tables() -> None:
    """Contractors' cover tables (printed): VS .65 at 5 mil 208.52 ft²/gal; VS .35 at 2 mil 281; 100 at 30 % loss is 70."""
    assert cover_us(5.0, 0.65) == pytest.approx(208.52, abs=0.05)
    assert cover_us(2.0, 0.35) == pytest.approx(281, abs=0.5)
    assert cover_us(5.0, 0.65, 0.7) == pytest.approx(0.7 * cover_us(5.0, 0.65))


def test_wet_and_dry_films() -> None:
    """wet = dry·(1 + thinner)/VS (arithmetic)."""
    assert wet_um(25.0, 0.5) == pytest.approx(50)
    assert wet_um(25.0, 0.5, thinner=0.1) == pytest.approx(55)
    assert ml_per_m2(7.5, 0.25) == pytest.approx(30)


def test_grams_on_a_square_metre_become_a_film() -> None:
    """20-40 g/m² wet a pass at 15-30 % solids (from memory) bracket the starting build of a colour coat."""
    thin, thick = dry_um(20, 1.03, 0.15), dry_um(40, 1.03, 0.30)
    assert thin < Assumptions().colour_um < thick
    assert thin < Assumptions().clear_um < thick


def test_exact_volumes() -> None:
    """Exact by definition: US gallon 231 in³; US fluid ounce a 128th of it; imperial fluid ounce a 160th of 4.54609 L."""
    assert pytest.approx(231 * 2.54**3, rel=1e-12) == units.US_GALLON_ML
    assert pytest.approx(units.US_GALLON_ML / 128, rel=1e-12) == units.US_FL_OZ_ML
    assert pytest.approx(4546.09 / 160, rel=1e-12) == units.IMPERIAL_FL_OZ_ML


def test_one_part_to_five() -> None:
    """Common practice, no source: one part pigment to five of clear is 16-17 %, to four 20 %, to four and a half about 18 %."""
    assert 0.16 <= pigment_share(1, 5) <= 0.17
    assert pigment_share(1, 4) == pytest.approx(0.20)
    assert pigment_share(1, 4.5) == pytest.approx(0.18, abs=0.003)


def test_six_five_ounce_cups() -> None:
    """Common practice, no source: six five-ounce cups come just short of a US quart."""
    cups = units.read_volume("6 x 5 fl oz")
    quart = units.read_volume("1 qt")
    assert 0.9 * quart < cups < quart


def aircraft() -> list[Piece]:
    """Six single seats, a two-place divan and one small jump seat; sizes are our own guesses at a small cabin."""
    made = []

    def add(key: str, shape: str, length: float, width: float, thickness: float = 0.0) -> None:
        made.append(
            make_piece(
                key=key, name=key, group="Cabin", shape=shape, length=length, width=width, thickness=thickness, sat_on=True,
            )
        )  # fmt: skip

    for n in range(1, 7):
        add(f"S{n}-seat", "cushion", 0.48, 0.48, 0.10)
        add(f"S{n}-back", "cushion", 0.62, 0.48, 0.08)
        add(f"S{n}-head", "cushion", 0.30, 0.22, 0.08)
        add(f"S{n}-armL", "arm", 0.40, 0.07, 0.10)
        add(f"S{n}-armR", "arm", 0.40, 0.07, 0.10)
    for n in (1, 2):
        add(f"D-seat{n}", "cushion", 0.55, 0.50, 0.12)
        add(f"D-back{n}", "cushion", 0.55, 0.50, 0.08)
    add("J-seat", "cushion", 0.35, 0.30, 0.05)
    add("J-back", "panel", 0.40, 0.35)
    return made


def test_an_aircraft_wants_at_least_a_quart() -> None:
    """Common practice, no source: such an interior, recoated as it was, wants at least a US quart of mixed colour.

    So the P90 must not be below a quart, nor should the forecast be several times it. Assumed: two sprayed coats at 7.5 µm dry, one wiped in,
    27.7 % solids, 65 % landing, 25 mL left in gun and cup a session, 120 mL kept back.
    """
    need = take_off(aircraft()).colour
    quart = units.US_QUART_ML
    assert need.p90 >= quart
    assert need.p50 <= 2 * quart
    assert need.p90 <= 2.5 * quart
