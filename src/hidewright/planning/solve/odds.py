"""The odds of the last day: a foreman of our own runs the days many times, each with other paces, snags, absences and weather, and deals the work out anew every morning.

Common practice, no source: the spreads are starting values. The pace of each piece of work scatters, and a bias is shared by all work of a job: whoever is slower than thought is slower all along.
"""

import random
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from math import exp, log, sqrt

from hidewright.refusals import Refusal

from ..problem.calendar import DAY, Stretch
from ..problem.model import Operation
from .lister import foreman_of
from .policy import Policy
from .runs import MORNING, Chances, Follow, Start
from .steps import Shop

FEWEST = 20
"""Of fewer runs no odds are read."""


@dataclass(frozen=True, slots=True)
class Spreads:
    """How things scatter: `pace` the spread (standard deviation over mean) of single pieces of work, `bias` that of all work of a job together, `logged` how many jobs the shop has logged
    (each narrows the bias), `snags` the share 0..1 of pieces that must go again, `absence` the share of a person's days away, `weather` the spread of drying from day to day."""

    pace: float = 0.25
    bias: float = 0.15
    logged: int = 0
    snags: float = 0.03
    absence: float = 0.02
    weather: float = 0.15

    def __post_init__(self) -> None:
        for words, value, most in (
            ("pace", self.pace, 2.0),
            ("bias", self.bias, 2.0),
            ("snags", self.snags, 0.5),
            ("absence", self.absence, 0.5),
            ("weather", self.weather, 2.0),
        ):
            if not 0 <= value <= most:
                raise Refusal(
                    f"A spread of {value:g} cannot be.", where=words, remedy=f"Enter 0 to {most:g}."
                )
        if self.logged < 0:
            raise Refusal("Fewer than no jobs were logged.", where="logged")

    @property
    def shared(self) -> float:
        """The bias that is left after what was logged: each job logged is one reading of it."""
        return self.bias / sqrt(1 + self.logged)


TIMES = (
    (0.95, "nineteen times in twenty"),
    (0.9, "nine times in ten"),
    (0.8, "four times in five"),
    (0.75, "three times in four"),
    (2 / 3, "two times in three"),
    (0.6, "six times in ten"),
    (0.0, "one time in two"),
)
"""Chances in words, each said from there on up."""
NEAR = 0.02
"""By so much less a chance may be and is still said so: that of some twenty runs is known no better."""


def times(chance: float) -> str:
    """A chance of a half or more in words, "three times in four"; rounded down, so that it holds at least so often."""
    return next(words for least, words in TIMES if chance + NEAR >= least)


@dataclass(frozen=True, slots=True)
class Odds:
    """`days` the last day in each run, in order; likely and sure days are read off it."""

    days: tuple[date, ...]

    def by(self, chance: float) -> date:
        """The day by which it is done with that chance, 0 < chance ≤ 1."""
        if not 0 < chance <= 1:
            raise Refusal(f"A chance of {chance:g} cannot be.", remedy="It lies above 0, up to 1.")
        return self.days[min(len(self.days) - 1, max(0, round(chance * len(self.days) + 0.499) - 1))]

    def chance(self, day: date) -> float:
        """The chance 0..1 that it is done by `day`; never quite 0 or 1, since so many runs cannot say so."""
        within = sum(1 for each in self.days if each <= day)
        return (within + 0.5) / (len(self.days) + 1)

    @property
    def likely(self) -> date:
        """The first day by which it is done one time in two or more often: days are whole, and its own chance is mostly more."""
        return self.by(0.5)

    @property
    def sure(self) -> date:
        """The first day by which it is done nine times in ten or more often."""
        return self.by(0.9)

    @property
    def likely_times(self) -> str:
        """How often it is done by the likely day, in words."""
        return times(self.chance(self.likely))

    @property
    def sure_times(self) -> str:
        """How often it is done by the sure day, in words."""
        return times(self.chance(self.sure))


@lru_cache
def _sigma(spread: float) -> float:
    """The standard deviation of the logarithm."""
    return sqrt(log(1 + spread * spread))


def factor(rng: random.Random, spread: float) -> float:
    """A log-normal factor with mean 1 and this standard deviation."""
    if spread <= 0:
        return 1.0
    sigma = _sigma(spread)
    return exp(rng.gauss(-sigma * sigma / 2, sigma))


def chances(shop: Shop, spreads: Spreads, rng: random.Random, until: int | None = None) -> Chances:
    """What happens in one run; with `until` the hours end there."""
    shared = factor(rng, spreads.shared)
    all_hours = shop.hours if until is None else [_before(each, until) for each in shop.hours]
    hours = [_there(stretches, spreads.absence, rng) for stretches in all_hours]
    weather: dict[int, float] = {}

    def took(operation: Operation, _person: int, _minute: int) -> int:
        return max(1, round(operation.minutes * shared * factor(rng, spreads.pace)))

    def dries(minutes: int, minute: int) -> int:
        day = minute // DAY
        if day not in weather:
            weather[day] = factor(rng, spreads.weather)
        return round(minutes * weather[day])

    def fails(_piece: int) -> bool:
        return rng.random() < spreads.snags

    return Chances(took, dries, fails, hours)


def _before(stretches: tuple[Stretch, ...], until: int) -> tuple[Stretch, ...]:
    return stretches[: bisect_left(stretches, (until, 0))]


def _there(stretches: Sequence[Stretch], absence: float, rng: random.Random) -> tuple[Stretch, ...]:
    away = {day for day in {a // DAY for a, _ in stretches} if rng.random() < absence}
    return tuple(s for s in stretches if s[0] // DAY not in away)


def odds_of(
    shop: Shop,
    policy: Policy,
    spreads: Spreads,
    *,
    start: Start = MORNING,
    runs: int = 60,
    seed: int = 0,
    follow: Follow | None = None,
    least: int = FEWEST,
    should_stop: Callable[[], bool] = lambda: False,
) -> Odds | None:
    """The odds of the last day when the shop is run under this policy, or follows a plan: of `runs` runs, or of as many as there was time for, never fewer than `least`; None when the work does not end within
    the calendar in more than half of them."""
    days: list[date] = []
    tried = 0
    for number in range(max(runs, least)):
        if number >= least and should_stop():
            break
        tried += 1
        rng = random.Random(f"{seed} {number}")
        try:
            run = foreman_of(shop, policy, start, happens=chances(shop, spreads, rng), follow=follow).run()
        except Refusal:
            continue
        if run is not None:
            days.append(shop.problem.calendar.day(run.finish))
    return Odds(tuple(sorted(days))) if 2 * len(days) > tried else None
