"""Films against arithmetic of the published formulae, the two-flux equations themselves, Fresnel's formulae, and radiative transfer.

Sources beside each check: P. Kubelka, F. Munk 1931; P. Kubelka 1948, 1954; J. L. Saunderson 1942; Fresnel's formulae; iadpython (adding-doubling).
"""

import importlib.util
from pathlib import Path
from types import ModuleType

import iadpython
import numpy as np
import pytest
from scipy.integrate import quad, solve_bvp
from scipy.optimize import brentq

from hidewright.colour.pigments.film import (
    Surface,
    below,
    film,
    k_over_s,
    opaque,
    seen,
    surface_of_index,
)
from hidewright.refusals import Refusal


def passed(k: float, s: float, x: float) -> float:
    """Internal transmittance of the free film, from what it lets through to a ground that reflects all: T² = (R over 1 − R over 0)(1 − R over 0), Kubelka 1948."""
    over_black, over_white = float(film(k, s, x, 0.0)), float(film(k, s, x, 1.0))
    return float(np.sqrt(max(0.0, (over_white - over_black) * (1 - over_black))))


SCIENCE = Path(__file__).resolve().parents[2] / "docs" / "science"


@pytest.mark.parametrize(
    ("r", "ratio"), [(0.05, 9.025), (0.10, 4.05), (0.20, 1.6), (0.50, 0.25), (0.90, 0.0055556)]
)
def test_k_over_s_of_an_opaque_film(r: float, ratio: float) -> None:
    """(1−R)²/2R, Kubelka and Munk 1931."""
    assert float(k_over_s(r)) == pytest.approx(ratio, abs=5e-8)
    assert float(opaque(ratio, 1.0)) == pytest.approx(r, rel=5e-6)


@pytest.mark.parametrize(("ratio", "r"), [(0.1, 0.641742), (1.0, 0.267949), (10.0, 0.045549)])
def test_opaque_film_from_k_over_s(ratio: float, r: float) -> None:
    """R∞ = a − b."""
    assert float(opaque(ratio, 1.0)) == pytest.approx(r, abs=5e-7)


FILMS = [
    (1.0, 10.0, 0.1, 0.0, 0.461033623, 0.445284),
    (1.0, 10.0, 0.1, 0.8, 0.712347287, 0.445284),
    (0.1, 100.0, 0.05, 0.0, 0.830341385, None),
    (0.1, 100.0, 0.05, 0.8, 0.894973355, None),
    (5.0, 5.0, 0.2, 0.04, 0.261241689, None),
]


@pytest.mark.parametrize(("k", "s", "x", "ground", "r", "t"), FILMS)
def test_finite_film(k: float, s: float, x: float, ground: float, r: float, t: float | None) -> None:
    """Kubelka 1948, eq. 5-7. (The row K .1 S 100 X .05 is read as over black and over Rg .8.)"""
    assert float(film(k, s, x, ground)) == pytest.approx(r, abs=1e-9)
    if t is not None:
        assert passed(k, s, x) == pytest.approx(t, abs=1e-6)


@pytest.mark.parametrize("sx", [0.01, 0.5, 3.0, 40.0])
def test_film_that_does_not_absorb(sx: float) -> None:
    """K = 0: R = SX/(1+SX)."""
    assert float(film(0.0, 1.0, sx, 0.0)) == pytest.approx(sx / (1 + sx), rel=1e-9)


def test_thick_film_does_not_overflow() -> None:
    """The sinh/cosh form gives NaN here."""
    r = film(10.0, 10.0, 1e4, 0.5)
    assert float(r) == pytest.approx(float(opaque(10.0, 10.0)), rel=1e-12)
    assert passed(10.0, 10.0, 1e4) == pytest.approx(0.0, abs=1e-7)


@pytest.mark.parametrize(
    ("k", "s", "x", "ground"),
    [(1, 10, 0.1, 0.0), (1, 10, 0.1, 0.8), (5, 5, 0.2, 0.04), (0.1, 100, 0.05, 0.3)],
)
def test_two_flux_equations(k: float, s: float, x: float, ground: float) -> None:
    """dI/dz = −(K+S)I + SJ, dJ/dz = (K+S)J − SI, I(0) = 1, J(X) = Rg·I(X), solved numerically: agreement 1e-9."""

    def flow(_z: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.array([-(k + s) * y[0] + s * y[1], (k + s) * y[1] - s * y[0]])

    def ends(start: np.ndarray, end: np.ndarray) -> np.ndarray:
        return np.array([start[0] - 1.0, end[1] - ground * end[0]])

    z = np.linspace(0, x, 400)
    solved = solve_bvp(flow, ends, z, np.full((2, z.size), 0.5), tol=1e-11, max_nodes=200_000)
    assert solved.success
    assert float(film(k, s, x, ground)) == pytest.approx(float(solved.y[1, 0]), abs=1e-9)


def test_layers() -> None:
    """Kubelka 1954, R1 + T1²R2/(1 − R1R2): two films of X .05 are one of X .1, whether added by the formula or laid one over the other."""
    r = float(film(1.0, 10.0, 0.05, 0.0))
    assert float(film(1.0, 10.0, 0.05, r)) == pytest.approx(0.461033623, abs=1e-9)
    assert r + passed(1.0, 10.0, 0.05) ** 2 * r / (1 - r * r) == pytest.approx(0.461033623, abs=1e-9)


def test_scattering_power_from_black_and_opaque() -> None:
    """SX = artanh(bR0/(1−aR0))/b, Kubelka 1948: R0 .7 and R∞ .8 → 2.796580, found here by a root search on our films."""
    k = float(k_over_s(0.8))
    assert brentq(lambda x: float(film(k, 1.0, x, 0.0)) - 0.7, 1e-3, 50) == pytest.approx(2.796580, abs=5e-7)


@pytest.mark.parametrize(("r", "sx"), [(0.1, 0.60977), (0.5, 2.87166), (0.8, 6.50069), (0.9, 9.14267)])
def test_scattering_power_for_contrast_ratio_98(r: float, sx: float) -> None:
    """Contrast ratio .98 over 0 and .80 (ISO 6504-1:2019), by a root search on our films."""
    k = float(k_over_s(r))

    def miss(x: float) -> float:
        return float(film(k, 1.0, x, 0.0) / film(k, 1.0, x, 0.8)) - 0.98

    assert brentq(miss, 1e-3, 50) == pytest.approx(sx, abs=6e-6)


@pytest.mark.parametrize(("r", "read"), [(0.25, 0.152941), (0.5, 0.314286), (0.9, 0.791304)])
def test_saunderson_both_ways(r: float, read: float) -> None:
    """Rm = k1+(1−k1)(1−k2)R/(1−k2R) with k1 .04, k2 .6."""
    surface = Surface(0.04, 0.6)
    assert float(seen(r, surface)) == pytest.approx(read, abs=5e-7)
    assert float(below(seen(r, surface), surface)) == pytest.approx(r, abs=1e-12)
    without = Surface(0.04, 0.6, specular=False)
    assert float(seen(r, without)) == pytest.approx(read - 0.04, abs=5e-7)
    assert float(below(seen(r, without), without)) == pytest.approx(r, abs=1e-12)


def _fresnel(cosine: float, ratio: float) -> float:
    """Reflectance for unpolarised light passing to a medium of index `ratio` relative to where it comes from."""
    sine = np.sqrt(1 - cosine * cosine) / ratio
    if sine >= 1:
        return 1.0
    inside = np.sqrt(1 - sine * sine)
    across = (cosine - ratio * inside) / (cosine + ratio * inside)
    along = (ratio * cosine - inside) / (ratio * cosine + inside)
    return float((across**2 + along**2) / 2)


@pytest.mark.parametrize(("n", "k2"), [(1.5, 0.59635), (1.45, 0.56450), (1.6, 0.65088)])
def test_surface_constants_from_fresnel(n: float, k2: float) -> None:
    """Fresnel's formulae integrated over a diffuse field with scipy's quad; identity k2 = 1 − (1−k1 diffuse)/n²."""
    limit = np.sqrt(1 - 1 / n**2)
    inner = (
        quad(lambda c: 2 * c * _fresnel(c, 1 / n), 0, limit)[0]
        + quad(lambda c: 2 * c * _fresnel(c, 1 / n), limit, 1)[0]
    )
    outer = quad(lambda c: 2 * c * _fresnel(c, n), 0, 1)[0]
    assert inner == pytest.approx(k2, abs=6e-6)
    assert 1 - (1 - outer) / n**2 == pytest.approx(inner, abs=1e-7)
    ours = surface_of_index(n)
    assert ours.k2 == pytest.approx(inner, abs=1e-6)
    assert ours.k1 == pytest.approx(_fresnel(1.0, n), abs=1e-12)
    if n == 1.5:
        assert ours.k1 == pytest.approx(0.04, abs=1e-12)
        assert outer == pytest.approx(0.09178, abs=6e-6)


SLABS = [
    (0.99, 2, 0.5879, 0.3733, 0.5790, 0.3822),
    (0.99, 1000, 0.7942, 0.0, 0.7933, 0.0),
    (0.9, 2, 0.4371, 0.2655, 0.4309, 0.2617),
]


@pytest.mark.parametrize(("a", "b", "r", "t", "km_r", "km_t"), SLABS)
def test_radiative_transfer_agrees(a: float, b: float, r: float, t: float, km_r: float, km_t: float) -> None:
    """Diffuse slab by adding-doubling (iadpython) with K = 2μa, S = ¾μs′: within .01 for albedo ≥ .9."""
    _, _, diffuse_r, diffuse_t = iadpython.Sample(a=a, b=b, g=0, n=1, quad_pts=32).rt()
    assert (diffuse_r, diffuse_t) == pytest.approx((r, t), abs=6e-5)
    k, s = 2 * (1 - a), 0.75 * a
    ours = float(film(k, s, b, 0.0)), passed(k, s, b)
    assert ours == pytest.approx((km_r, km_t), abs=6e-5)
    assert ours == pytest.approx((diffuse_r, diffuse_t), abs=0.01)


def _slab_table() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_slab_table", SCIENCE / "make_slab_table.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


def test_the_table_of_the_notes_is_what_the_code_finds() -> None:
    made = _slab_table()
    assert made.table() in (SCIENCE / "films.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("albedo", [0.9, 0.93, 0.97, 0.99, 0.999])
@pytest.mark.parametrize("depth", [2.0, 4.0, 10.0, 1000.0])
def test_tolerance_of_hundredths_holds_from_albedo_nine_tenths_and_depth_two(
    albedo: float, depth: float
) -> None:
    witness, two_fluxes = _slab_table().slab(albedo, depth)
    assert abs(witness - two_fluxes) <= 0.01


def test_where_two_fluxes_get_worse() -> None:
    """The darker the film, the further two fluxes are from radiative transfer: the table of docs/science shows how far."""
    off = []
    for a in (0.99, 0.9, 0.5, 0.2):
        _, _, diffuse_r, _ = iadpython.Sample(a=a, b=2, g=0, n=1, quad_pts=32).rt()
        off.append(abs(float(film(2 * (1 - a), 0.75 * a, 2, 0.0)) - diffuse_r) / diffuse_r)
    assert max(off[:2]) < 0.02 < off[2] < off[3]


def test_reading_darker_than_its_surface_is_refused() -> None:
    with pytest.raises(Refusal) as refused:
        below(np.full(31, 0.035), Surface(0.04, 0.6))
    assert "specular" in refused.value.remedy


def test_thin_films_are_outside_the_tolerance() -> None:
    """At optical depth .5 two fluxes miss adding-doubling by about .02 whatever the albedo: said in docs/science/films.md."""
    _, _, diffuse_r, _ = iadpython.Sample(a=0.99, b=0.5, g=0, n=1, quad_pts=32).rt()
    assert diffuse_r == pytest.approx(0.2906, abs=6e-4)
    assert 0.015 < diffuse_r - float(film(0.02, 0.7425, 0.5, 0.0)) < 0.03
