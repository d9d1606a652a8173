"""What counts now: which work is allowed, how much it counts for these hands, and whether it is worth beginning."""

from collections.abc import Sequence

from ..problem.model import Held
from .hands import Hands
from .morning import AGAIN, Morning
from .runs import NEVER
from .steps import BEFORE, PRIMER, Group, Step

URGENT = 950.0
"""How much work counts for which other pieces wait, of whatever kind it is: just less than the wave of coats."""


class Choice(Morning):
    """Choosing among the work that waits."""

    def _score(self, group: Group, number: int, air: int, hands: Hands, now: int) -> float | None:
        """How much this work counts now; None when it must not be done now."""
        base = 0.0
        level = group.level
        if group.end:
            base = 200.0
        elif group.wave:
            return self._wave_score(group, number, air, hands, now)
        elif level is None:
            base = self._prep_score(group, air, now)
            if base < 0:
                return None
            if number in self.shop.urgent:
                base = URGENT
        elif air >= 0 or any(now < wave.closes and wave.level() <= 0 for wave in self.waves):
            base = self.policy.first
        else:
            base = 500.0
        if hands.block == number:
            base += 350.0 if base < 900 else 100.0
        else:
            base -= self._crowd(number, hands)
            if hands.family == group.families[0]:
                base += 60.0
        return base

    def _planned_score(
        self, number: int, pieces: Sequence[tuple[float, int]], person: int, hands: Hands
    ) -> float:
        """What was planned first goes first, among what these hands were to do; the same work goes on."""
        assert self.follow is not None
        mine = next((prio for prio, piece in pieces if self._mine(piece, person)), pieces[0][0] + 1e6)
        return 1e9 - mine + (5.0 if hands.block == number else 0.0)

    def _mine(self, piece: int, person: int) -> bool:
        assert self.follow is not None
        key = self.steps[piece][self.next[piece]].operations[0].key
        return self.follow.people.get(key, person) == person

    def _left_to_other(self, piece: int, person: int, now: int) -> bool:
        """Whether this is left to somebody else, who was to do it and is there today."""
        follow = self.follow
        if follow is None or piece in follow.loose or self.today is None:
            return False
        key = self.steps[piece][self.next[piece]].operations[0].key
        other = follow.people.get(key, person)
        if other == person or now > max(follow.starts.get(key, 0), self.ready_at[piece]) + follow.wait:
            return False
        return any(a < self.today.closing and b > now for a, b in self.hours[other])

    def _crowd(self, number: int, hands: Hands) -> float:
        """By how much work counts less since somebody else is at it."""
        if self.policy.split and any(
            h.block == number and h is not hands and h.day == self.day for h in self.hands
        ):
            return self.policy.split
        return 0.0

    def _prep_score(self, group: Group, air: int, now: int) -> float:
        if not group.dusty:
            return 590.0 if group.kinds[0] == "clean" else 560.0
        airs = range(len(self.waves)) if air < 0 else (air,)
        return 600.0 if any(self._dust_ok(a, now, group) for a in airs) else -1.0

    def _dust_ok(self, air: int, now: int, group: Group) -> bool:
        if now < self.wet[air] or self.under[air]:
            return False
        return now < self.opens or not self._wave_left(air)

    def _wave_left(self, air: int) -> bool:
        """Whether somebody waits for the wave of today in this air."""
        return any(level >= BEFORE for level in self.waves[air].members.values())

    def _wave_score(self, group: Group, number: int, air: int, hands: Hands, now: int) -> float | None:
        assert group.level is not None
        if now < self.opens and self._dusty_to_do(now):
            return None
        airs = range(len(self.waves)) if air < 0 else (air,)
        for a in airs:
            wave = self.waves[a]
            lowest = wave.level()
            if wave.members and group.level > max(0, lowest):
                continue
            if group.dusty:
                if now < self.wet[a]:
                    continue
            elif group.coats:
                if group.level > 0 and wave.dusty.get(group.level, 0):
                    continue
                if wave.priming and group.level > PRIMER and group.sprays:
                    continue
            base = 1000.0 + (60.0 if group.sprays else 0.0) + (30.0 if group.level > 0 else 0.0)
            if hands.block == number:
                return base + 100.0
            return base - (0.0 if group.dusty else self._crowd(number, hands))
        return None

    def _dusty_to_do(self, now: int) -> bool:
        """Whether there is dusty work that keeps the wave from beginning before its time."""
        return any(
            pieces and self.shop.groups[number].dusty and self.shop.groups[number].level is None
            for (number, _), pieces in self.waiting.items()
        ) or any(now < dust for dust in self.dust)

    def _in_other_hands(self, gun: int, person: int, number: int, now: int) -> bool:
        """Whether somebody who is still at this work lays the gun down only between two pieces."""
        tool = self.guns[gun]
        if tool.holder in (-1, person) or now - tool.free > AGAIN:
            return False
        other = self.hands[tool.holder]
        return other.block == number and other.day == self.day and other.free <= now

    def _worth_the_gun(self, group: Group, number: int, air: int, hands: Hands, gun: int) -> bool:
        """Whether enough lies ready to take the gun, or nothing more will."""
        if hands.suited and hands.family == group.families[-1]:
            return True
        ready = self.sums[(number, air)]
        if ready >= self.policy.gun_at:
            return True
        wave = self.waves[max(air, 0)]
        below = sum(count for level, count in wave.counts.items() if level <= (group.level or 0))
        return below <= len(self.waiting[(number, air)])

    def _worth(self, number: int, air: int) -> bool:
        """Whether there is enough of this work for a session."""
        ready = self.sums[(number, air)]
        return ready >= self.policy.least or ready >= self.left[number]

    def _short(self, number: int) -> bool:
        return self.left[number] < self.policy.least

    def _resume(self, now: int) -> int:
        """The minute at which the wave needs hands again."""
        if self.resumes[0] == now:
            return self.resumes[1]
        soonest = NEVER
        for air, wave in enumerate(self.waves):
            if not self.under[air] or not wave.members:
                continue
            lowest = wave.level()
            if wave.dusty.get(lowest, 0):
                soonest = min(soonest, self.wet[air])
                continue
            for piece, level in wave.members.items():
                if level == lowest and now < self.ready_at[piece] < soonest:
                    soonest = self.ready_at[piece]
        self.resumes = (now, soonest)
        return soonest

    def _may(self, piece: int, step: Step, group: Group, air: int, now: int, *, wave: bool) -> bool:
        """Whether this piece may go on now, by the wave and the share of the tables; lays nothing."""
        if step.opens and self.floor.hopeless(piece):
            return False
        if group.end:
            return True
        if group.level is None:
            if not step.opens or self.opens >= NEVER or not self._coats_wait():
                return True
            return (
                self.relaxed or self.held["prep"] + self.shop.along[piece] <= self.policy.prep * self.metres
            )
        if air >= 0:
            return self._joins(piece, air, now) or not wave
        if wave:
            return self._joins_any(piece, now)
        if self._joins_any(piece, now) or not step.opens:
            return True
        return self.relaxed or self.held["ahead"] + self.shop.along[piece] <= self.policy.ahead * self.metres

    def _coats_wait(self) -> bool:
        """Whether any piece waits for its coats at all."""
        return any(
            pieces and self.shop.groups[number].level is not None
            for (number, _), pieces in self.waiting.items()
        ) or any(wave.members for wave in self.waves)

    def _joins_any(self, piece: int, now: int) -> bool:
        """Whether it could join the wave of some air."""
        return any(self._joins(piece, air, now) for air in range(len(self.waves)))

    def _gun(self, product: str, now: int) -> int | None:
        best = None
        for number, gun in enumerate(self.guns):
            if gun.free > now or self._gun_taken(number, now):
                continue
            other = bool(gun.product) and gun.product != product
            if other and gun.changes >= self.rules.changes:
                continue
            rank = (other, not gun.product, gun.changes, number)
            if best is None or rank < best[0]:
                best = (rank, number)
        return None if best is None else best[1]

    def _gun_taken(self, number: int, now: int) -> bool:
        return any(
            t.what is Held.GUN and t.key == str(number) and t.since - 90 < now < t.until
            for t in self.shop.problem.taken
        )
