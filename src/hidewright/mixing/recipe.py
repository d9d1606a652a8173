"""A recipe as the bench takes it: parts by volume, scaled to whole µL."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from hidewright.refusals import Refusal

from .amounts import share_out


@dataclass(frozen=True, slots=True)
class MixPart:
    """One part: `share` of the mix by volume (0 < share ≤ 1), `density` g/mL."""

    key: str
    name: str
    share: float
    density: float

    def __post_init__(self) -> None:
        if not self.key:
            raise Refusal("A part of a recipe needs a key.", where="key")
        if not 0 < self.share <= 1:
            raise Refusal(
                f"A share of {self.share:g} cannot be right.", where=self.name, remedy="It lies from 0 to 1."
            )
        if not 0.3 <= self.density <= 10:
            raise Refusal(
                f"A density of {self.density:g} g/mL cannot be right.",
                where=self.name,
                remedy="It lies from 0.3 to 10 g/mL.",
            )


class Poured(Protocol):
    """What a colour recipe's part tells: volume and mass per litre of mix."""

    @property
    def key(self) -> str: ...
    @property
    def name(self) -> str: ...
    @property
    def volume(self) -> float: ...
    @property
    def density(self) -> float: ...


@dataclass(frozen=True, slots=True)
class MixRecipe:
    """Parts in the order of pouring; their shares add up to 1 (within 1e-6)."""

    name: str
    parts: tuple[MixPart, ...]

    def __post_init__(self) -> None:
        if not self.parts:
            raise Refusal("A recipe needs at least one part.", where=self.name)
        keys = [part.key for part in self.parts]
        if len(set(keys)) < len(keys):
            raise Refusal("A recipe names each part once.", where=self.name)
        whole = sum(part.share for part in self.parts)
        if abs(whole - 1) > 1e-6:
            raise Refusal(
                f"The shares add up to {whole:.4f}, not to 1.",
                where=self.name,
                remedy="Write every part, the base too, as a share of the whole mix.",
            )

    def part(self, key: str) -> MixPart:
        """The part of that key; refuses an unknown one."""
        for part in self.parts:
            if part.key == key:
                return part
        raise Refusal(f"The recipe has no part “{key}”.", where=self.name)

    def fractions(self) -> dict[str, Fraction]:
        """The shares as exact fractions that add up to 1."""
        exact = {part.key: Fraction(part.share) for part in self.parts}
        whole = sum(exact.values())
        return {key: value / whole for key, value in exact.items()}

    def amounts(self, total: int) -> dict[str, int]:
        """µL of each part in `total` µL of mix; they add up to `total`."""
        return share_out(total, self.fractions())

    @property
    def density(self) -> float:
        """g/mL of the mix, volumes taken to add up."""
        return sum(part.share * part.density for part in self.parts)


def pouring_order(volumes: Mapping[str, float], first: str) -> list[str]:
    """The keys of parts in the order of pouring: `first` (the base), then from the largest part to the smallest.

    That order is common practice, no source: the part that one drop too many hurts most comes when the eye is on it, and the base
    wets the cup.
    """
    return sorted(volumes, key=lambda key: (key != first, -volumes[key]))


def recipe_of(name: str, parts: Iterable[Poured], *, base: str | None = None) -> MixRecipe:
    """A mix recipe from volumes per litre (as `colour.recipes.Part`), in `pouring_order`.

    `base` names the base's key; without it the last part counts as the base, as the colour stage writes it.
    """
    found = [p for p in parts if p.volume > 0]
    if not found:
        raise Refusal("A recipe needs at least one part.", where=name)
    whole = sum(p.volume for p in found)
    ordered = pouring_order({p.key: p.volume for p in found}, base if base is not None else found[-1].key)
    found.sort(key=lambda p: ordered.index(p.key))
    return MixRecipe(name, tuple(MixPart(p.key, p.name, p.volume / whole, p.density) for p in found))
