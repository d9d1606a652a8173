"""The top-up: when the colour will run short, how much more to mix, and when to box it so that no panel shows a seam."""

from collections.abc import Sequence
from dataclasses import dataclass

from hidewright.refusals import Refusal

from .recipe import MixRecipe

USUAL_REMIX_DE = 1.0
"""ΔE00 by which a second cup of the same recipe, weighed to 0.1 g, may differ. From memory; edited by the shop, learned from its pairs of cups."""
UNSEEN_DE = 0.5
"""ΔE00 between neighbouring panels that passes unseen: under what an eye tells side by side (convention of this tool)."""
RESERVE = 0.10
"""Share added on top of what is missing. An editable starting value."""


@dataclass(frozen=True, slots=True)
class Part:
    """A piece (or panel) still to coat: `colour` mL it will take; pieces of one `group` stand together in the interior."""

    key: str
    name: str
    group: str
    colour: float

    def __post_init__(self) -> None:
        if not self.colour >= 0:
            raise Refusal("A piece takes no less than nothing.", where=self.name or self.key)


@dataclass(frozen=True, slots=True)
class Shortfall:
    """Where the colour runs out: the first `part` that it does not reach to the end of (its `index`), `missing` mL in all."""

    part: Part
    index: int
    missing: float


def runs_short(parts: Sequence[Part], in_hand: float) -> Shortfall | None:
    """The first part, in the order of work, that `in_hand` mL do not reach; None if they do for all."""
    used = 0.0
    total = sum(part.colour for part in parts)
    for index, part in enumerate(parts):
        used += part.colour
        if used > in_hand + 1e-9:
            return Shortfall(part, index, total - in_hand)
    return None


@dataclass(frozen=True, slots=True)
class TopUp:
    """A top-up cup.

    `recipe` is the batch as it now is; `mix` mL to make; `box_with` mL of the old batch to keep for boxing with it; `before` is the part
    before which to box (always at the start of a part, if possible of a group), `step_de` the ΔE00 expected between what was sprayed
    before and after; `seam` is empty or says which neighbouring parts may show it.
    """

    recipe: MixRecipe
    mix: float
    box_with: float
    before: Part
    step_de: float
    at_group: bool
    seam: str = ""

    @property
    def boxed(self) -> float:
        """mL after boxing."""
        return self.mix + self.box_with


def plan_top_up(
    batch: MixRecipe,
    parts: Sequence[Part],
    in_hand: float,
    *,
    reserve: float = RESERVE,
    remix_de: float = USUAL_REMIX_DE,
    unseen_de: float = UNSEEN_DE,
    likely: Sequence[float] | None = None,
    begun: bool = True,
    mix: float | None = None,
) -> TopUp | None:
    """Plan the top-up cup, or None when the colour in hand does for all `parts` (in the order of work) with the reserve.

    `mix` mL to make where that is decided already (by the take-off, which weighs what a leftover costs); without it, what the parts lack.

    The cup is matched to the batch as it now is. Boxing before part b leaves old colour o_b in hand; after boxing, the colour differs from
    the old by about remix_de · mix / (mix + o_b) (a mixture lies between its two colours, in proportion of volume to first order: an
    approximation for small differences). Of the places where the old colour still reaches, those at the start of a group are tried first, then
    any start of a part; the latest place whose step passes unseen is taken (later wastes fewer chances to learn how much is used);
    if none does, the place with the smallest step, with a warning. `likely` mL each part probably takes (P50) decides how much
    old colour is left at each place; `begun` tells whether anything was coated already (if not, boxing before the first part makes no step); while `parts` carry the careful figures (P90) that decide how much to mix.
    """
    if not parts:
        return None
    if in_hand < 0 or not 0 <= reserve <= 1 or remix_de < 0 or unseen_de <= 0:
        raise Refusal("These figures cannot be right.", where="top-up")
    total = sum(part.colour for part in parts)
    made = total * (1 + reserve) - in_hand if mix is None else mix
    if made <= 0:
        return None
    takes = list(likely) if likely is not None else [part.colour for part in parts]
    places = _places(parts, takes, in_hand, made, remix_de if begun else 0.0, remix_de)
    fit = [p for p in places if p.step <= unseen_de]
    chosen = (
        max(fit, key=lambda p: (p.new_group, p.index))
        if fit
        else min(places, key=lambda p: (p.step, not p.new_group))
    )
    return TopUp(
        batch,
        made,
        chosen.old,
        parts[chosen.index],
        chosen.step,
        chosen.new_group,
        _seam(chosen, parts, unseen_de),
    )


@dataclass(frozen=True, slots=True)
class _Place:
    index: int
    old: float
    step: float
    new_group: bool


def _places(
    parts: Sequence[Part],
    takes: Sequence[float],
    in_hand: float,
    mix: float,
    first_de: float,
    remix_de: float,
) -> list[_Place]:
    """Every start of a part that the old colour reaches, with the old colour left there and the step in colour."""
    found = []
    old = in_hand
    for index, part in enumerate(parts):
        new_group = index == 0 or parts[index - 1].group != part.group
        differs = first_de if index == 0 else remix_de
        found.append(_Place(index, old, differs * mix / (mix + old), new_group))
        old -= takes[index]
        if old < 0:
            break
    return found


def _seam(place: _Place, parts: Sequence[Part], unseen_de: float) -> str:
    if place.step <= unseen_de:
        return ""
    if place.index == 0:
        return "What was coated before may show the step. Compare a dry drawdown of the boxed colour with a coated part before going on."
    before, after = parts[place.index - 1], parts[place.index]
    if before.group == after.group:
        return f"{before.name} and {after.name} are side by side and may show the step. Compare a dry drawdown of both before going on."
    return f"The step falls between {before.group} and {after.group}. Compare a dry drawdown of both before going on."
