"""Drawdowns: films over a card, read dry, and what was found for a pigment from them."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.spectra import spectrum
from hidewright.lists.mixes import Entry
from hidewright.refusals import Refusal

Array = NDArray[np.float64]


READING_SD = 0.0015


WEIGHING_SD = 0.005


MOST_SHARE = 200.0
"""Most volume of a dispersion that a unit volume of dry film can hold: one of half a per cent of solids, and nothing else."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """What a film may be off by from how it was entered.

    `cause` names what may be off: all films of one cause are off together; empty: this film alone. `sd`: ln sd of it, 0..2. `moves`: pigment key → how much ln of what
    is laid of it (share times thickness) moves with it.
    """

    cause: str
    sd: float
    moves: Mapping[str, float]

    def __post_init__(self) -> None:
        if not 0.0 <= self.sd <= 2.0:
            raise Refusal("A doubt lies from nothing to a factor of seven.", where=self.cause)


@dataclass(frozen=True, slots=True, eq=False)
class Drawdown:
    """A film drawn over a card and read, dry.

    `shares`: dispersion volumes per unit of dry film by pigment key; `microns` dry thickness in µm; `over_black`, `over_white`: readings
    (31,) as the instrument gives them; `black`, `white`: readings of the bare card (the same for both sides where there was one ground only); `readings`: how many readings of the film were averaged;
    `doubts`: what its shares and thickness may be off by beyond a weighing error of `WEIGHING_SD`; `entry`: how a shop wrote it down, where it is from there.
    """

    name: str
    shares: Mapping[str, float]
    microns: float
    over_black: Array
    over_white: Array
    black: Array
    white: Array
    readings: int = 1
    doubts: tuple[Doubt, ...] = ()
    entry: Entry | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.readings <= 100:
            raise Refusal("One to a hundred readings can be averaged.", where=self.name)
        for part in ("over_black", "over_white", "black", "white"):
            object.__setattr__(self, part, spectrum(getattr(self, part), f"{self.name} {part}", upper=1.3))
        if not 1.0 <= self.microns <= 1000.0:
            raise Refusal(
                f"A dry film of {self.microns} µm cannot be.",
                where=self.name,
                remedy="It lies from 1 to 1000 µm.",
            )
        shares = list(self.shares.values())
        if not shares or not all(0.0 < share <= MOST_SHARE for share in shares):
            raise Refusal("A drawdown needs at least one pigment, with a share above 0.", where=self.name)

    @property
    def one_ground(self) -> bool:
        """True where it was read over one ground only: card and film are the same on both sides. It then counts once."""
        return np.array_equal(self.over_black, self.over_white) and np.array_equal(self.black, self.white)

    @property
    def sd(self) -> float:
        """Noise of its readings a band: the instrument's, less when several were averaged."""
        return READING_SD / float(np.sqrt(self.readings))

    def amount_sd(self, key: str) -> float:
        """ln sd of what is laid of a pigment."""
        return float(np.sqrt(WEIGHING_SD**2 + sum((d.sd * d.moves.get(key, 0.0)) ** 2 for d in self.doubts)))


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """What was found for one pigment: `k`, `s` (31,), their relative sd (31,), and the misfit of each drawdown in ΔE00 (black, white)."""

    k: Array
    s: Array
    k_sd: Array
    s_sd: Array
    misfit: Mapping[str, tuple[float, float]]
    contradicts: tuple[str, ...] = ()
    """Drawdowns that contradict the rest; they counted less."""

    @property
    def undetermined(self) -> bool:
        """True when the drawdowns say next to nothing about scattering in half of the bands (masstone and tint read alike)."""
        return bool(np.median(self.s_sd) > 0.5)
