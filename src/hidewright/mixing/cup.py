"""Mixing one cup: the recipe scaled to the vessel, what is still to pour, and what an overshoot does to the rest."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from hidewright.colour.recipes import Part
from hidewright.refusals import Refusal

from .ledger import Contents

GRAIN_G = 0.1
"""What the balance shows, in g."""


@dataclass(frozen=True, slots=True)
class Step:
    """One pour of a cup: `wanted` mL and `grams` in all, `poured` mL so far, `left` mL and `left_grams` still to pour, `running` g on the balance when done."""

    part: Part
    wanted: float
    poured: float

    @property
    def left(self) -> float:
        """mL still to pour."""
        return max(self.wanted - self.poured, 0.0)

    @property
    def left_grams(self) -> float:
        """g still to pour."""
        return self.left * self.part.density

    @property
    def over(self) -> float:
        """mL poured beyond what is wanted."""
        return max(self.poured - self.wanted, 0.0)

    @property
    def done(self) -> bool:
        """True when less than half a grain of the balance is left."""
        return self.left_grams < GRAIN_G / 2


@dataclass(frozen=True, slots=True)
class CupPlan:
    """A cup on its way: `steps` in the order of pouring (pigments first, base last), `aim` mL asked for, `total` mL it will come to."""

    steps: tuple[Step, ...]
    aim: float
    total: float
    capacity: float

    @property
    def grown(self) -> float:
        """mL that overshoots have added to the aim."""
        return max(self.total - self.aim, 0.0)

    @property
    def current(self) -> Step | None:
        """The next step, or None when the cup is done."""
        return next((s for s in self.steps if not s.done), None)

    @property
    def done(self) -> bool:
        """True when nothing is left to pour."""
        return self.current is None

    def running_grams(self) -> tuple[float, ...]:
        """What the balance shows after each step if it is not tared in between, in g."""
        shown, sums = 0.0, []
        for step in self.steps:
            shown += max(step.wanted, step.poured) * step.part.density
            sums.append(round(shown, 1))
        return tuple(sums)


def plan_cup(parts: Sequence[Part], aim: float, contents: Contents, capacity: float) -> CupPlan:
    """What to pour for `aim` mL of a recipe when the cup already holds `contents`.

    A part that was overshot lifts all the others in proportion, so that the colour stays true; the cup then comes to more than was asked for. Refuses an
    aim that the vessel cannot hold, an overshoot that would make it too small, and a cup that holds something the recipe does not.
    """
    if not 1 <= aim <= 1e6:
        raise Refusal(f"{aim:g} mL cannot be mixed.", where="amount", remedy="Choose 1 mL to 1000 L.")
    if aim > capacity + 1e-9:
        raise Refusal(
            f"The vessel holds {capacity:g} mL, less than {aim:g} mL.",
            where="vessel",
            remedy="Take a larger vessel or mix less.",
        )
    strange = [key for key in contents.parts if key not in {p.key for p in parts}]
    if strange:
        raise Refusal(
            f"The cup holds {', '.join(strange)}, which the recipe does not use.",
            where="cup",
            remedy="Adjust the cup by its reading, or start another.",
        )
    whole = sum(p.volume for p in parts)
    total = max([aim, *(contents.parts.get(p.key, 0.0) * whole / p.volume for p in parts)])
    if total > aim and total - aim < 0.002 * aim:
        total = aim
    if total > capacity + 1e-6:
        raise Refusal(
            f"With what was poured, the cup would have to come to {total:.0f} mL; the vessel holds {capacity:g} mL.",
            where="cup",
            remedy=f"Move what is in it to a vessel of at least {total:.0f} mL and go on there, or counter the entry if it was mistyped.",
        )
    steps = tuple(Step(p, p.volume * total / whole, contents.parts.get(p.key, 0.0)) for p in parts)
    return CupPlan(steps, aim, total, capacity)


def drops(millilitres: float, drop_ml: float = 0.05) -> int:
    """Whole drops nearest to an amount, at a drop's volume calibrated for the bottle (USP <1101>: 45-55 mg for water, not for dispersions)."""
    if not 0.005 <= drop_ml <= 0.5:
        raise Refusal(
            f"A drop of {drop_ml:g} mL cannot be.",
            where="drop",
            remedy="Count 20 drops on the balance and divide.",
        )
    return round(millilitres / drop_ml)


def share_by_volume(parts_of_pigment: float, parts_of_clear: float) -> float:
    """Load of a mix given in parts: one to five is a sixth. 0..1."""
    if parts_of_pigment <= 0 or parts_of_clear < 0:
        raise Refusal("Parts are above nothing.", where="parts")
    return parts_of_pigment / (parts_of_pigment + parts_of_clear)


def boxed(first: Mapping[str, float], second: Mapping[str, float]) -> dict[str, float]:
    """What two cups poured together hold, mL by part."""
    keys = dict.fromkeys([*first, *second])
    return {key: first.get(key, 0.0) + second.get(key, 0.0) for key in keys}
