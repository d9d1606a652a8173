"""A checked spectrum (31 finite values, 400 to 700 nm by 10 nm), and smooth curves over its bands."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal

from .cie import BANDS, WAVELENGTHS

Array = NDArray[np.float64]
KEPT = 0.999
"""Share of a smooth curve's variance that the kept eigenvectors carry."""


def spectrum(values: object, where: str, *, upper: float | None = None) -> Array:
    """A checked array of shape (31,), finite, from 0 to `upper`; refuses anything else."""
    array = np.array(values, dtype=float)
    if array.shape != (BANDS,) or not np.all(np.isfinite(array)):
        raise Refusal("A spectrum has 31 finite values, 400 to 700 nm by 10 nm.", where=where)
    if np.any(array < 0) or (upper is not None and np.any(array > upper)):
        raise Refusal(f"A value lies outside 0 to {upper if upper is not None else 'infinity'}.", where=where)
    array.setflags(write=False)
    return array


@lru_cache
def smooth_basis(length: float) -> Array:
    """(31, r): eigenvectors of a squared-exponential kernel of this length in nm, scaled so that basis @ basisᵀ has about unit variance at each band.

    C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.16 and §4.3.
    """
    gap = WAVELENGTHS[:, None] - WAVELENGTHS[None, :]
    values, vectors = np.linalg.eigh(np.exp(-0.5 * (gap / length) ** 2))
    order = np.argsort(values)[::-1]
    values, vectors = np.maximum(values[order], 0.0), vectors[:, order]
    rank = int(np.searchsorted(np.cumsum(values) / values.sum(), KEPT)) + 1
    basis = vectors[:, :rank] * np.sqrt(values[:rank])
    basis.setflags(write=False)
    return np.asarray(basis)
