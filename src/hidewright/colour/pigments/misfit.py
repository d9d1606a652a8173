"""What readings differ from the film by, as unknowns: noise, errors of the amounts, and what the model leaves out. One scale a library for each, learned from the readings.

A reading's residual has the covariance C = Σ vₛ·FₛFₛᵀ over five sources: noise of each band; an error of each amount, which all bands share; an error of ln K and one of ln S of the film (the mix is not
the sum of its parts), which both grounds share; and an error of the reading itself (surface, ground). The last three are correlated over the bands by exp(−|Δλ|/`LENGTH`): rough
enough that the fine shape of a curve does not count for more than its level. The variances vₛ are learned by restricted maximum likelihood: v ← v·√(quadratic/trace), a
minorise-maximise step that never leaves what is positive (H. Zhou, L. Hu, J. Zhou, K. Lange, J. Comput. Graph. Stat. 28 (2019) 350; from memory), each drawn to what clean films have (`CLEAN`) as by so many readings' worth of
evidence (`HOLD`). The error of an amount is the balance's and is not learned: what the film leaves out would hide in it.

What a film may be off by from how it was entered (`Doubt`: grams, a gauge, a bar) comes on top, as it was said, and is not learned.

Films of like composition are off alike, so that eleven of one pigment are not eleven witnesses: where a film counts, its misfit (not its noise) is taken times its `kin`, the number of
films that are like it. So more films of one sort never push the others aside.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, WAVELENGTHS

from .drawdowns import READING_SD, WEIGHING_SD
from .films import Films, Looks

Array = NDArray[np.float64]
LENGTH = 30.0
"""nm over which the correlation of a misfit falls to 1/e (convention of this tool)."""
LIKE, LIKE_AMOUNT = 0.25, 1.0
"""How far apart in shares of the pigments, and in ln of the whole amount, two films are still alike (conventions of this tool)."""
SOURCES = ("noise", "amounts", "absorption", "scattering", "reading")
CLEAN = (READING_SD, WEIGHING_SD, 0.0005, 0.0005, 0.00005)
"""sd of each source where nothing speaks against it: reflectance, and relative errors (conventions of this tool)."""
BEGIN = (READING_SD, WEIGHING_SD, 0.02, 0.02, 0.002)
"""Where the search begins once more when noise alone came out `NOISY` times too large: noise that is taken first leaves nothing for misfit."""
NOISY = 1.5
HOLD = (60.0, 1e12, 10.0, 10.0, 10.0)
"""How many squared numbers' worth of evidence `CLEAN` counts for (conventions of this tool)."""
MOST = 0.6
"""A relative error of K or S, or of an amount, is not taken for larger than this."""


@dataclass(frozen=True, slots=True)
class Scales:
    """Standard deviations of the sources (of clean films, to begin with): `noise` and `reading` in reflectance, `amounts`, `absorption`, `scattering` relative (ln)."""

    noise: float = CLEAN[0]
    amounts: float = CLEAN[1]
    absorption: float = CLEAN[2]
    scattering: float = CLEAN[3]
    reading: float = CLEAN[4]

    @property
    def variances(self) -> Array:
        """(5,)"""
        return np.array([getattr(self, name) for name in SOURCES]) ** 2

    def stepped(self, quadratic: Array, trace: Array) -> "Scales":
        """One step toward the likeliest scales."""
        clean, hold, now = np.array(CLEAN) ** 2, np.array(HOLD), self.variances
        grown = now * np.sqrt((quadratic + hold * clean / now**2) / np.maximum(trace + hold / now, 1e-300))
        sds = np.sqrt(grown)
        sds[1:4] = np.minimum(sds[1:4], MOST)
        return replace(self, **dict(zip(SOURCES, map(float, sds), strict=True)))

    @property
    def words(self) -> str:
        """What was found, in a sentence."""
        return (
            f"Readings scatter by {self.noise:.2%} a band, amounts by {self.amounts:.1%}; what the film leaves out: {self.absorption:.1%} of K, {self.scattering:.1%} of S, "
            f"{self.reading:.2%} of the reading."
        )


@lru_cache
def rough_basis() -> Array:
    """(31, 31): factor of the correlation over the bands."""
    gap = np.abs(WAVELENGTHS[:, None] - WAVELENGTHS[None, :])
    factor = np.linalg.cholesky(np.exp(-gap / LENGTH))
    factor.setflags(write=False)
    return np.asarray(factor)


def kin(films: Films) -> Array:
    """How many films each is like, itself included, (D,)."""
    shares = films.c / films.c.sum(axis=1, keepdims=True)
    amount = np.log(films.c.sum(axis=1) * films.x[:, 0])
    apart = ((shares[:, None] - shares[None]) ** 2).sum(axis=-1) / LIKE**2
    apart += (amount[:, None] - amount[None]) ** 2 / LIKE_AMOUNT**2
    return np.asarray(np.exp(-0.5 * apart).sum(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """One film's residual: `inverse` (n, n) of its covariance, `counting` that with its misfit times its kin, `logdet` of the covariance, the factors F (n, r), and which source each column is of (r,)."""

    inverse: Array
    counting: Array
    logdet: float
    factors: Array
    source: NDArray[np.intp]
    per_band: float


def spread_of(films: Films, looks: Looks, slopes: Array, d: int, scales: Scales, like: float = 1.0) -> Spread:
    """The covariance of one film's residual (its sides in a row, 31 bands each); `like` is its kin."""
    sides = films.sides[d]
    basis = rough_basis()
    # both grounds share an error of an amount, of K and of S; each has its own of the reading
    amounts = (slopes[:, 0::2] + slopes[:, 1::2]).transpose(0, 2, 1).reshape(len(sides) * BANDS, -1)
    by_k = (looks.by_k[sides, d][..., None] * basis).reshape(len(sides) * BANDS, -1)
    by_s = (looks.by_s[sides, d][..., None] * basis).reshape(len(sides) * BANDS, -1)
    own = np.kron(np.eye(len(sides)), basis)
    factors = np.concatenate([amounts, by_k, by_s, own], axis=1)
    source = np.repeat([1, 2, 3, 4], [amounts.shape[1], BANDS, BANDS, own.shape[1]])
    per_band = 1.0 / films.often[d]
    variances = scales.variances
    entered = films.entered(slopes, d)

    def covariance(times: float) -> Array:
        weight = variances[source] * np.where(source >= 2, times, 1.0)
        whole = (factors * weight) @ factors.T + entered @ entered.T
        whole[np.diag_indices(len(whole))] += variances[0] * per_band
        return np.asarray(whole)

    plain = covariance(1.0)
    sign, volume = np.linalg.slogdet(plain)
    inverse: Array = np.asarray(np.linalg.inv(plain), dtype=float)
    counting = inverse if like < 1.001 else np.asarray(np.linalg.inv(covariance(like)), dtype=float)
    return Spread(inverse, counting, float(sign * volume), factors, source, per_band)
