"""Films as the formulas of the books give them, written out with plain functions: for tests that do a sum of the colour packages a second time."""

from functools import cache

import numpy as np

from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.joint import Joint
from hidewright.colour.pigments.misfit import Scales
from hidewright.demo.make_colours import pigments as invented

KNOWN = invented()
KEYS = ("PW6", "PR101", "PBk7")
"""The pigments that the films here are made of: their places in θ."""
BLACK, WHITE = np.full(31, 0.05), np.full(31, 0.86)
K1, K2 = 0.04, 0.596


def inside(read: np.ndarray) -> np.ndarray:
    """Below the surface: Saunderson's formula solved for R."""
    over = (read - K1) / ((1 - K1) * (1 - K2))
    return np.asarray(over / (1 + K2 * over))


def look(k: np.ndarray, s: np.ndarray, um: float, card: np.ndarray | None) -> np.ndarray:
    """What is read of a film over a card as it is read, or of one that hides: Kubelka's formula with plain hyperbolic functions."""
    a = 1 + k / s
    b = np.sqrt(a * a - 1)
    if card is None:
        r = a - b
    else:
        ground, turned = inside(card), b / np.tanh(b * s * um)
        r = (1 - ground * (a - turned)) / (a - ground + turned)
    return np.asarray(K1 + (1 - K1) * (1 - K2) * r / (1 - K2 * r))


def mix(shares: dict[str, float], theta: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """K and S (31,) of a film, of the true pigments or of θ (P, 2, 31) in the order of `KEYS`."""
    if theta is None:
        theta = true_theta()
    own = np.array([shares.get(key, 0.0) for key in KEYS])
    return own @ np.exp(theta[:, 0]), own @ np.exp(theta[:, 1])


@cache
def true_theta() -> np.ndarray:
    """ln k and ln s of `KEYS`, (3, 2, 31)."""
    return np.log([[KNOWN[key].k, KNOWN[key].s] for key in KEYS])


def drawn(name: str, shares: dict[str, float], um: float = 40.0, **more: object) -> Drawdown:
    """A film of the true pigments over both cards, without noise."""
    sides = [look(*mix(shares), um, card) for card in (BLACK, WHITE)]
    return Drawdown(name, shares, um, sides[0], sides[1], BLACK, WHITE, **more)  # type: ignore[arg-type]


def joint_of(size: float, seed: int = 5) -> Joint:
    """A joint answer at the truth with a dense invented covariance."""
    theta = true_theta()
    root = np.random.default_rng(seed).normal(0, size, (theta.size, 40)) / np.sqrt(40)
    none = {"good": 1.0, "just": 6.0, "odd": 6.1}
    return Joint(KEYS, theta, root @ root.T, dict.fromkeys(none, (0.1, 0.2)), none, Surface(), Scales(), 0.0)
