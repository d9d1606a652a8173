"""The nearest colour that pigments reach, on measured reflectances, against an independent slow global search.

Sources: textiles, paints and plastics among the 99 test samples of CIE 224:2017 / IES TM-30 (spectra carried by colour-science); 76 measured paints carried by
earthlib (MIT). `make_nearest.py` beside this file tells how the recorded values were found, by SciPy's differential evolution; here a fifth of the targets is
held against the engine, and a few searches are run again. All targets are held against it by `make bench` (colour_nearest).
"""

import importlib.util
import json
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.recipes.match import MatchProblem, nearest

HERE = Path(__file__).parent
WITHIN = 0.05


def _script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_nearest", HERE / "make_nearest.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


slow = _script()
KEPT = json.loads((HERE / "nearest_found.json").read_text(encoding="utf-8"))
FOUND: dict[str, dict[str, float]] = KEPT["found"]
TARGETS: dict[str, np.ndarray] = slow.targets({name: np.array(v) for name, v in KEPT["earthlib"].items()})
SOME = list(FOUND)[::5]


def test_every_sample_has_its_record() -> None:
    assert set(TARGETS) == set(FOUND)
    kinds = [name.split()[2] for name in FOUND if name.startswith("CIE 224")]
    assert [kinds.count(kind) for kind in ("textile", "paint", "plastic")] == [21, 10, 12]
    assert sum(name.startswith("earthlib") for name in FOUND) == 76
    assert all(spectrum.shape == (31,) and 0 < spectrum.min() < 1 for spectrum in TARGETS.values())


@pytest.mark.parametrize("way", list(slow.LIGHTS))
@pytest.mark.parametrize("name", SOME)
def test_nothing_nearer_is_missed(name: str, way: str) -> None:
    """Under D65, and under the worst of D65, A and FL11 with at most five pigments: the recorded value is reached within .05."""
    lights = slow.LIGHTS[way]
    ours, parts = nearest(MatchProblem(TARGETS[name], slow.KNOWN, lights=lights, worst=True, most=slow.MOST))
    v = np.array([parts.get(p.key, 0.0) for p in slow.KNOWN])
    read = seen(opaque(v @ slow.K, v @ slow.S), Surface())
    told = max(float(delta_e00(lab(read, light), lab(TARGETS[name], light))) for light in lights)
    assert told == pytest.approx(ours, abs=1e-6)
    assert ours <= FOUND[name][way] + WITHIN


@pytest.mark.parametrize(
    ("name", "way"),
    [("CIE 224 textile 0", "D65"), ("CIE 224 plastic 52", "D65"), ("CIE 224 paint 48", "worst")],
)
def test_the_record_is_what_the_search_finds(name: str, way: str) -> None:
    """From the first seed only: the record is the best of all seeds, so that one of them alone may end above it, but never below."""
    again = slow.slow_search(TARGETS[name], slow.LIGHTS[way], seeds=1)
    assert again >= FOUND[name][way] - 1e-4
    assert again <= FOUND[name][way] + 0.5


def test_the_samples_include_colours_out_of_reach() -> None:
    """Otherwise the tests above would only show that a match exists."""
    assert sum(found["D65"] > 0.3 for found in FOUND.values()) > 30
    assert sum(found["worst"] > 0.3 for found in FOUND.values()) > 60
