"""Pace and drying learned from the shop's own log, log-normal, with what is not yet known kept as a spread.

For each kind of work ln(minutes taken / minutes forecast) is normal with unknown mean and variance; a normal-inverse-gamma prior (Gelman et al., Bayesian Data Analysis, 3rd edition, §3.3,
equations 3.6-3.8) says that the shop's starting values are good to about a third, and each entry moves it. With few entries the forecast stays near the start and its range wide.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import exp, log, sqrt

from hidewright.refusals import Refusal

from .model import Kind
from .routes import PACE, Drying, Pace

SPREAD = 0.30
"""Standard deviation of ln(taken / forecast) from one time to the next, before anything was logged. Common practice, no source."""
DOUBT = 0.35
"""Standard deviation of what the shop's own mean may be off the starting value, in ln. Common practice, no source."""
STRENGTH = 3.0
"""How many entries' worth the starting value of the spread counts."""
LEAST, MOST = 0.02, 50.0
"""Entries so far from the forecast are slips of the finger and are refused."""


@dataclass(frozen=True, slots=True)
class Took:
    """One entry of the log: `minutes` it took, against `forecast` minutes, both above 0; `kind` of work (or what dried)."""

    kind: str
    forecast: float
    minutes: float

    def __post_init__(self) -> None:
        if not (self.forecast > 0 and self.minutes > 0):
            raise Refusal("Minutes are above 0.", where=self.kind, remedy="Enter how long it took.")
        if not LEAST <= self.minutes / self.forecast <= MOST:
            raise Refusal(
                f"{self.minutes:g} min against a forecast of {self.forecast:g} cannot be.",
                where=self.kind,
                remedy="Check the unit: minutes.",
            )


@dataclass(frozen=True, slots=True)
class Learned:
    """What was learned of one kind from `entries` entries.

    `factor` by which the mean of what it takes differs from the starting value; (`low`, `high`) hold the shop's true median factor with 90 % odds;
    (`next_low`, `next_high`) hold the next single time, as a factor, with 90 % odds.
    """

    kind: str
    entries: int
    factor: float
    low: float
    high: float
    next_low: float
    next_high: float

    @property
    def words(self) -> str:
        """“takes 1.25 times the starting value (1.10 to 1.42), from 18 entries”."""
        if not self.entries:
            return "the usual figure; nothing logged yet"
        plural = "entries" if self.entries > 1 else "entry"
        return f"takes {self.factor:.2f} times the usual figure ({self.low:.2f} to {self.high:.2f}), from {self.entries} {plural}"


def learn(kind: str, entries: Iterable[Took]) -> Learned:
    """Learn one kind from its entries (those of other kinds are left out)."""
    from scipy.special import stdtrit

    logs = [log(e.minutes / e.forecast) for e in entries if e.kind == kind]
    n = len(logs)
    kappa = SPREAD**2 / DOUBT**2
    alpha = 1 + STRENGTH / 2
    beta = (alpha - 1) * SPREAD**2
    start = -(SPREAD**2 + DOUBT**2) / 2
    mean = sum(logs) / n if n else 0.0
    squares = sum((x - mean) ** 2 for x in logs)
    kappa_n = kappa + n
    centre = (kappa * start + n * mean) / kappa_n
    alpha_n = alpha + n / 2
    beta_n = beta + squares / 2 + kappa * n * (mean - start) ** 2 / (2 * kappa_n)
    variance = beta_n / (alpha_n - 1)
    reach = float(stdtrit(2 * alpha_n, 0.95))
    doubt = reach * sqrt(beta_n / (alpha_n * kappa_n))
    next_ = reach * sqrt(beta_n * (kappa_n + 1) / (alpha_n * kappa_n))
    factor = exp(centre + variance * (1 + 1 / kappa_n) / 2)
    return Learned(
        kind,
        n,
        factor if n else 1.0,
        exp(centre - doubt),
        exp(centre + doubt),
        exp(centre - next_),
        exp(centre + next_),
    )


def learn_pace(
    entries: Iterable[Took], prior: Mapping[Kind, Pace] = PACE
) -> tuple[dict[Kind, Pace], dict[Kind, Learned]]:
    """The shop's own pace, and what was learned of each kind. Kinds without an entry keep their starting value."""
    log_ = list(entries)
    learned = {kind: learn(str(kind), log_) for kind in prior}
    paces = {
        kind: Pace(pace.fixed * learned[kind].factor, pace.per_m2 * learned[kind].factor)
        for kind, pace in prior.items()
    }
    return paces, learned


DRYING = ("strip", "clean", "repair", "wiped", "prime", "colour", "cure")
"""What dries, as named in `Drying`."""


def learn_drying(entries: Iterable[Took], prior: Drying | None = None) -> tuple[Drying, dict[str, Learned]]:
    """The shop's own drying times from entries whose `kind` is one of `DRYING`: how long it really took until it could be worked on.

    A time is lengthened by what the log says and shortened only as far as the upper end of the median's range, since touching wet work costs more than waiting; an entry
    that says what was expected changes nothing.
    """
    log_ = list(entries)
    drying = prior or Drying()
    learned = {name: learn(name, log_) for name in DRYING}
    times = {
        name: getattr(drying, name) * max(found.factor, min(found.high, 1.0))
        for name, found in learned.items()
        if found.entries
    }
    return replace(drying, **times), learned
