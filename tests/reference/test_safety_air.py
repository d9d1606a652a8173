"""Dilution air and fire air against published worked cases: the sources stand beside each."""

import pytest

from hidewright.refusals import Refusal
from hidewright.safety.air import (
    FOOT3_M3,
    PINT_ML,
    Solvent,
    dilution_air,
    dilution_cfm,
    fire_air,
    room_vapour,
    vapour_m3,
)
from hidewright.units import US_GALLON_ML

# NIOSH Pocket Guide: isopropanol LEL 2.0 %, REL/PEL 400 ppm, flash 53 °F; acetone LEL 2.5 %, PEL 1000 ppm, flash 0 °F.
ISOPROPANOL = Solvent("Isopropanol", 0.785, 60.10, 400, 2.0, 12)
ACETONE = Solvent("Acetone", 0.791, 58.08, 1000, 2.5, -18)


def test_methyl_chloroform_worked_case() -> None:
    """1.5 pt/h, SG 1.32, MW 133.4, 350 ppm → 285 cfm; K 5 → 1424 (ACGIH form, printed)."""
    ideal = dilution_cfm(1.32, 1.5 / 60, 133.4, 350)
    assert ideal == pytest.approx(285, abs=0.5)
    assert 5 * ideal == pytest.approx(1424, abs=1)


def test_isopropanol_by_arithmetic() -> None:
    assert dilution_cfm(0.785, 1 / 60, 60.10, 400) == pytest.approx(219.3, abs=0.05)


def test_metric_dilution_air_is_the_same_air() -> None:
    air = dilution_air(ISOPROPANOL, PINT_ML, k=5)
    assert air.ideal == pytest.approx(219.3 * FOOT3_M3 * 60, rel=1e-3)
    assert air.wanted == pytest.approx(5 * air.ideal)


def test_dilution_air_from_first_principles() -> None:
    """Ideal gas at 20 °C: vapour volume over the limit; the 403 form rounds and stands at 70 °F, so within 2 %."""
    vapour = vapour_m3(ISOPROPANOL, PINT_ML)
    assert dilution_air(ISOPROPANOL, PINT_ML, k=1).ideal == pytest.approx(vapour / 400e-6, rel=0.02)


def test_acetone_fire_air_as_printed() -> None:
    """V 44.0 ft³ vapour a gallon and LEL 2.6 → 6593 ft³ of air a gallon. From memory."""
    acetone = Solvent("Acetone", 0.791, 58.08, 1000, 2.6, -18)
    share = fire_air(acetone, US_GALLON_ML) / vapour_m3(acetone, US_GALLON_ML)
    assert share * 44.0 == pytest.approx(6593, abs=1)


def test_acetone_vapour_of_a_gallon_by_the_ideal_gas() -> None:
    """43.98 ft³ (arithmetic, ideal gas); temperature and density are not given there, so 1 % either way."""
    assert vapour_m3(ACETONE, US_GALLON_ML) / FOOT3_M3 == pytest.approx(43.98, rel=0.01)


def test_a_quarter_of_the_lel() -> None:
    """29 CFR 1910.94: that much air brings all the vapour to 25 % of the LEL, by volume of air as in the printed form."""
    air = fire_air(ACETONE, 1000)
    share = vapour_m3(ACETONE, 1000) / air
    assert share == pytest.approx(0.25 * 0.025 / (1 - 0.025))


def test_a_room_without_ventilation() -> None:
    small = room_vapour(ISOPROPANOL, 1000, 50)
    assert small.percent == pytest.approx(100 * 0.785 * 1000 / 60.10 * 0.024055 / 50, rel=1e-9)
    assert small.of_lel == pytest.approx(small.percent / 2.0)
    assert "25 %" in small.words
    assert "Near the rag" in room_vapour(ISOPROPANOL, 20, 200).words


def test_without_a_limit_on_record_no_figure_is_made_up() -> None:
    bare = Solvent("Unknown", 0.9, 80)
    for refused in (
        lambda: dilution_air(bare, 10),
        lambda: fire_air(bare, 10),
        lambda: room_vapour(bare, 1, 1),
    ):
        with pytest.raises(Refusal, match="on record"):
            refused()
