"""The nearest colour that pigments reach, on measured reflectances, against an independent slow global search.

Source of the reflectances: the 99 test samples of CIE 224:2017 (textiles, paints, plastics, skin, leaves), as colour-science carries them. The search is
SciPy's differential evolution over all twelve pigments together, which knows nothing of subsets.
"""

import os

import numpy as np
import pytest
from scipy.optimize import differential_evolution

os.environ.setdefault("COLOUR_SCIENCE__FILTER_USAGE_WARNINGS", "True")
import colour

from hidewright.colour.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.film import Surface, opaque, seen
from hidewright.colour.match import MatchProblem, nearest
from hidewright.demo.make_colours import pigments

KNOWN = list(pigments().values())
K, S = np.array([p.k for p in KNOWN]), np.array([p.s for p in KNOWN])


@pytest.fixture(scope="module")
def samples() -> np.ndarray:
    """The 99 spectra, (99, 31)."""
    from colour.quality.cfi2017 import load_TCS_CIE2017

    table = load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
    return np.array([np.interp(WAVELENGTHS, table.wavelengths, column) for column in table.values.T])


def slow_search(target: np.ndarray) -> float:
    """Least ΔE00 under D65 over all mixes of the twelve."""
    wanted = lab(target)

    def off(z: np.ndarray) -> np.ndarray:
        v = np.exp(z.T - z.max(axis=0)[:, None])
        return delta_e00(lab(seen(opaque(v @ K, v @ S), Surface())), wanted)

    found = differential_evolution(
        off,
        [(-12, 0)] * len(KNOWN),
        popsize=8,
        maxiter=250,
        tol=1e-6,
        seed=4,
        vectorized=True,
        updating="deferred",
        polish=False,
    )
    return float(found.fun)


@pytest.mark.parametrize("number", [3, 21, 38, 55, 72, 90])
def test_nothing_nearer_is_missed(samples: np.ndarray, number: int) -> None:
    ours, parts = nearest(MatchProblem(samples[number], KNOWN))
    v = np.array([parts.get(p.key, 0.0) for p in KNOWN])
    told = float(delta_e00(lab(seen(opaque(v @ K, v @ S), Surface())), lab(samples[number])))
    assert told == pytest.approx(ours, abs=1e-6)
    assert ours <= slow_search(samples[number]) + 0.05


def test_the_samples_include_colours_out_of_reach(samples: np.ndarray) -> None:
    """Otherwise the test above would only show that a match exists."""
    off = [nearest(MatchProblem(samples[n], KNOWN, most=3))[0] for n in range(0, 99, 12)]
    assert max(off) > 0.3
