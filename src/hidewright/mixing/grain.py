"""What can be measured at all: whole steps of the balance, whole drops, tenths of a mL; and the smallest cup for which that is enough.

A pour that is advised is a whole number of steps. What is left to the exact amount is stated, not hidden; less than half a step counts as nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

from hidewright.refusals import Refusal

from .amounts import millilitres
from .needed import Needed
from .recipe import MixRecipe

USUAL_STEP_G = 0.1
"""g, the last digit of a common bench balance. A starting value; the shop sets its own."""
BALANCE_STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
"""g: the steps that balances are sold with (common practice, no source)."""
STEP_ML = 0.1
"""mL, what is read off a graduated cylinder or syringe."""
HONEST = 0.05
"""A part may be off by this share of itself and still count as measured (a convention of this tool): ten steps of it, read to half a step."""


@dataclass(frozen=True, slots=True)
class Grain:
    """One step of one part: `volume` µL (above 0), and its size `said` as people read it, such as "0.1 g" or "1 drop"."""

    volume: float
    said: str

    def __post_init__(self) -> None:
        if not 0 < self.volume < 1e9:
            raise Refusal(f"A step of {self.volume:g} µL cannot be.", where=self.said)

    def whole(self, amount: int) -> int:
        """How many steps come nearest to `amount` µL."""
        return round(amount / self.volume)

    @property
    def slack(self) -> int:
        """µL that this way of measuring cannot tell: half a step."""
        return ceil(self.volume / 2)


def places_of(step: float) -> int:
    """Decimals of a balance with such steps: 1 for 0.1 and 0.5, 2 for 0.05, none for 2."""
    return next(places for places in range(4) if round(step, places) == step or places == 3)


def balance_grains(recipe: MixRecipe, step: float) -> dict[str, Grain]:
    """The grain of each part on a balance with a last digit of `step` g."""
    if not 0 < step <= 10:
        raise Refusal(f"A balance with a step of {step:g} g is no use here.", where="balance")
    return {part.key: Grain(1000 * step / part.density, f"{step:g} g") for part in recipe.parts}


def drop_grains(recipe: MixRecipe, drops: Mapping[str, float], usual: float) -> dict[str, Grain]:
    """The grain of each part in drops: mL of one drop by key, `usual` mL where a bottle was not calibrated."""
    return {part.key: Grain(1000 * drops.get(part.key, usual), "1 drop") for part in recipe.parts}


def volume_grains(recipe: MixRecipe, step: float = STEP_ML) -> dict[str, Grain]:
    """The grain of each part when read in mL."""
    return {part.key: Grain(1000 * step, f"{step:g} mL") for part in recipe.parts}


def smallest_cup(recipe: MixRecipe, grains: Mapping[str, Grain]) -> float:
    """mL of the smallest cup in which every part can be off by no more than `HONEST` of itself through whole steps."""
    steps = 0.5 / HONEST
    return max(steps * grains[part.key].volume / part.share for part in recipe.parts) / 1000


@dataclass(frozen=True, slots=True)
class EndsOff:
    """How far off the cup ends when poured in whole steps: `name` of the part that is off most, by `share` of itself (signed; 0 for nothing)."""

    name: str
    share: float

    @property
    def words(self) -> str:
        """In plain words; empty when nobody could measure it."""
        if abs(self.share) < 0.001:
            return ""
        return f"{self.name} ends {abs(self.share):.1%} too {'high' if self.share > 0 else 'low'}".replace(
            "%", " %"
        )


def ends_off(recipe: MixRecipe, needed: Needed, grains: Mapping[str, Grain]) -> EndsOff:
    """How far the worst part ends from its share of the finished cup, when each is poured in whole steps from what is in the cup now."""
    ends = {}
    for part in needed.parts:
        grain = grains[part.key]
        ends[part.key] = part.have + grain.whole(part.need) * grain.volume
    total = sum(ends.values())
    if total <= 0:
        return EndsOff("", 0.0)
    off = {part.key: ends[part.key] / (part.share * total) - 1 for part in recipe.parts}
    worst = max(recipe.parts, key=lambda part: abs(off[part.key]))
    return EndsOff(worst.name, off[worst.key])


def too_small(recipe: MixRecipe, aim: int, grains: Mapping[str, Grain]) -> tuple[str, float] | None:
    """Why a cup of `aim` µL is too small to be measured, and the mL from which it is not; None when it is large enough."""
    least = smallest_cup(recipe, grains)
    if millilitres(aim) >= least * (1 - 1e-9):
        return None
    amounts = recipe.amounts(aim)
    worst = max(recipe.parts, key=lambda part: grains[part.key].volume / max(amounts[part.key], 1))
    grain = grains[worst.key]
    count = amounts[worst.key] / grain.volume
    share = 0.5 / count if count else 1.0
    times = f"{count:.1f} × {grain.said}"
    return (
        f"{worst.name} comes to only {times}: it may end {min(share, 9.99):.0%} off.".replace("%", " %"),
        least,
    )
