"""What is in a cup."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Contents:
    """What is in the cup: mL of each pigment by key, and of base."""

    volumes: Mapping[str, float]
    base_ml: float

    def __post_init__(self) -> None:
        finite = np.all(np.isfinite([*self.volumes.values(), self.base_ml]))
        if not finite or not self.volumes or min(self.volumes.values()) < 0 or self.base_ml < 0:
            raise Refusal("The cup holds no pigment, or a negative amount.", where="cup")
        if sum(self.volumes.values()) <= 0:
            raise Refusal("The cup holds no pigment.", where="cup", remedy="Say what was poured into it.")

    @property
    def total(self) -> float:
        """mL in the cup."""
        return self.base_ml + sum(self.volumes.values())
