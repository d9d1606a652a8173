"""All drawdowns' films as functions of the pigments' curves, with slopes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .drawdowns import Drawdown
from .film import Surface, below, film, seen

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """What all films look like, and how that changes: `read`, and its slopes by ln K and by ln S of the whole film; shape (2, D, 31), black first."""

    read: Array
    by_k: Array
    by_s: Array
    k: Array
    s: Array


class Films:
    """The films of all drawdowns as functions of θ (P, 2, 31): ln k and ln s by pigment. A film that was read over one ground only counts there alone."""

    def __init__(self, keys: Sequence[str], drawdowns: Sequence[Drawdown], surface: Surface) -> None:
        self.keys, self.surface = list(keys), surface
        self.c = np.array([[d.shares.get(key, 0.0) for key in keys] for d in drawdowns])
        self.x = np.array([d.microns for d in drawdowns])[:, None]
        self.grounds = [
            np.array([below(getattr(d, g), surface) for d in drawdowns]) for g in ("black", "white")
        ]
        self.read = np.array([[d.over_black for d in drawdowns], [d.over_white for d in drawdowns]])
        self.sd = np.array([d.sd for d in drawdowns])
        self.often = np.array([d.readings for d in drawdowns], dtype=float)
        self.sides = [[1] if d.one_ground else [0, 1] for d in drawdowns]
        self.holds = [np.flatnonzero(row) for row in self.c]
        self.doubts = [
            np.array([[q.sd * q.moves.get(self.keys[i], 0.0) for q in d.doubts] for i in own]).reshape(
                len(own), -1
            )
            for d, own in zip(drawdowns, self.holds, strict=True)
        ]
        self.causes = [tuple(q.cause for q in d.doubts) for d in drawdowns]

    def at(self, theta: Array) -> Looks:
        """What all films look like."""
        k, s = self.c @ np.exp(theta[:, 0]), self.c @ np.exp(theta[:, 1])
        told, by_k, by_s = [], [], []
        step = 1e-6
        for ground in self.grounds:
            here = seen(film(k, s, self.x, ground), self.surface)
            told.append(here)
            by_k.append((seen(film(k * (1 + step), s, self.x, ground), self.surface) - here) / step)
            by_s.append((seen(film(k, s * (1 + step), self.x, ground), self.surface) - here) / step)
        return Looks(np.array(told), np.array(by_k), np.array(by_s), k, s)

    def slopes(self, theta: Array, looks: Looks, d: int) -> Array:
        """Slopes (sides, 2m, 31) of one film by ln k and ln s of each of its m pigments, band by band."""
        sides, own = self.sides[d], self.holds[d]
        share_k = self.c[d, own, None] * np.exp(theta[own, 0]) / looks.k[d]
        share_s = self.c[d, own, None] * np.exp(theta[own, 1]) / looks.s[d]
        by_k = looks.by_k[sides, d][:, None, :] * share_k
        by_s = looks.by_s[sides, d][:, None, :] * share_s
        return np.stack([by_k, by_s], axis=2).reshape(len(sides), -1, by_k.shape[-1])

    def entered(self, slopes: Array, d: int) -> Array:
        """What one film's readings are off by (sides·31, doubts) when each of its doubts is one sd off."""
        by_amount = (slopes[:, 0::2] + slopes[:, 1::2]).transpose(0, 2, 1)
        doubts = self.doubts[d]
        return np.asarray((by_amount @ doubts).reshape(len(slopes) * by_amount.shape[1], doubts.shape[1]))

    def places(self, d: int) -> NDArray[np.intp]:
        """Where one film's unknowns stand in the flattened θ: (2m·31,)."""
        bands = self.read.shape[-1]
        rows = (2 * self.holds[d][:, None] + np.arange(2)).reshape(-1)
        return np.asarray((rows[:, None] * bands + np.arange(bands)).reshape(-1))

    def missed(self, looks: Looks, d: int) -> Array:
        """Reading less film, (sides·31,)."""
        sides = self.sides[d]
        return np.asarray((self.read[sides, d] - looks.read[sides, d]).reshape(-1))
