"""The search over policies: many runs of the foreman under other settings and piece weights, keeping the best; each run keeps every rule of the room."""

import random
from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from hidewright.refusals import Refusal

from ..problem.calendar import DAY
from .foreman import Foreman
from .policy import Policy
from .runs import MORNING, Run, Start
from .steps import Shop

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


OPENS = ((-1, 0), (120,), (180,), (-1, 60, 0), (-1, 120), (60,), (-1, -1, 0), (0,))
"""When the wave of each day opens, in the policies that are tried before those by chance."""


def grid() -> Iterator[Policy]:
    """Policies that differ in what matters most: when the wave opens, what comes before it, and whether two people share one kind of work."""
    for opens in OPENS:
        for first, split in ((1010.0, 100.0), (650.0, 0.0), (650.0, 100.0), (1010.0, 0.0)):
            yield replace(FIRST[0], opens=opens, first=first, split=split)


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
            run = Foreman(self.shop, policy, self.start).run(None if limit is None else limit.__lt__)
        except Refusal:
            return None
        return None if run is None else Tried(self.score(run), run, policy)

    def chance(self) -> Policy:
        """A policy by chance."""
        rng = self.rng
        base = rng.choice((0, 60, 120, 180))
        days = [rng.choice((-1, base, base, rng.randrange(0, 300, 30))) for _ in range(rng.randint(1, 5))]
        spread = rng.choice((0.0, 100.0, 400.0))
        return Policy(
            opens=(*days, rng.choice((0, 0, 60, 120))),
            span=rng.uniform(0.9, 1.3),
            ahead=rng.choice((0.0, 0.1, 0.2, 0.3, 0.5, 0.8)),
            prep=rng.choice((0.2, 0.4, 0.6, 0.8, 1.0)),
            gun_at=rng.choice((10, 20, 30, 45, 60, 90)),
            least=rng.choice((12, 15, 20)),
            turned=rng.choice((-300.0, 0.0, 300.0)),
            small=rng.choice((-200.0, 0.0, 200.0)),
            like=rng.choice((0.0, 1.0, 10.0)),
            late=rng.choice((0, 30, 60, 90, 120, 180)),
            first=rng.choice((500.0, 650.0, 650.0, 950.0, 1010.0, 1030.0)),
            split=rng.choice((0.0, 50.0, 100.0, 400.0)),
            best_fit=rng.random() < 0.5,
            weights=tuple(rng.gauss(0, spread) for _ in self.shop.jobs) if spread else (),
        )

    def neighbour(self, policy: Policy) -> Policy:
        """A policy near this one: one or two settings, the opening of a day, or the weights of a few pieces are others."""
        rng = self.rng
        for _ in range(rng.choice((1, 1, 2))):
            policy = self._one_other(policy, rng.random())
        return policy

    def _one_other(self, policy: Policy, what: float) -> Policy:
        rng = self.rng
        if what < 0.25:
            opens = list(policy.opens)
            if len(opens) < 12 and rng.random() < 0.4:
                opens.append(opens[-1])
            opens[rng.randrange(len(opens))] = rng.choice((-1, 0, 0, 30, 60, 90, 120, 180, 240))
            return replace(policy, opens=tuple(opens))
        if what < 0.4:
            return replace(policy, span=min(1.6, max(0.8, policy.span + rng.gauss(0, 0.08))))
        if what < 0.5:
            return replace(policy, ahead=min(1.0, max(0.0, policy.ahead + rng.gauss(0, 0.15))))
        if what < 0.6:
            return replace(policy, prep=min(1.0, max(0.0, policy.prep + rng.gauss(0, 0.2))))
        if what < 0.8:
            weights = list(policy.weights or (0.0,) * len(self.shop.jobs))
            for piece in rng.sample(range(len(weights)), min(len(weights), rng.choice((1, 2, 4, 8)))):
                weights[piece] += rng.gauss(0, 300.0)
            return replace(policy, weights=tuple(weights))
        setting = rng.choice(
            ("gun_at", "late", "first", "split", "turned", "small", "like", "best_fit", "least")
        )
        other = self.chance()
        return replace(policy, **{setting: getattr(other, setting)})

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


def _changes(run: Run) -> int:
    """How often somebody goes from one kind of work to another."""
    last: dict[int, str] = {}
    count = 0
    for done in run.done:
        kind = str(done.operation.kind)
        if last.get(done.person) != kind:
            count += 1
        last[done.person] = kind
    return count
