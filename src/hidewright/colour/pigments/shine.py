"""Were drawdowns read with the shine (specular component) or without it, and through which surface? The readings themselves tell.

Each way is a surface: index of the binder, shine in or out. All pigments are characterised with each, and the log likelihoods of the readings (curves and scales summed out or fitted: `Joint.evidence`) are compared; equal odds before (H.
Jeffreys, Theory of Probability, 1961, ch. V). Films that read darker than the surface alone rule a way out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from hidewright.refusals import Refusal

from .drawdowns import Drawdown
from .film import Surface, surface_of_index
from .joint import Joint

INDICES = (1.4, 1.5, 1.6)
"""Refractive indices of a dry binder that are tried: 1.5 is usual, the others its bounds (from memory)."""
SURE = 20.0
"""Odds from which a way counts as told (convention of this tool)."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way of reading: its surface, the binder's index, and the log likelihood of the readings; −inf where it is ruled out, with the reason."""

    surface: Surface
    index: float
    likely: float
    joint: Joint | None = None
    refusal: Refusal | None = None

    @property
    def reason(self) -> str:
        """Why it is ruled out; empty where it is not."""
        return str(self.refusal or "")

    @classmethod
    def by(cls, joint: Joint, index: float = 1.5) -> "Way":
        """The way that these films were settled by."""
        return cls(joint.surface, index, joint.evidence, joint)

    def off(self, key: str, drawdowns: Sequence[Drawdown]) -> float | None:
        """ΔE00 by which the films that hold a pigment are off on average when taken as read this way; None where it is ruled out, or no film holds it."""
        if self.joint is None:
            return None
        own = [sum(self.joint.misfit[d.name]) / 2 for d in drawdowns if key in d.shares]
        return sum(own) / len(own) if own else None


@dataclass(frozen=True, slots=True, eq=False)
class Shine:
    """What the readings say of how they were taken: all ways, likeliest first."""

    ways: tuple[Way, ...]

    @property
    def best(self) -> Way:
        """The likeliest way."""
        return self.ways[0]

    @property
    def sure(self) -> bool:
        """Whether the readings tell it clearly (`SURE`)."""
        return not 1.0 / SURE < self.odds_in < SURE

    @property
    def odds_in(self) -> float:
        """Odds that the shine is in the readings against that it is not, all indices taken together."""
        top = self.best.likely
        weight = {True: 0.0, False: 0.0}
        for way in self.ways:
            weight[way.surface.specular] += float(np.exp(max(way.likely - top, -700.0)))
        return min(max(weight[True], 1e-300) / max(weight[False], 1e-300), 1e6)

    def words(self, *, declared: bool) -> str:
        """What the readings say, and whether it goes with what was declared."""
        inside = self.odds_in
        way = "with the shine" if inside >= 1.0 else "without the shine"
        if not self.sure:
            return f"The readings leave open whether they were taken with the shine or without (odds {max(inside, 1 / inside):.0f} to 1 that it was {way})."
        size = max(inside, 1.0 / inside)
        odds = f"more than {1000 if size > 1000 else int(size)} to 1"
        words = f"The readings were taken {way} ({odds}), binder of index {self.best.index:g}."
        if (inside >= 1.0) != declared:
            words += f" They were declared {'with' if declared else 'without'} it: check the instrument's setting, and declare what it says."
        return words


def way_of(
    drawdowns: Sequence[Drawdown],
    surface: Surface,
    index: float = 1.5,
    on_progress: Callable[[float, str], None] | None = None,
) -> Way:
    """One way of reading, judged by these drawdowns; ruled out, with the reason, where a film reads darker than the surface alone."""
    from .characterise import settled

    try:
        return Way.by(settled(drawdowns, surface, on_progress), index)
    except Refusal as refusal:
        return Way(surface, index, -np.inf, None, refusal)


def judged(ways: Sequence[Way]) -> Shine:
    """Ways side by side, likeliest first; refuses none at all."""
    if not ways:
        raise Refusal("No way of reading is given.", where="surface", remedy="Give at least one.")
    return Shine(tuple(sorted(ways, key=lambda way: -way.likely)))


def shine_of(
    drawdowns: Sequence[Drawdown],
    indices: Sequence[float] = INDICES,
    on_progress: Callable[[float, str], None] | None = None,
) -> Shine:
    """How these drawdowns were read. Refuses where no way goes with them."""
    say = on_progress or (lambda fraction, text: None)
    every = [surface_of_index(index, specular=inside) for index in indices for inside in (True, False)]
    ways = []
    for number, (surface, index) in enumerate(zip(every, np.repeat(indices, 2), strict=True)):
        say(number / len(every), f"Index {index:g}, {'with' if surface.specular else 'without'} the shine")
        ways.append(way_of(drawdowns, surface, float(index)))
    found = judged(ways)
    if not np.isfinite(found.best.likely):
        raise Refusal("No way of reading goes with these films.", where="surface", remedy=found.best.reason)
    return found
