"""Amounts: whole microlitres, and sharing them out so that the shares add up to the whole."""

from collections.abc import Hashable, Mapping
from fractions import Fraction
from math import isfinite
from typing import TypeVar

from hidewright.refusals import Refusal

UL = 1000
"""µL in a mL."""
MOST_UL = 10**12
"""A thousand cubic metres would be a slip of the finger: the ledger takes up to 1000 L at once."""

Key = TypeVar("Key", bound=Hashable)


def microlitres(millilitres: float, *, where: str = "volume") -> int:
    """Whole µL of a volume in mL, rounded half to even; refuses what is no volume (negative, not finite, over 1000 L)."""
    if not isfinite(millilitres) or millilitres < 0 or millilitres * UL > 10**9:
        raise Refusal(f"{millilitres:,.6g} mL is no volume.", where=where, remedy="Write 0 mL to 1000 L.")
    return round(millilitres * UL)


def some_microlitres(millilitres: float, *, where: str = "volume") -> int:
    """Whole µL of a volume in mL that holds something: refuses what `microlitres` refuses, and what comes to less than a microlitre."""
    amount = microlitres(millilitres, where=where)
    if amount < 1:
        raise Refusal(
            f"{millilitres:,.6g} mL is nothing that can be poured.",
            where=where,
            remedy="Write more than nothing.",
        )
    return amount


def millilitres(amount: int) -> float:
    """A volume in mL of whole µL."""
    return amount / UL


def microlitres_of_mass(grams: float, density: float, *, where: str = "mass") -> int:
    """Whole µL of a mass in g at `density` g/mL."""
    if not isfinite(grams) or grams < 0:
        raise Refusal(f"{grams:,.6g} g cannot be weighed.", where=where, remedy="Write the grams poured.")
    if not 0.3 <= density <= 10:
        raise Refusal(
            f"A density of {density:g} g/mL cannot be right.", where=where, remedy="It lies from 0.3 to 10."
        )
    return microlitres(grams / density, where=where)


def share_out(total: int, weights: Mapping[Key, int | Fraction]) -> dict[Key, int]:
    """Share `total` (µL) out in proportion to `weights` (none negative), by largest remainder: the shares add up exactly.

    No share of whole-numbered weights exceeds its weight when `total` does not exceed their sum, so that taking a part out of a cup
    never takes more of a thing than is in it. Ties go to the first key.
    """
    whole = sum(weights.values(), Fraction(0))
    if total < 0 or whole <= 0 or any(weight < 0 for weight in weights.values()):
        raise Refusal("There is nothing to share out.", where="volume")
    exact = {key: Fraction(weight) * total / whole for key, weight in weights.items()}
    shares = {key: int(value) for key, value in exact.items()}
    left = total - sum(shares.values())
    by_rest = sorted(exact, key=lambda key: shares[key] - exact[key])
    for key in by_rest[:left]:
        shares[key] += 1
    return shares
