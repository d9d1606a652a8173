"""How far each pigment's curves bend from band to band: the prior that draws curves toward smoothness and lets an edge stand, learned beside the curves."""

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS

Array = NDArray[np.float64]
BENDS_FIRST = (0.5, 0.1)
"""sd of the second differences of ln k and ln s from band to band, to begin with (conventions of this tool)."""
TAILS = 3.0
"""Degrees of freedom of the Student prior of a second difference: wide tails let an edge stand."""
KINDRED = 2.0
"""Half the degrees of freedom by which the bends of one curve are drawn to those of its kind (the other ln k, or the other ln s)."""
LEAST_BEND = 2e-4
"""The least sd of a bend: a line to every digit shown."""
LEVEL = 3.0
"""sd of the level of ln k and ln s, of all bands together, about the one-by-one answer: so wide that it only holds what no drawdown tells."""
BENDS = (0.05, 0.01)
"""What these sd are held to be where no reading tells (conventions of this tool)."""

SECOND: Array = np.diff(np.eye(BANDS), n=2, axis=0)


class Bends:
    """How far each curve bends from band to band, learned beside the curves: an empirical Bayes prior of two levels.

    A second difference d of a curve has a Student prior of `TAILS` degrees of freedom and scale τ, as a Gaussian of precision λ/τ², with λ = (ν + 1)/(ν + E[d²]/τ²) (K. L. Lange,
    R. J. A. Little, J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989) 881). τ² = (2a·c² + Σλd²)/(2a + γ), where γ counts the differences that the readings, not the prior, determine
    (D. J. C. MacKay, Neural Comput. 4 (1992) 415, eq. 4.8-4.10: γ = Σ(1 − precision × variance)). c, the scale of all curves of a kind, is the mean of ln τ weighted by γ, with one
    difference's weight on `BENDS`. All sources from memory.
    """

    def __init__(self, curves: int) -> None:
        self.own = np.tile(np.array(BENDS) ** 2, curves // 2)
        self.kind = np.array(BENDS) ** 2
        self.lent = np.ones((curves, len(SECOND)))
        self.settled = False

    @property
    def precision(self) -> Array:
        """(curves, 29): what each second difference is held to zero with."""
        if not self.settled:
            return np.tile(np.array(BENDS_FIRST)[:, None] ** -2.0, (len(self.own) // 2, len(SECOND)))
        return np.asarray(self.lent / self.own[:, None])

    def learn(self, theta: Array, covariance: Array) -> None:
        """Bends by the curves (P, 2, 31) and their covariance as they now stand."""
        told = np.zeros(len(self.own))
        precision = self.lent / self.own[:, None]
        for n, curve in enumerate(theta.reshape(-1, BANDS)):
            here = slice(n * BANDS, (n + 1) * BANDS)
            square = (SECOND @ curve) ** 2
            variance = np.einsum("ij,jk,ik->i", SECOND, covariance[here, here], SECOND)
            told[n] = np.clip(1.0 - precision[n] * variance, 0.0, 1.0).sum()
            whole = 2 * KINDRED * self.kind[n % 2] + (self.lent[n] * square).sum()
            self.own[n] = max(whole / (2 * KINDRED + told[n]), LEAST_BEND**2)
            self.lent[n] = (TAILS + 1) / (TAILS + (square + variance) / self.own[n])
        for which, begun in enumerate(BENDS):
            weight, logs = told[which::2], np.log(self.own[which::2])
            self.kind[which] = np.exp((2 * np.log(begun) + weight @ logs) / (1.0 + weight.sum()))
        self.settled = True

    def information(self) -> Array:
        """Prior information (unknowns, unknowns): smooth curves, and a loose hold on their level."""
        precision = self.precision
        out = np.zeros((len(precision) * BANDS,) * 2)
        for n, weight in enumerate(precision):
            here = slice(n * BANDS, (n + 1) * BANDS)
            out[here, here] = (SECOND.T * weight) @ SECOND + np.eye(BANDS) / LEVEL**2
        return out
