"""White points, weights and charts against published and independently computed values.

Sources: ASTM E308's printed white points, second-hand, as other colour libraries carry them; colour-science's own integrals of CIE's 1 nm data as the witness;
chart averages `ColorChecker N Ohta` (N. Ohta, 1997) and `BabelColor Average` (D. Pascale) carried by colour-science; CIE 15 special
metamerism index (from memory: channel-wise correction X2t·X1r/X2r).
"""

import os

import numpy as np
import pytest

from hidewright.colour.light import cie
from hidewright.colour.reading.readings import special_metamerism
from hidewright.refusals import Refusal

os.environ.setdefault("COLOUR_SCIENCE__FILTER_USAGE_WARNINGS", "True")
import colour

INTEGRALS = [
    ("D65", "10", (94.811, 100, 107.305)),
    ("A", "10", (111.142, 100, 35.206)),
    ("FL11", "10", (103.821, 100, 65.558)),
    ("D65", "2", (95.047, 100, 108.883)),
]
PRINTED = [
    ("D65", "10", (94.811, 100, 107.304), 0.002),
    ("A", "10", (111.144, 100, 35.200), 0.01),
    ("FL11", "10", (103.863, 100, 65.607), 0.06),
]
"""Light, observer, E308's printed white point (its F11 is CIE's FL11), and how far the integral of the 1 nm tables lies from it at most."""


@pytest.mark.parametrize(("light", "observer", "expected"), INTEGRALS)
def test_white_points_that_colour_science_integrates(
    light: str, observer: str, expected: tuple[float, ...]
) -> None:
    """Computed with colour-science from CIE's 1 nm tables: equal to the figures as written."""
    np.testing.assert_allclose(cie.white(light, observer), expected, atol=6e-4)


@pytest.mark.parametrize(("light", "observer", "expected", "apart"), PRINTED)
def test_white_points_printed_in_e308(
    light: str, observer: str, expected: tuple[float, ...], apart: float
) -> None:
    """ASTM E308's printed tables (second-hand): A and F11 differ from the integrals in the third figure, so each has its own name here."""
    np.testing.assert_allclose(cie.white(light, observer), expected, atol=apart)


def test_trap_plain_integration_cuts_the_ends_off() -> None:
    """Summing over 400-700 nm by 10 nm only gives 94.94/100/108.71 for D65 and 2°: not the white of the whole range."""
    shape = colour.SpectralShape(400, 700, 10)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D65"].copy().align(shape).values
    plain = (cmfs * light[:, None]).sum(axis=0)
    plain *= 100 / plain[1]
    np.testing.assert_allclose(plain, (94.94, 100, 108.71), atol=0.01)
    assert np.abs(plain - cie.white("D65", "2")).max() > 0.1


@pytest.mark.parametrize("light", cie.LIGHTS)
@pytest.mark.parametrize("observer", ["2", "10"])
def test_shipped_weights_are_those_that_colour_science_gives(light: str, observer: str) -> None:
    computed = cie.compute_weights(light, observer)
    np.testing.assert_allclose(cie.weights(light, observer), computed, atol=3e-12)
    assert computed.sum(axis=0)[1] == pytest.approx(100, abs=1e-9)


@pytest.mark.filterwarnings("ignore:.*(Trimming|could not be honoured).*")
@pytest.mark.parametrize("light", ["D65", "A", "FL11"])
def test_ten_nanometre_readings_equal_e308(light: str) -> None:
    """Readings of 400-700 nm by 10 nm through colour-science's ASTM E308 routine: equal to rounding, the folded ends included."""
    rng = np.random.default_rng(308)
    fine = colour.SpectralShape(360, 780, 1)
    observer = colour.MSDS_CMFS[cie.OBSERVERS["10"]].copy().align(fine)
    source = colour.SDS_ILLUMINANTS[light].copy().align(fine)
    for read in rng.uniform(0.02, 0.95, (5, 31)):
        theirs = colour.sd_to_XYZ(
            colour.SpectralDistribution(dict(zip(cie.WAVELENGTHS, read, strict=True))),
            observer,
            source,
            method="ASTM E308",
        )
        np.testing.assert_allclose(cie.xyz(read, light), theirs, atol=3e-13)


@pytest.mark.parametrize("light", ["D65", "A", "FL11", "LED-B3"])
def test_chart_patches_agree_with_colour_science(light: str) -> None:
    """XYZ of every patch of the chart against colour-science's own ASTM E308 routine; rougher spectra differ by interpolation only."""
    fine = colour.SpectralShape(360, 780, 1)
    for patch in colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"].values():
        ours = cie.xyz(_bands(patch), light)
        theirs = colour.sd_to_XYZ(
            patch.copy().align(fine),
            colour.MSDS_CMFS[cie.OBSERVERS["10"]].copy().align(fine),
            colour.SDS_ILLUMINANTS[light].copy().align(fine),
            method="ASTM E308",
        )
        np.testing.assert_allclose(ours, theirs, atol=0.25)


def test_lab_agrees_with_colour_science() -> None:
    values = np.array([[20.0, 18.0, 15.0], [0.3, 0.2, 0.1], [80.0, 90.0, 100.0]])
    for light in ("D65", "A"):
        white = cie.white(light)
        xy = white[:2] / white.sum()
        np.testing.assert_allclose(
            cie.lab_from_xyz(values, white), colour.XYZ_to_Lab(values / 100, xy), atol=2e-4
        )
        np.testing.assert_allclose(
            cie.xyz_from_lab(cie.lab_from_xyz(values, white), white), values, atol=1e-9
        )


PAIRED = [
    ("dark skin", "A", 0.796),
    ("moderate red", "A", 0.252),
    ("blue", "A", 0.828),
    ("blue", "FL11", 2.053),
]


@pytest.mark.parametrize(("patch", "light", "expected"), PAIRED)
def test_special_metamerism_between_two_chart_averages(patch: str, light: str, expected: float) -> None:
    first = _bands(colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"][patch])
    second = _bands(colour.SDS_COLOURCHECKERS["BabelColor Average"][patch])
    assert special_metamerism(first, second, light) == pytest.approx(expected, abs=0.003)


def test_special_metamerism_of_equal_spectra_is_nothing() -> None:
    grey = np.full(31, 0.37)
    assert special_metamerism(grey, grey, "A") == 0.0


def test_unknown_light_is_refused_with_the_choice() -> None:
    with pytest.raises(Refusal) as refused:
        cie.weights("candle")
    assert "D65" in refused.value.remedy


def test_screen_colours() -> None:
    """White, black and mid grey (L* 53.585 is sRGB 128, IEC 61966-2-1)."""
    assert cie.hex_from_lab([100, 0, 0]) == "#ffffff"
    assert cie.hex_from_lab([0, 0, 0]) == "#000000"
    assert cie.hex_from_lab([53.585, 0, 0]) == "#808080"


def _bands(patch: "colour.SpectralDistribution") -> np.ndarray:
    return np.interp(cie.WAVELENGTHS, patch.wavelengths, patch.values)
