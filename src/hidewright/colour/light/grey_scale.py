"""The grey scale for assessing change in colour, EN 20105-A02:1994: a CIELAB difference as a grade from 5 (none) down to 1."""

import math

from hidewright.refusals import Refusal

STEPS = (
    ("5", 0.0, 0.2),
    ("4-5", 0.8, 0.2),
    ("4", 1.7, 0.3),
    ("3-4", 2.5, 0.35),
    ("3", 3.4, 0.4),
    ("2-3", 4.8, 0.5),
    ("2", 6.8, 0.6),
    ("1-2", 9.6, 0.7),
    ("1", 13.6, 1.0),
)
"""Grade, its CIELAB difference, and the tolerance of the scale itself (EN 20105-A02:1994, table; grade 5's tolerance is +0.2)."""


def grade(delta_e_ab: float) -> str:
    """The grade whose step is nearest to a CIELAB 1976 difference (0 or more); "1" for anything larger than its step.

    For telling how far two colours are apart in the trade's words. A person with the card itself judges.
    """
    if not math.isfinite(delta_e_ab) or delta_e_ab < 0:
        raise Refusal(f"A colour difference of {delta_e_ab} cannot be.", where="grey scale")
    return min(STEPS, key=lambda step: abs(step[1] - delta_e_ab))[0]
