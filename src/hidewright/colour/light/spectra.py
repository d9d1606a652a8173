"""A checked spectrum: 31 finite values, 400 to 700 nm by 10 nm."""

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal

from .cie import BANDS

Array = NDArray[np.float64]


def spectrum(values: object, where: str, *, upper: float | None = None) -> Array:
    """A checked array of shape (31,), finite, from 0 to `upper`; refuses anything else."""
    array = np.array(values, dtype=float)
    if array.shape != (BANDS,) or not np.all(np.isfinite(array)):
        raise Refusal("A spectrum has 31 finite values, 400 to 700 nm by 10 nm.", where=where)
    if np.any(array < 0) or (upper is not None and np.any(array > upper)):
        raise Refusal(f"A value lies outside 0 to {upper if upper is not None else 'infinity'}.", where=where)
    array.setflags(write=False)
    return array
