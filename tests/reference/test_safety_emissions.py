"""VOC less water against the arithmetic of the EPA Method 24 form. (40 CFR 60 appendix A-7)."""

import pytest

from hidewright.refusals import Refusal
from hidewright.safety.emissions import Exempt, emitted, voc

ACETONE_DENSITY = 0.791
"""g/mL at 20 °C; from memory."""


@pytest.mark.parametrize(("water_density", "expected"), [(0.995, 197.4), (0.997, 196.6)])
def test_less_water_and_exempt(water_density: float, expected: float) -> None:
    """ρ 1.05 kg/L, Wv .70, Ww .62, acetone .02 → 63 g/L of material and 197.4 (or 196.6) less water."""
    found = voc(1.05, 0.70, 0.62, (Exempt(0.02, ACETONE_DENSITY),), water_density=water_density)
    assert found.of_material == pytest.approx(63.0, abs=1e-9)
    assert found.less_water == pytest.approx(expected, abs=0.15)


def test_without_water_both_figures_are_one() -> None:
    found = voc(0.9, 0.6, 0.0)
    assert found.of_material == pytest.approx(found.less_water) == pytest.approx(540)


def test_emitted_mass() -> None:
    assert emitted(1500, 63) == pytest.approx(94.5)


def test_shares_that_do_not_fit_are_refused() -> None:
    for bad in ((1.0, 0.5, 0.6), (1.0, 1.2, 0.1), (9.0, 0.5, 0.1)):
        with pytest.raises(Refusal):
            voc(*bad)
    with pytest.raises(Refusal, match="Nothing but water"):
        voc(0.997, 1.0, 1.0)
