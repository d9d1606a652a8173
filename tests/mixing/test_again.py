"""A batch made again from other lots comes out as it was."""

import numpy as np
import pytest
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, delta_e00, lab
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.pigment import Pigment
from hidewright.mixing.again import made_again
from hidewright.refusals import Refusal

SURFACE = Surface()
WAVES = np.linspace(400, 700, BANDS)


def pigment(key: str, k: NDArray[np.float64], s: NDArray[np.float64]) -> Pigment:
    return Pigment(key, key, "", k, s, density=1.3)


def step(at: float, low: float, high: float) -> NDArray[np.float64]:
    return low + (high - low) / (1 + np.exp((WAVES - at) / 18))


WHITE = pigment("white", np.full(BANDS, 0.0008), np.full(BANDS, 0.9))
YELLOW = pigment("yellow", step(500, 0.004, 0.9), np.full(BANDS, 0.25))
RED = pigment("red", step(590, 0.01, 1.1), np.full(BANDS, 0.2))
BLACK = pigment("black", np.full(BANDS, 2.0), np.full(BANDS, 0.05))
JAR = {"white": 60.0, "yellow": 12.0, "red": 6.0, "black": 1.5}
OLD = {p.key: p for p in (WHITE, YELLOW, RED, BLACK)}


def reading(volumes: dict[str, float], known: dict[str, Pigment]) -> NDArray[np.float64]:
    k = sum(v * known[key].k for key, v in volumes.items())
    s = sum(v * known[key].s for key, v in volumes.items())
    return np.asarray(seen(opaque(k, s), SURFACE))


def stronger(p: Pigment, by: float) -> Pigment:
    return pigment(p.key, p.k * by, p.s * by)


def test_the_same_lots_are_poured_as_they_were() -> None:
    found = made_again(JAR, OLD, reading(JAR, OLD), surface=SURFACE)
    assert not found.corrected
    assert found.before == pytest.approx(0, abs=1e-9)
    assert dict(found.volumes) == pytest.approx(JAR)


@pytest.mark.parametrize(("key", "by"), [("black", 1.25), ("yellow", 0.8), ("red", 1.3), ("white", 0.85)])
def test_one_lot_of_other_strength_is_met_by_its_own_volume(key: str, by: float) -> None:
    """A lot that is `by` times as strong wants 1/by of its volume, up to the whole: proportions alone count in a hiding film."""
    now = {**OLD, key: stronger(OLD[key], by)}
    target = reading(JAR, OLD)
    found = made_again(JAR, now, target, surface=SURFACE)
    assert found.before > 0.5
    assert found.after < 0.1 * found.before
    others = [k for k in JAR if k != key]
    for other in others:
        assert found.factors[key] / found.factors[other] == pytest.approx(1 / by, rel=0.03)
    assert sum(found.volumes.values()) == pytest.approx(sum(JAR.values())), "the share of pigment is kept"
    told = delta_e00(lab(reading(dict(found.volumes), now)), lab(target))
    assert float(told) <= found.after + 1e-9, "what is told is what comes out"


def test_lots_that_differ_in_hue_are_brought_as_near_as_they_come() -> None:
    odd = pigment("red", step(575, 0.012, 1.0), np.full(BANDS, 0.2))
    found = made_again(JAR, {**OLD, "red": odd}, reading(JAR, OLD), surface=SURFACE)
    assert found.after < found.before
    assert all(1 / np.e <= factor / max(found.factors.values()) for factor in found.factors.values())


def test_what_is_not_known_is_refused() -> None:
    with pytest.raises(Refusal, match="K and S"):
        made_again({**JAR, "blue": 1.0}, OLD, reading(JAR, OLD), surface=SURFACE)
    with pytest.raises(Refusal):
        made_again({}, OLD, reading(JAR, OLD), surface=SURFACE)
