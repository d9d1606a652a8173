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
        if not self.volumes or min(self.volumes.values()) < 0 or self.base_ml < 0:
            raise Refusal("The cup holds no pigment, or a negative amount.", where="cup")

    @property
    def total(self) -> float:
        """mL in the cup."""
        return self.base_ml + sum(self.volumes.values())
