"""A round of the joint fit against the same sums over dense matrices: information, restricted likelihood of the scales, and the evidence as a Gaussian integral."""

from dataclasses import replace

import numpy as np
import pytest

from hidewright.colour.pigments import joint
from hidewright.colour.pigments.bends import Bends
from hidewright.colour.pigments.drawdowns import Doubt
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.films import Films
from hidewright.colour.pigments.misfit import HOLD, Scales, spread_of
from own_films import KEYS, drawn, true_theta

MADE = (
    drawn("white", {"PW6": 0.3}, 20.0),
    drawn("tint", {"PR101": 0.1, "PW6": 0.4}, 30.0, readings=4),
    drawn("shade", {"PR101": 0.2, "PBk7": 0.05}, 25.0),
)
FILMS = Films(KEYS, MADE, Surface())
THETA = true_theta() + np.random.default_rng(3).normal(0, 0.1, (3, 2, 31))
SCALES = Scales(0.002, 0.005, 0.02, 0.05, 0.004)
ROUND = joint._taken(FILMS, THETA, SCALES, np.ones(3), np.ones(3))


def dense() -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Of each film: slopes (62, unknowns), covariance of its residual, and the residual."""
    looks, found = FILMS.at(THETA), []
    for d in range(3):
        part = FILMS.slopes(THETA, looks, d)
        wide = np.zeros((2, 31, THETA.size))
        for row, place in enumerate(FILMS.places(d)):
            wide[:, row % 31, place] = part[:, row // 31, row % 31]
        spread = spread_of(FILMS, looks, part, d, SCALES)
        found.append((wide.reshape(62, -1), np.linalg.inv(spread.inverse), FILMS.missed(looks, d)))
    return found


DENSE = dense()


def test_a_round_gathers_what_the_films_tell() -> None:
    """Σ JᵀC⁻¹J and Σ JᵀC⁻¹r, a film that is trusted by a third for a third of its own; and each film's mean squared misfit."""
    trust = np.array([1.0, 1.0 / 3.0, 1.0])
    here = joint._taken(FILMS, THETA, SCALES, trust, np.ones(3))
    information = sum(t * j.T @ np.linalg.solve(c, j) for t, (j, c, _) in zip(trust, DENSE, strict=True))
    pull = sum(t * j.T @ np.linalg.solve(c, r) for t, (j, c, r) in zip(trust, DENSE, strict=True))
    np.testing.assert_allclose(here.information, information, atol=1e-6 * np.abs(information).max())
    np.testing.assert_allclose(here.pull, pull, atol=1e-6 * np.abs(pull).max())
    assert here.squares == pytest.approx([r @ np.linalg.solve(c, r) / 62 for _, c, r in DENSE])


def test_a_cause_that_films_share_pulls_in_all_of_them_at_once() -> None:
    """JᵀC⁻¹ of what each film's readings move by one sd of it, summed over the films that have it; a doubt of one film alone is no cause."""
    own = {"PW6": 1.0, "PR101": 1.0}
    shared = (Doubt("bar", 0.1, own), Doubt("", 0.3, own))
    made = [
        replace(MADE[0], doubts=shared[:1]),
        replace(MADE[1], doubts=shared),
        replace(MADE[2], doubts=shared[1:]),
    ]
    films, trust = Films(KEYS, made, Surface()), np.array([1.0, 0.5, 1.0])
    here = joint._taken(films, THETA, SCALES, trust, np.ones(3))
    pulls = joint._pulled(films, here, trust)
    told = np.zeros(THETA.size)
    for d in (0, 1):
        jac = DENSE[d][0]
        by_amount = sum(
            jac.reshape(62, 3, 2, 31)[:, KEYS.index(key)].sum(axis=(1, 2))
            for key in own
            if key in made[d].shares
        )
        told += trust[d] * jac.T @ here.spreads[d].counting @ (0.1 * by_amount)
    assert pulls.shape == (THETA.size, 1)
    np.testing.assert_allclose(pulls[:, 0], told, atol=1e-9 * np.abs(told).max())


def test_scales_are_learned_by_restricted_likelihood() -> None:
    """Each source's squares in C⁻¹r, and its trace in the projection P = C⁻¹ − C⁻¹J(JᵀC⁻¹J + prior)⁻¹JᵀC⁻¹, over the dense matrices."""
    inverse = np.linalg.inv(ROUND.information + 40.0 * np.eye(THETA.size))
    quadratic, trace = np.zeros(5), np.zeros(5)
    for spread, (j, c, r) in zip(ROUND.spreads, DENSE, strict=True):
        back = np.linalg.inv(c)
        p = back - back @ j @ inverse @ j.T @ back
        for source in range(5):
            factor = (
                np.eye(62) * np.sqrt(spread.per_band)
                if source == 0
                else spread.factors[:, spread.source == source]
            )
            quadratic[source] += np.sum((factor.T @ back @ r) ** 2)
            trace[source] += np.trace(factor.T @ p @ factor)
    found = joint._learned(FILMS, ROUND, inverse, SCALES, np.ones(3)).variances
    now, clean, hold = SCALES.variances, Scales().variances, np.array(HOLD)
    told = now * np.sqrt((quadratic + hold * clean / now**2) / (trace + hold / now))
    np.testing.assert_allclose(found, told, rtol=1e-6)


def test_the_evidence_is_the_likelihood_with_the_curves_summed_out() -> None:
    """At the likeliest curves it equals the Gaussian integral over them: log N(y; Jm, C + JVJᵀ) for curves of mean m and covariance V, less what the prior's own two parts disagree by."""
    bends = Bends(6)
    hold, whole = 3.0**-2, bends.information()
    smooth = whole - hold * np.eye(THETA.size)
    jac = np.concatenate([j for j, _, _ in DENSE])
    noise = np.zeros((186, 186))
    for d, (_, c, _) in enumerate(DENSE):
        noise[d * 62 : d * 62 + 62, d * 62 : d * 62 + 62] = c
    miss, flat = np.concatenate([r for _, _, r in DENSE]), THETA.ravel()
    # the start from which these very curves are the likeliest
    first = flat + (smooth @ flat - jac.T @ np.linalg.solve(noise, miss)) / hold
    found = joint._evidence(ROUND, THETA, first.reshape(THETA.shape), bends)
    v = np.linalg.inv(whole)
    m = v @ (hold * first)
    spread, off = noise + jac @ v @ jac.T, miss + jac @ (flat - m)
    apart = m @ smooth @ m + hold * np.sum((m - first) ** 2)
    told = -0.5 * (np.linalg.slogdet(spread)[1] + off @ np.linalg.solve(spread, off) + apart)
    assert found == pytest.approx(told, rel=1e-5)
