"""Checked values: spectra, arrays of a shape, amounts in a range. Everything that comes in is looked at once, here: finite, and of the right size."""

from collections.abc import Mapping, Sequence
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


def numbers(values: object, shape: tuple[int, ...], where: str) -> Array:
    """A finite array of a shape; refuses anything else."""
    try:
        array = np.array(values, dtype=float)
    except (TypeError, ValueError):
        array = np.full(1, np.nan)
    if array.shape != shape or not np.all(np.isfinite(array)):
        raise Refusal(f"{where} needs {int(np.prod(shape))} finite numbers.", where=where)
    array.setflags(write=False)
    return array


def spread(values: object, where: str) -> None:
    """Refuse an sd that is neither one number nor one a band (31,), or not finite and above 0 throughout."""
    array = np.asarray(values, dtype=float)
    if array.shape not in ((), (BANDS,)) or not np.all(np.isfinite(array)) or array.min() <= 0:
        raise Refusal("A reading needs a spread above 0.", where=where, remedy="Such as 0.0015.")


def covariance(values: object, size: int, where: str) -> Array:
    """A checked covariance (size, size): finite, and above 0 in every direction."""
    array = numbers(values, (size, size), where)
    if np.linalg.eigvalsh(0.5 * (array + array.T)).min() <= 0.0:
        raise Refusal("A spread must be above 0 in every direction.", where=where)
    return array


def amounts(values: Mapping[str, float], where: str, *, low: float = 0.0, high: float = 1e9) -> None:
    """Refuse a mapping that is empty, or with a value that is no finite number from `low` to `high`."""
    if not values:
        raise Refusal(
            "There is nothing in it.", where=where, remedy="Name at least one thing and its amount."
        )
    for key, value in values.items():
        if not low <= value <= high:
            raise Refusal(
                f"An amount of {value} of {key} cannot be.", where=where, remedy=f"Write it from {low:g} up."
            )


def within(value: float, low: float, high: float, what: str, where: str) -> None:
    """Refuse a number outside `low` to `high`, NaN among them."""
    if not low <= value <= high:
        raise Refusal(
            f"{what} of {value} cannot be.", where=where, remedy=f"It lies from {low:g} to {high:g}."
        )


def each_once(keys: Sequence[str], where: str) -> None:
    """Refuse a key that is there twice."""
    twice = sorted({key for key in keys if list(keys).count(key) > 1})
    if twice:
        raise Refusal(f"{', '.join(twice)} is there twice.", where=where, remedy="Keep one of them.")
