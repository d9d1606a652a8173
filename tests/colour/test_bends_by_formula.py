"""The prior on how far curves bend, against its formulas written out one difference at a time (Lange, Little and Taylor 1989; MacKay 1992; both from memory)."""

from math import exp, log

import numpy as np
import pytest

from hidewright.colour.pigments.bends import Bends

BANDS = 31
STARTS = (0.05, 0.01)
TAILS, KINDRED, LEAST = 3.0, 2.0, 2e-4


def one_step(
    theta: np.ndarray, covariance: np.ndarray, own: list[float], kind: list[float], lent: list[list[float]]
) -> tuple[list[float], list[float], list[list[float]]]:
    """τ² of each curve, c² of each kind, and λ of each difference, after one look at the curves."""
    gammas, fresh, weights = [], [], []
    for n in range(len(own)):
        start = n * BANDS
        gamma, pull, rows = 0.0, 0.0, []
        for i in range(BANDS - 2):
            a, b, c = start + i, start + i + 1, start + i + 2
            d = theta[a] - 2 * theta[b] + theta[c]
            var = (
                covariance[a, a] + 4 * covariance[b, b] + covariance[c, c]
                - 4 * covariance[a, b] - 4 * covariance[b, c] + 2 * covariance[a, c]
            )  # fmt: skip
            gamma += min(max(1 - lent[n][i] / own[n] * var, 0.0), 1.0)
            pull += lent[n][i] * d * d
            rows.append((d * d, var))
        tau2 = max((2 * KINDRED * kind[n % 2] + pull) / (2 * KINDRED + gamma), LEAST**2)
        gammas.append(gamma)
        fresh.append(tau2)
        weights.append([(TAILS + 1) / (TAILS + (d2 + var) / tau2) for d2, var in rows])
    kinds = []
    for which, begun in enumerate(STARTS):
        mine = range(which, len(own), 2)
        total = sum(gammas[n] for n in mine)
        kinds.append(exp((2 * log(begun) + sum(gammas[n] * log(fresh[n]) for n in mine)) / (1 + total)))
    return fresh, kinds, weights


def test_bends_are_learned_as_the_formulas_say() -> None:
    draw = np.random.default_rng(7)
    curves = 6
    theta = np.cumsum(draw.normal(0, 0.02, curves * BANDS))
    root = draw.normal(0, 2e-3, (curves * BANDS, curves * BANDS))
    covariance = root @ root.T
    bends = Bends(curves)
    own, kind = [s**2 for _ in range(curves // 2) for s in STARTS], [s**2 for s in STARTS]
    lent = [[1.0] * (BANDS - 2) for _ in range(curves)]
    assert bends.precision[0] == pytest.approx(0.5**-2)
    assert bends.precision[1] == pytest.approx(0.1**-2)
    for _ in range(3):
        bends.learn(theta, covariance)
        own, kind, lent = one_step(theta, covariance, own, kind, lent)
        assert bends.own == pytest.approx(own)
        assert bends.kind == pytest.approx(kind)
        assert bends.lent == pytest.approx(np.array(lent))
    assert bends.precision == pytest.approx(np.array(lent) / np.array(own)[:, None])
    held = bends.information()
    here = np.eye(BANDS * curves) / 3.0**2
    for n in range(curves):
        for i in range(BANDS - 2):
            row = np.zeros(BANDS * curves)
            row[n * BANDS + i : n * BANDS + i + 3] = (1, -2, 1)
            here += lent[n][i] / own[n] * np.outer(row, row)
    assert held == pytest.approx(here)
