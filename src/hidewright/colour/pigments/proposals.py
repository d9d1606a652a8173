"""Which drawdown to make next: the one that would narrow the forecast of random mixes most."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS

from .drawdowns import READING_SD
from .film import film, seen
from .joint import Joint

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Proposal:
    """A drawdown worth making: its parts by volume, and the mean ΔE00 spread of mixes before and after it."""

    name: str
    parts: Mapping[str, float]
    before: float
    after: float

    @property
    def words(self) -> str:
        """Why, in a sentence."""
        return f"{self.name}: mixes would be forecast to ΔE00 {self.after:.2f} instead of {self.before:.2f}."


def propose(
    joint: Joint, dry_share: float = 0.45, microns: float = 40.0, mixes: int = 40, seed: int = 1
) -> tuple[Proposal, ...]:
    """The most informative next drawdowns, best first: masstones, white tints and shades with about 5 % black of what is known.

    Each is judged by how far it would narrow the forecast of random mixes of three and four pigments (linearised, before it is made).
    """
    rng = np.random.default_rng(seed)
    probes = []
    for _ in range(mixes):
        chosen = rng.choice(len(joint.keys), min(len(joint.keys), int(rng.integers(3, 5))), replace=False)
        parts = dict(zip((joint.keys[i] for i in chosen), rng.dirichlet(np.ones(len(chosen))), strict=True))
        probes.append(joint.lab_slopes(parts))
    stacked = np.concatenate(probes)
    spread = np.einsum("ij,jk,ik->i", stacked, joint.covariance, stacked).reshape(-1, 3).sum(axis=1)
    before = float(np.sqrt(spread).mean())
    ground = [np.full(BANDS, 0.02), np.full(BANDS, 0.9)]
    found = []
    for name, parts in _candidates(joint.keys):
        total = sum(parts.values())
        shares = {key: dry_share * v / total for key, v in parts.items()}
        slopes = _reading_slopes(joint, shares, microns, ground)
        cross = joint.covariance @ slopes.T
        noise = slopes @ cross + READING_SD**2 * np.eye(len(slopes))
        gained = stacked @ cross
        less = np.einsum("ij,ij->i", gained, np.linalg.solve(noise, gained.T).T).reshape(-1, 3).sum(axis=1)
        after = float(np.sqrt(np.maximum(spread - less, 0.0)).mean())
        found.append(Proposal(name, parts, before, after))
    return tuple(sorted(found, key=lambda p: p.after))


def _candidates(keys: Sequence[str]) -> list[tuple[str, dict[str, float]]]:
    white = next((k for k in keys if k.startswith("PW")), None)
    black = next((k for k in keys if k.startswith("PBk")), None)
    found = [(f"masstone of {key}", {key: 1.0}) for key in keys]
    found += [
        (f"{key} let down with white", {key: 0.2, white: 1.0}) for key in keys if white and key != white
    ]
    found += [(f"{key} with 5 % black", {key: 1.0, black: 0.05}) for key in keys if black and key != black]
    return found


def _reading_slopes(
    joint: Joint, shares: Mapping[str, float], microns: float, grounds: Sequence[Array]
) -> Array:
    """Slopes (62, unknowns) of both readings of a drawdown; its weighing errors are left to the reading noise."""
    k, s = joint.curves(shares)
    rows = []
    step = 1e-6
    for ground in grounds:
        here = seen(film(k, s, microns, ground), joint.surface)
        by_k = (seen(film(k * (1 + step), s, microns, ground), joint.surface) - here) / (k * step)
        by_s = (seen(film(k, s * (1 + step), microns, ground), joint.surface) - here) / (s * step)
        out = np.zeros((BANDS, *joint.theta.shape))
        bands = np.arange(BANDS)
        for i, key in enumerate(joint.keys):
            if key in shares:
                out[bands, i, 0, bands] = by_k * shares[key] * np.exp(joint.theta[i, 0])
                out[bands, i, 1, bands] = by_s * shares[key] * np.exp(joint.theta[i, 1])
        rows.append(out.reshape(BANDS, -1))
    return np.concatenate(rows)
