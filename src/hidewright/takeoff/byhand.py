"""What hands use up (stripper, cleaner, solvent, primer, sundries), learned job by job.

ln(used / forecast) of one job is normal about the shop's own mean, which is normal about nothing; both with half of the starting variance. So a new shop's
spread is the starting one, and each job moves the mean (Gelman et al., Bayesian Data Analysis, 3rd edition, §2.5: normal data with known variance).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from hidewright.refusals import Refusal

from .coats import Assumptions
from .howmuch import STRIPPER_SD, WASH_SD
from .odds import Spread, sigma_of

SUNDRY_SD = 0.35
"""Relative sd of what a rule for sundries tells: a guess to start with, learned from."""
FIGURE = {"stripper": "strip_ml", "cleaner": "clean_ml", "solvent": "wipe_ml", "primer": "prime_ml"}
"""Role → the assumption (mL/m²) that it stands on."""
LEAST, MOST = 0.02, 50.0
"""What is so far from the forecast is a slip of the finger."""


def starting_sd(what: str) -> float:
    """Relative sd before anything was logged, of a role or of a rule for sundries."""
    if what == "stripper":
        return STRIPPER_SD
    if what == "primer":
        return Assumptions().build_sd
    return WASH_SD if what in FIGURE else SUNDRY_SD


@dataclass(frozen=True, slots=True)
class Used:
    """What one job took of a thing: `amount` against the `base` that the starting values gave for the same work; both above nothing."""

    amount: float
    base: float

    def __post_init__(self) -> None:
        if not (self.amount > 0 and self.base > 0):
            raise Refusal("Something was used or nothing was.", where="amount")
        if not LEAST <= self.amount / self.base <= MOST:
            raise Refusal(
                f"{self.amount:g} where {self.base:.3g} was counted on cannot be.",
                where="amount",
                remedy="Check the unit, and for how much of the work it was.",
            )


@dataclass(frozen=True, slots=True)
class ByHand:
    """What was learned of one thing: `factor` against the starting value for the next job, with its spread; from so many `jobs`."""

    factor: Spread
    jobs: int

    @property
    def middle(self) -> float:
        """The factor at the middle."""
        return self.factor.median

    @property
    def low(self) -> float:
        """The factor's lower end, 90 % range of the next job."""
        return self.factor.at(0.05)

    @property
    def high(self) -> float:
        """The factor's upper end."""
        return self.factor.at(0.95)


def learn_by_hand(what: str, jobs: Sequence[Used]) -> ByHand:
    """What so many jobs tell of `what`."""
    share = sigma_of(starting_sd(what)) ** 2 / 2
    logs = [log(job.amount / job.base) for job in jobs]
    variance = 1 / (1 / share + len(logs) / share)
    mean = variance * sum(logs) / share
    return ByHand(Spread(exp(mean), sqrt(variance + share)), len(logs))


def figures_learned(found: Mapping[str, ByHand]) -> dict[str, float]:
    """The assumptions (mL/m²) that follow from what was learned; of what nothing was logged, none."""
    start = Assumptions()
    return {
        FIGURE[what]: round(getattr(start, FIGURE[what]) * learned.middle, 2)
        for what, learned in found.items()
        if what in FIGURE and learned.jobs and getattr(start, FIGURE[what])
    }
