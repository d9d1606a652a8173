"""What hands used up as values: the log of stripper, cleaner, solvent, primer and sundries, and what the shop learned of it."""

from collections.abc import Mapping
from dataclasses import dataclass

from hidewright.takeoff.byhand import FIGURE, ByHand, Used, learn_by_hand
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.howmuch import Takeoff
from hidewright.takeoff.sundries import RULES, rules_with
from hidewright.workshop.quantities.models import HandUse
from hidewright.workshop.shelf.queries import ROLE_WORDS
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

ROLES = tuple(FIGURE)
"""The roles of products that hands use up."""


@remembered
def learned() -> dict[str, ByHand]:
    """Role or rule → what every job's log tells of it; a job counts once for each thing."""
    sums: dict[tuple[str, int], tuple[float, float]] = {}
    for what, job, amount, base in HandUse.objects.filter(struck=None).values_list(
        "what", "job", "amount", "base"
    ):
        was = sums.get((what, job), (0.0, 0.0))
        sums[what, job] = (was[0] + amount, was[1] + base)
    jobs: dict[str, list[Used]] = {}
    for (what, _), (amount, base) in sums.items():
        jobs.setdefault(what, []).append(Used(amount, base))
    return {what: learn_by_hand(what, found) for what, found in jobs.items()}


def spreads(found: Mapping[str, ByHand]) -> dict[str, float]:
    """Role → relative sd of what the next job takes, where something was learned."""
    return {what: each.factor.sigma for what, each in found.items() if what in ROLES}


@remembered
def shares(job: Job) -> dict[str, float]:
    """Role or rule → the share of the job's work that was logged, at most 1."""
    found: dict[str, float] = {}
    for what, share in HandUse.objects.filter(job=job, struck=None).values_list("what", "share"):
        found[what] = min(1.0, found.get(what, 0.0) + share)
    return found


def rule_amounts(set_here: Mapping[str, float]) -> dict[str, float]:
    """Rule → its amount: what the shop set, else what it learned; a rule left out follows its starting value."""
    told = learned()
    found = {rule.key: round(rule.amount * told[rule.key].middle, 3) for rule in RULES if rule.key in told}
    return {**found, **set_here}


def choices(takeoff: Takeoff) -> list[tuple[str, str]]:
    """What can be logged: (role or rule, words)."""
    roles = [(role, f"{ROLE_WORDS[role]} (mL)") for role in ROLES if base_of(takeoff, {}, role)]
    return [*roles, *((rule.key, f"{rule.what} ({rule.unit})") for rule in RULES)]


def base_of(takeoff: Takeoff, work: Mapping[str, float], what: str) -> float:
    """What the whole job takes of a thing by the starting values: mL of a role, or units of a rule."""
    if what in FIGURE:
        need = getattr(takeoff, what)
        now = getattr(takeoff.assumed, FIGURE[what])
        return float(need.p50 * getattr(Assumptions(), FIGURE[what]) / now) if now else 0.0
    rule = next(rule for rule in rules_with({}) if rule.key == what)
    return rule.amount * work[rule.per]


@dataclass(frozen=True, slots=True)
class Line:
    """A logged use as it is shown: words, unit, and its factor against the starting value."""

    row: HandUse
    words: str
    unit: str

    @property
    def factor(self) -> float:
        """Against the starting value."""
        return self.row.amount / self.row.base

    @property
    def percent(self) -> float:
        """Of the job's work."""
        return 100 * self.row.share


@dataclass(frozen=True, slots=True)
class Lesson:
    """What was learned of one thing, in words."""

    words: str
    found: ByHand


def named(what: str) -> tuple[str, str]:
    """(words, unit) of a role or rule."""
    if what in ROLE_WORDS:
        return ROLE_WORDS[what], "mL"
    rule = next((rule for rule in RULES if rule.key == what), None)
    return (rule.what, rule.unit) if rule else (what, "")


def lines(job: Job) -> list[Line]:
    """The job's log, newest first, struck entries too."""
    rows = HandUse.objects.filter(job=job).select_related("lot").order_by("-id")
    return [Line(row, *named(row.what)) for row in rows]


def lessons() -> list[Lesson]:
    """What the shop learned, in the order of use."""
    found = learned()
    order = [*ROLES, *(rule.key for rule in RULES)]
    return [Lesson(named(what)[0], found[what]) for what in order if what in found]
