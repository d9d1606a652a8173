"""Other ways of running the days: policies by chance, and policies near one that is there. The search (`climb`) tries them."""

import random
from dataclasses import replace

from ..problem.kinds import Kind
from .policy import LISTS, Listing, Policy

KINDS = tuple(str(kind) for kind in Kind)
DAY_WORK = 510.0
"""min by which pieces are shifted in the order of a plan when they go a day earlier or later."""


class Moves:
    """Policies for a shop of `pieces` pieces."""

    def __init__(self, pieces: int, rng: random.Random) -> None:
        self.pieces, self.rng = pieces, rng

    def chance(self, lists: float) -> Policy:
        """A policy by chance; a list with chance `lists` (0..1)."""
        return self.a_list() if self.rng.random() < lists else self.a_wave()

    def a_wave(self) -> Policy:
        """A policy of waves by chance."""
        rng = self.rng
        base = rng.choice((0, 60, 120, 180))
        days = [rng.choice((-1, base, base, rng.randrange(0, 300, 30))) for _ in range(rng.randint(1, 5))]
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
            weights=self._weights(rng.choice((0.0, 100.0, 400.0))),
        )

    def a_list(self) -> Listing:
        """A list by chance."""
        rng = self.rng
        stages = tuple((kind, rng.gauss(0, 3.0)) for kind in KINDS) if rng.random() < 0.5 else ()
        return replace(
            rng.choice(LISTS),
            fits=rng.choice((0.0, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5)),
            least=rng.choice((0, 0, 10, 15, 20)),
            small=rng.choice((-100.0, 0.0, 100.0, 300.0)),
            turned=rng.choice((-300.0, 0.0, 300.0, 1000.0)),
            best_fit=rng.random() < 0.7,
            wave=rng.random() < 0.4,
            prep_days=rng.choice((0, 0, 0, 1, 2)),
            barrier=rng.random() < 0.3,
            back=rng.random() < 0.4,
            stages=stages,
            weights=self._weights(rng.choice((0.0, 0.0, 100.0, 400.0))),
        )

    def _weights(self, spread: float) -> tuple[float, ...]:
        return tuple(self.rng.gauss(0, spread) for _ in range(self.pieces)) if spread else ()

    def neighbour(self, policy: Policy) -> Policy:
        """A policy near this one: one or two settings, the opening of a day, or the weights of a few pieces are others."""
        for _ in range(self.rng.choice((1, 1, 2))):
            policy = self._near_list(policy) if isinstance(policy, Listing) else self._near_wave(policy)
        return policy

    def _near_wave(self, policy: Policy) -> Policy:
        rng, what = self.rng, self.rng.random()
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
            return replace(policy, weights=self._other_weights(policy, 300.0))
        other = self.a_wave()
        setting = rng.choice(
            ("gun_at", "late", "first", "split", "turned", "small", "like", "best_fit", "least")
        )
        return replace(policy, **{setting: getattr(other, setting)})

    def _near_list(self, policy: Listing) -> Listing:
        rng, what = self.rng, self.rng.random()
        if what < 0.45 or policy.starts:
            return replace(policy, weights=self._other_weights(policy, 300.0 if what < 0.3 else DAY_WORK))
        if what < 0.65:
            stages = dict(policy.stages or ((kind, 0.0) for kind in KINDS))
            for kind in rng.sample(KINDS, rng.choice((1, 1, 2))):
                stages[kind] = stages.get(kind, 0.0) + rng.gauss(0, 3.0)
            return replace(policy, stages=tuple(stages.items()))
        other = self.a_list()
        setting = rng.choice(
            (
                "fits",
                "fits",
                "least",
                "small",
                "turned",
                "best_fit",
                "wave",
                "prep_days",
                "barrier",
                "stick",
                "back",
            )
        )
        return replace(policy, **{setting: getattr(other, setting)})

    def _other_weights(self, policy: Policy, spread: float) -> tuple[float, ...]:
        rng = self.rng
        weights = list(policy.weights or (0.0,) * self.pieces)
        for piece in rng.sample(range(len(weights)), min(len(weights), rng.choice((1, 2, 4, 8)))):
            weights[piece] += rng.gauss(0, spread)
        return tuple(weights)
