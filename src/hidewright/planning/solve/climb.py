"""The search over policies: many runs of the foreman under other settings and piece weights, keeping the best; each run keeps every rule of the room."""

import random
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from hidewright.refusals import Refusal

from ..problem.calendar import DAY
from ..problem.kinds import Kind
from .lister import foreman_of
from .moves import Moves
from .policy import Listing, Policy
from .runs import MORNING, Run, Start
from .steps import Shop, block_of

Try = TypeVar("Try")

FIRST = (
    Policy(opens=(0, -1, 0), span=1.05, ahead=0.2, prep=0.4, gun_at=20, late=180, first=1010.0, split=100.0),
    Policy(opens=(-1, 0, 0, 0, 120), span=1.1, ahead=0.5, prep=0.3, gun_at=45, late=60, turned=300.0),
    Policy(opens=(-1, 120), span=1.1, ahead=0.3, prep=0.5, gun_at=30, late=120, first=1010.0, split=50.0),
    Policy(opens=(-1, 120), span=1.05, ahead=0.2, prep=0.5, gun_at=20, late=180, first=650.0, split=100.0),
    Policy(opens=(120,), span=1.2, ahead=0.2, prep=0.5, gun_at=30, late=90, first=950.0),
    Policy(
        opens=(0,),
        span=1.1,
        ahead=0.0,
        prep=0.2,
        gun_at=30,
        late=180,
        first=1010.0,
        split=100.0,
        turned=-300.0,
    ),
)
"""Policies that are tried first."""


SHORT = 5
"""min; a block of work up to so long is hardly begun before it ends."""


@dataclass(frozen=True, slots=True)
class Tried:
    """A run with the policy that made it and its `score` in hours: smaller is better."""

    score: float
    run: Run
    policy: Policy


class Climber:
    """Runs policies on a shop and scores what comes out."""

    def __init__(self, shop: Shop, rng: random.Random, start: Start = MORNING) -> None:
        self.shop, self.rng, self.start = shop, rng, start
        self.moves = Moves(len(shop.jobs), rng)
        self.openings = [day.opening for day in shop.days]
        self.before = [0]
        for day in shop.days:
            self.before.append(self.before[-1] + day.minutes)

    def worked(self, minute: int) -> float:
        """Open hours before a minute."""
        index = bisect_right(self.openings, minute) - 1
        if index < 0:
            return 0.0
        day = self.shop.days[index]
        return (self.before[index] + day.minutes - day.left(minute)) / 60

    def score(self, run: Run) -> float:
        """Open hours until all is done, a tenth of the mean, and what each change of work and each late piece costs."""
        finish = self.worked(run.finish)
        mean = sum(self.worked(ended) for ended in run.ended) / max(1, len(run.ended))
        calendar = self.shop.problem.calendar
        late = sum(
            max(0.0, run.ended[n] - calendar.end_of(job.due)) / DAY
            for n, job in enumerate(self.shop.jobs)
            if job.due is not None
        )
        return finish + 0.1 * mean + 0.04 * _changes(run) + 20.0 * late

    def try_out(self, policy: Policy, limit: int | None = None) -> Tried | None:
        """One run; None when it goes on after `limit`, or never ends."""
        try:
            run = foreman_of(self.shop, policy, self.start).run(None if limit is None else limit.__lt__)
        except Refusal:
            return None
        return None if run is None else Tried(self.score(run), run, policy)

    def chance(self, best: Policy | None) -> Policy:
        """A policy by chance: a list more often where the best so far is one."""
        return self.moves.chance(0.8 if isinstance(best, Listing) else 0.5)

    def pick(self, pool: Sequence[Try]) -> Try:
        """One of the tries, which are given best first: the better, the more often."""
        return pool[min(len(pool) - 1, int(self.rng.expovariate(1.2)))]

    def neighbour(self, policy: Policy) -> Policy:
        """A policy near this one."""
        return self.moves.neighbour(policy)

    def climb(self, tried: Tried, rounds: int, stop: Callable[[], bool]) -> Iterator[Tried]:
        """Each better run found near this one."""
        best = tried
        for _ in range(rounds):
            if stop():
                return
            other = self.try_out(self.neighbour(best.policy), best.run.finish + DAY)
            if other is not None and other.score < best.score:
                best = other
                yield best


def _changes(run: Run) -> float:
    """How often somebody goes from one kind of work to another on a day; what is over within `SHORT` counts thrice."""
    at: dict[int, tuple[Kind, int, int]] = {}
    count = 0.0
    for done in run.done:
        kind, day = block_of(done.operation.kind), done.start // DAY
        last = at.get(done.person)
        minutes = done.end - done.start
        if last is not None and last[:2] == (kind, day):
            at[done.person] = (kind, day, last[2] + minutes)
            continue
        count += 1 + 2 * (last is not None and last[2] <= SHORT)
        at[done.person] = (kind, day, minutes)
    return count + sum(2 for _, _, minutes in at.values() if minutes <= SHORT)


def order_of(run: Run, policy: Policy) -> Listing:
    """The list that has the order of this run: each work comes when it came there."""
    starts = {done.operation.key: done.start for done in run.done}
    return Listing(starts=starts, best_fit=policy.best_fit, least=0, turned=0.0, small=0.0, like=0.0)
