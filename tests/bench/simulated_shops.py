"""Simulated shops: how long work really takes there, against the minutes on paper.

All work of a job is slower or faster by a bias (log-normal, mean 1, coefficient of variation .15) and each single time varies by itself (.25): `EACH_TIME`. In `EACH_KIND` a shop has, besides, a pace of
its own for each kind of work (.25), the same in all its jobs. In `SHOPS_BIAS` the bias belongs to the shop, so that jobs that were logged teach it; else each job has its own. The same seed gives the same shop.
"""

import random
from dataclasses import dataclass
from math import exp, log, sqrt

from .foreman import StuckError
from .readings import Reading, read
from .records import Op, Record, Shop


@dataclass(frozen=True, slots=True)
class Spread:
    """Coefficients of variation: of a shop's pace `by_kind` and `shop_wide`, of a `job`, and of a single `time`."""

    by_kind: float = 0.0
    shop_wide: float = 0.0
    job: float = 0.15
    time: float = 0.25


EACH_TIME = Spread()
EACH_KIND = Spread(by_kind=0.25)
SHOPS_BIAS = Spread(shop_wide=0.15, job=0.0)


def drawn(rng: random.Random, cv: float) -> float:
    """A log-normal factor with mean 1."""
    sigma = sqrt(log(1 + cv * cv))
    return exp(rng.gauss(-sigma * sigma / 2, sigma))


class SimulatedShop:
    """One shop with its own pace, drawn from a seed."""

    def __init__(self, seed: int, spread: Spread = EACH_TIME) -> None:
        self.seed = seed
        self.spread = spread
        self.wide = drawn(random.Random(f"shop {seed}"), spread.shop_wide)

    def pace(self, kind: str) -> float:
        """How long this kind of work takes here, against the minutes on paper."""
        return self.wide * drawn(random.Random(f"pace {self.seed} {kind}"), self.spread.by_kind)

    def job(self, number: int = 0) -> "SimulatedJob":
        """One of its jobs."""
        return SimulatedJob(self, number)


class SimulatedJob:
    """One job in a shop: calling it with an operation gives the minutes that it really takes, whole and 1 or more."""

    def __init__(self, shop: SimulatedShop, number: int) -> None:
        self.shop = shop
        self.bias = drawn(random.Random(f"job {shop.seed} {number}"), shop.spread.job)
        self.number = number
        self.paces: dict[str, float] = {}

    def factor(self, op: Op) -> float:
        """What its minutes on paper are to be multiplied by."""
        pace = self.paces.setdefault(op.kind, self.shop.pace(op.kind))
        single = random.Random(f"time {self.shop.seed} {self.number} {op.key}")
        return pace * self.bias * drawn(single, self.shop.spread.time)

    def __call__(self, op: Op) -> int:
        """Minutes that it really takes."""
        return max(1, round(op.minutes * self.factor(op)))


def last_days(
    shop: Shop, plan: Record, reading: Reading, count: int, spread: Spread = EACH_TIME
) -> list[int]:
    """On which minute the plan ends when it is carried out in so many simulated shops."""
    found = []
    for seed in range(count):
        try:
            found.append(read(shop, plan, reading, minutes=SimulatedShop(seed, spread).job()).record.finish)
        except StuckError:
            found.append(10**9)
    return found
