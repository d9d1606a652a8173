"""The vessels that the shop has: which one takes a mix, and how two cups can be boxed without running over."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from hidewright.refusals import Refusal

from .amounts import millilitres

HEADROOM = 0.1
"""Share of a vessel that stays empty above a mix, so that it can be stirred. A starting value, common practice, no source."""


@dataclass(frozen=True, slots=True)
class Pot:
    """A vessel on the shelf: `capacity` µL to the line, `tare` g empty (0: not weighed)."""

    key: str
    name: str
    capacity: int
    tare: float = 0.0

    def __post_init__(self) -> None:
        if not 1_000 <= self.capacity <= 10**9:
            raise Refusal(
                f"A vessel of {millilitres(self.capacity):g} mL cannot be.",
                where=self.name,
                remedy="Write 1 mL to 1000 L.",
            )
        if not 0 <= self.tare < 1e6:
            raise Refusal("An empty vessel weighs 0 g to 1000 kg.", where=self.name)


def pot_for(pots: Sequence[Pot], amount: int, *, headroom: float = HEADROOM) -> Pot | None:
    """The smallest pot that takes `amount` µL and leaves the headroom; else the smallest that just takes it; None when none does."""
    by_size = sorted(pots, key=lambda pot: (pot.capacity, pot.key))
    for wanted in (amount / (1 - headroom), amount):
        for pot in by_size:
            if pot.capacity >= wanted:
                return pot
    return None


def size_for(pots: Sequence[Pot], amount: int) -> int:
    """µL of the vessel to take for `amount` µL: that of `pot_for`, or a size of one's own with headroom when the list has none."""
    pot = pot_for(pots, amount)
    return pot.capacity if pot else round(amount / (1 - HEADROOM))


class Way(StrEnum):
    """How two cups are boxed."""

    HERE = "here"
    THERE = "there"
    NEW = "new"


@dataclass(frozen=True, slots=True)
class Boxing:
    """One way to box two cups: into which of them, or into a third vessel of `capacity` µL (named `pot` when it is one of the shop's)."""

    way: Way
    capacity: int
    pot: Pot | None = None


def ways_to_box(here: tuple[int, int], there: tuple[int, int], pots: Sequence[Pot]) -> tuple[Boxing, ...]:
    """The ways in which two cups, each (volume, capacity) in µL, can be boxed without running over; the first is the one to offer.

    The smaller volume goes into the larger one where both ways fit: less is poured. There is always a way: a third vessel.
    """
    both = here[0] + there[0]
    found = []
    if both <= here[1]:
        found.append(Boxing(Way.HERE, here[1]))
    if both <= there[1]:
        found.append(Boxing(Way.THERE, there[1]))
    if there[0] > here[0]:
        found.reverse()
    found.append(Boxing(Way.NEW, size_for(pots, both), pot_for(pots, both)))
    return tuple(found)
