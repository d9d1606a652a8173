"""What films leave over when K and S have done their best, and how their readings were taken: the sums done a second time."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.joint import Joint
from hidewright.colour.pigments.residual import residual_of
from hidewright.colour.pigments.shine import Shine, Way, judged
from hidewright.refusals import Refusal
from own_films import BLACK, K1, K2, KEYS, WHITE, drawn, inside, joint_of, look, mix, true_theta

# What the films leave over.


@cache
def leftover() -> tuple[Joint, list[Drawdown]]:
    """Nine films that read as if K were off by a factor that hangs on the share of red."""
    made = []
    for number in range(9):
        shares = {"PW6": 0.4, "PR101": 0.02 * (number + 1)}
        k, s = mix(shares)
        k = k * np.exp(0.05 + 0.02 * number)
        sides = [look(k, s, 40.0, card) for card in (BLACK, WHITE)]
        made.append(Drawdown(f"{number}", shares, 40.0, sides[0], sides[1], BLACK, WHITE))
    return joint_of(0.01), made


def test_the_residual_is_a_gaussian_process_over_the_composition() -> None:
    """Its mean and variance at new films by conditioning written out, and the likeliest of its grid: with the noise of each coefficient taken at its likeliest value."""
    joint, made = leftover()
    found = residual_of(joint, made)
    assert found is not None
    assert found.films == 9
    theta = np.exp(true_theta()).sum(axis=1)

    def features(shares: dict[str, float], um: float) -> tuple[np.ndarray, float]:
        own = np.array([shares.get(key, 0.0) for key in KEYS])[:, None] * theta
        return (own / own.sum(axis=0)).mean(axis=1), float(np.log(sum(shares.values()) * um))

    every = [features(dict(d.shares), d.microns) for d in made]

    def kernel(
        one: tuple[np.ndarray, float], two: tuple[np.ndarray, float], width: float, amount: float
    ) -> float:
        return float(
            np.exp(
                -((one[0] - two[0]) ** 2).sum() / (2 * width**2) - (one[1] - two[1]) ** 2 / (2 * amount**2)
            )
        )

    def gram(width: float, amount: float) -> np.ndarray:
        return np.array([[kernel(a, b, width, amount) for b in every] for a in every])

    whole = found.part * gram(found.width, found.amount) + np.eye(9)
    z = whole @ found.weights
    score = {}
    for width in (0.1, 0.2, 0.4, 0.8):
        for amount in (0.4, 1.0, 3.0):
            for part in (0.5, 2.0, 8.0, 32.0):
                c = part * gram(width, amount) + np.eye(9)
                noise = np.einsum("ij,ij->j", z, np.linalg.solve(c, z)) / 9
                score[width, amount, part] = -9 * np.log(noise).sum() - z.shape[1] * np.linalg.slogdet(c)[1]
    assert max(score, key=lambda at: score[at]) == (found.width, found.amount, found.part)
    c = whole
    np.testing.assert_allclose(found.noise, np.einsum("ij,ij->j", z, np.linalg.solve(c, z)) / 9, rtol=1e-5)
    basis = _basis(z.shape[1])
    for shares, um in (({"PW6": 0.4, "PR101": 0.05}, 40.0), ({"PW6": 0.3, "PR101": 0.3}, 25.0)):
        near = found.part * np.array(
            [kernel(features(shares, um), b, found.width, found.amount) for b in every]
        )
        mean, covariance = found.at(shares, um)
        np.testing.assert_allclose(mean, basis @ (near @ np.linalg.solve(c, z)), atol=1e-9)
        left = found.part - near @ np.linalg.solve(c, near)
        np.testing.assert_allclose(covariance, left * (basis * found.noise) @ basis.T, rtol=1e-6, atol=1e-12)
    far, open_ = found.at({"PBk7": 1.0}, 4000.0)
    assert np.abs(far).max() < 1e-3 * np.abs(mean).max()
    np.testing.assert_allclose(open_, found.part * (basis * found.noise) @ basis.T, rtol=1e-3)
    assert residual_of(joint, made[:7]) is None


def _basis(rank: int) -> np.ndarray:
    """The first eigenvectors of a squared exponential of 60 nm, each by the root of its eigenvalue (signs as numpy gives them)."""
    gap = WAVELENGTHS[:, None] - WAVELENGTHS[None, :]
    values, vectors = np.linalg.eigh(np.exp(-0.5 * (gap / 60.0) ** 2))
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0)))[:, ::-1][:, :rank])


def test_the_residual_mends_a_film_that_it_knows_and_says_how_surely() -> None:
    """A film among its own is read nearly as it was; the covariance of the reading is that of the residual through the slope by ln q."""
    joint, made = leftover()
    found = residual_of(joint, made)
    assert found is not None
    for d in made[3:6]:
        for read, card in ((d.over_black, BLACK), (d.over_white, WHITE)):
            here, spread = found.read(d.shares, d.microns, card)
            plain = look(*mix(dict(d.shares)), d.microns, card)
            assert float(delta_e00(lab(here), lab(read))) < 0.25 * float(delta_e00(lab(plain), lab(read)))
            more, sure = found.at(d.shares, d.microns)

            def through(lnq: np.ndarray) -> np.ndarray:
                q = np.exp(lnq)
                r = 1 + q - np.sqrt(q * q + 2 * q)
                return np.asarray(K1 + (1 - K1) * (1 - K2) * r / (1 - K2 * r))

            r = inside(plain)
            lnq = np.log((1 - r) ** 2 / (2 * r)) + more
            slope = (through(lnq + 1e-5) - through(lnq - 1e-5)) / 2e-5
            np.testing.assert_allclose(spread, slope[:, None] * sure * slope, rtol=2e-3, atol=1e-12)
            np.testing.assert_allclose(here, plain + through(lnq) - through(lnq - more), atol=1e-9)


# How the readings were taken.


def test_odds_of_the_shine_are_the_likelihoods_summed_on_either_side() -> None:
    with_, without = Surface(), Surface(specular=False)
    ways = [Way(without, 1.5, -3.0), Way(with_, 1.4, -2.0), Way(with_, 1.5, -1.0), Way(without, 1.6, -4.0)]
    shine = judged(ways)
    assert [way.likely for way in shine.ways] == [-1.0, -2.0, -3.0, -4.0]
    assert shine.best.index == 1.5
    odds = (np.exp(-1.0) + np.exp(-2.0)) / (np.exp(-3.0) + np.exp(-4.0))
    assert shine.odds_in == pytest.approx(odds)
    assert judged([Way(with_, 1.5, 0.0), Way(without, 1.5, -np.inf)]).odds_in == 1e6
    with pytest.raises(Refusal):
        judged([])


@pytest.mark.parametrize(("odds", "sure"), [(19.9, False), (20.1, True), (1 / 19.9, False), (1 / 20.1, True)])
def test_twenty_to_one_is_sure_either_way(odds: float, sure: bool) -> None:
    shine = Shine((Way(Surface(), 1.5, float(np.log(odds))), Way(Surface(specular=False), 1.5, 0.0)))
    assert shine.sure is sure
    words = shine.words(declared=odds > 1)
    assert ("leave open" in words) is not sure
    assert ("check the instrument" in shine.words(declared=odds < 1)) is sure
    assert "20 to 1" in words
    assert ("without" in words.split("(")[0]) is (odds < 1 and sure) or not sure


def test_a_way_is_off_by_the_mean_of_the_films_that_hold_a_pigment() -> None:
    joint = replace(joint_of(0.05), misfit={"a": (1.0, 2.0), "b": (3.0, 5.0), "c": (10.0, 10.0)})
    made = [
        drawn("a", {"PW6": 0.3}),
        drawn("b", {"PW6": 0.3, "PR101": 0.1}),
        drawn("c", {"PR101": 0.2}),
    ]
    way = Way.by(joint)
    assert way.off("PW6", made) == pytest.approx((1.5 + 4.0) / 2)
    assert way.off("PR101", made) == pytest.approx((4.0 + 10.0) / 2)
    assert way.off("PBk7", made) is None
    assert Way(Surface(), 1.5, -np.inf, None, "dark").off("PW6", made) is None
    assert (way.index, way.likely, way.surface) == (1.5, joint.evidence, joint.surface)
