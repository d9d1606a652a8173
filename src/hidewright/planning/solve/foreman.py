"""The foreman: lets the shop run day by day in sessions, as a careful person would, under the settings of a policy.

Time goes on from event to event; whoever is free takes the work that counts most: the wave of coats first, then what makes dust while nothing is wet, then what the wave needs, then the
rest. Every rule of the room holds by construction, whatever the settings, so that a whole plan comes out.
"""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from heapq import heappop, heappush

from hidewright.refusals import Refusal

from ..problem.kinds import COATS
from .choice import Choice
from .hands import take
from .runs import NEVER, Done, Run
from .steps import Group, Step

WINDOW = 0.85
"""Share of a window that is planned to be used; the rest is for what takes longer."""
DRIFT = 12
"""min without work after which a person begins a session shorter than is worth beginning."""


class Foreman(Choice):
    """One run of the shop."""

    def run(self, give_up: Callable[[int], bool] | None = None) -> Run | None:
        """Let the shop run; None when `give_up` says so. Raises `Refusal` when the calendar ends before the work does."""
        count = len(self.steps)
        while self.events and self.total:
            now = self.events[0][0]
            if give_up is not None and give_up(now):
                return None
            while self.events and self.events[0][0] == now:
                _, who = heappop(self.events)
                if 0 <= who < count:
                    self._waits(who)
            self.floor.settle(now)
            self._new_day(now)
            again = True
            while again:
                again = False
                for person in range(len(self.hands)):
                    if self.hands[person].free <= now and self._hand_out(person, now):
                        again = True
        if self.total:
            raise Refusal(
                f"The work does not end within {self.shop.problem.calendar.days} days.",
                remedy="Add hours, people or tables, or plan fewer pieces.",
            )
        self.floor.clear()
        self.done.sort(key=lambda d: (d.start, d.person))
        return Run(tuple(self.done), self.floor.stayed, max(self.ended, default=0), tuple(self.ended))

    def _works_until(self, person: int, now: int) -> int | None:
        """When the stretch of work ends that this person is in; None where they are in none, to be asked again when the next begins."""
        hours = self.hours[person]
        place = bisect_right(self.ends[person], now)
        if place >= len(hours):
            return None
        start, until = hours[place]
        if start <= now:
            return until
        hands = self.hands[person]
        if hands.idle != start:
            hands.idle = start
            heappush(self.events, (start, -1 - person))
        return None

    def _hand_out(self, person: int, now: int) -> bool:
        until = self._works_until(person, now)
        if until is None:
            return False
        hands = self.hands[person]
        if hands.day != self.day:
            hands.day, hands.family, hands.suited, hands.block, hands.idle = self.day, "", False, -1, now
        if self._choose(person, now, until):
            self.last_work = now
            return True
        if until < self.ends[person][-1]:
            self._wake(person, until)
        if hands.idle < 0 or hands.idle > now:
            hands.idle = now
            heappush(self.events, (now + DRIFT, -1 - person))
            if self.follow is not None:
                heappush(self.events, (now + self.follow.wait + 1, -1 - person))
        return False

    def _choose(self, person: int, now: int, until: int) -> bool:
        shop, hands = self.shop, self.hands[person]
        ranked = []
        for (number, air), pieces in self.waiting.items():
            if not pieces or not shop.able[number][person]:
                continue
            group = shop.groups[number]
            score = self._score(group, number, air, hands, now)
            if score is not None and self.follow is not None:
                score = self._planned_score(number, pieces, person, hands)
            if score is not None:
                ranked.append((-score, number, air))
        if not ranked:
            return False
        ranked.sort()
        idle = hands.idle >= 0 and now - hands.idle >= DRIFT
        if self.follow is not None:
            sizes: tuple[bool, ...] = (True,)
        else:
            sizes = (False, True) if idle or self.relaxed else (False,)
        for small in sizes:
            for _, number, air in ranked:
                if self._take(person, number, air, now, until, wave=shop.groups[number].wave, small=small):
                    return True
        return False

    def _take(
        self, person: int, number: int, air: int, now: int, until: int, *, wave: bool, small: bool
    ) -> bool:
        shop, hands = self.shop, self.hands[person]
        group = shop.groups[number]
        pieces = self.waiting[(number, air)]
        gun: int | None = None
        if group.sprays:
            product = next(
                p for p, k in zip(reversed(group.products), reversed(group.kinds), strict=True) if p
            )
            gun = self._gun(product, now)
            if gun is None or self._in_other_hands(gun, person, number, now):
                return False
            if wave and not small and not self._worth_the_gun(group, number, air, hands, gun):
                return False
        resume = NEVER
        if not wave:
            if hands.block != number and not small and not self._worth(number, air):
                return False
            resume = self._resume(now)
            if resume - now < (self.rules.least if not small else 1) and not self._short(number):
                return False
        chosen: list[int] = []
        tried = 0
        for _, piece in tuple(pieces):
            if self._left_to_other(piece, person, now):
                continue
            step = self.steps[piece][self.next[piece]]
            if not wave and now + step.first > resume + 2 and not small:
                continue
            if not self._may(piece, step, group, air, now, wave=wave):
                tried += 1
                if tried > 6:
                    break
                continue
            if group.by_piece:
                if self._do(person, [piece], group, gun, now, until, air, number):
                    return True
                tried += 1
                if tried > 6:
                    break
                continue
            if self._fits([*chosen, piece], group, person, gun, now, until) is None:
                if chosen:
                    break
                tried += 1
                if tried > 6:
                    break
                continue
            if not self._lie(piece, step, group, air, now):
                tried += 1
                if tried > 6:
                    break
                continue
            chosen.append(piece)
        return bool(chosen) and self._do(person, chosen, group, gun, now, until, air, number)

    def _lie(self, piece: int, step: Step, group: Group, air: int, now: int) -> bool:
        """Lay the piece on a table where its pass begins with this step."""
        if not step.opens:
            return True
        only = self._tables_for(piece, group, now)
        if only is not None and not only:
            return False
        if not self.floor.lay(piece, step.pass_key, now, only):
            self._forget(piece)
            return False
        state = self.floor.on_table[piece]
        assert state is not None
        self.air[piece] = self.shop.air_of_table[state[0][0][0]]
        self.on[piece] = step.pass_key
        if group.level is None:
            self.kept[piece] = "prep"
            self.held["prep"] += self.shop.along[piece]
        elif not any(piece in wave.members for wave in self.waves):
            self.kept[piece] = "ahead"
            self.held["ahead"] += self.shop.along[piece]
        return True

    def _forget(self, piece: int) -> None:
        """A piece that found no place does not count in the wave."""
        for wave in self.waves:
            if piece in wave.members and self.on.get(piece) is None:
                wave.drop(piece, self.shop, self.steps[piece], self.next[piece])

    def _tables_for(self, piece: int, group: Group, now: int) -> frozenset[int] | None:
        """The tables in whose air this may be begun; None for all of them."""
        if len(self.waves) == 1:
            return None
        if group.level is None:
            airs = {a for a in range(len(self.waves)) if not group.dusty or self._dust_ok(a, now, group)}
        else:
            airs = {a for a, wave in enumerate(self.waves) if piece in wave.members} or set(
                range(len(self.waves))
            )
        return frozenset(t for t, a in enumerate(self.shop.air_of_table) if a in airs)

    def _times(
        self, pieces: Sequence[int], group: Group, person: int, gun: int | None, now: int
    ) -> list[tuple[int, int, int, bool]]:
        """(piece index, operation index, start, mixes) in order of time: one operation on all pieces, then the next.

        What getting ready takes comes before the first of them, so that no window runs meanwhile; a load that runs out is mixed when it does.
        """
        hands, rules, lives = self.hands[person], self.rules, self.shop.lives
        family, suited = hands.family, hands.suited
        inside = self.guns[gun].product if gun is not None else ""
        opened = self.loads.open
        own: dict[str, tuple[int, int]] = {}
        cursor = now
        ends = [0] * len(pieces)
        found: list[tuple[int, int, int, bool]] = []
        steps = [self.steps[p][self.next[p]] for p in pieces]
        ahead = 0
        for index in range(len(group.kinds)):
            sprays, work, product = group.guns[index], group.families[index], group.products[index]
            for number, step in enumerate(steps):
                minutes = step.minutes[index]
                setup = 0
                if family != work:
                    if family:
                        setup += rules.change
                    family, suited = work, False
                if sprays:
                    if not suited:
                        setup += rules.suit
                        suited = True
                    if inside and inside != product:
                        setup += rules.flush
                    inside = product or ""
                begin = cursor if index and not number else cursor + setup
                mixes = False
                if product is not None and product != "primer":
                    serves = own.get(product) or opened.get(product)
                    if serves is None or max(begin, serves[0] + 1) + minutes > serves[1]:
                        mixes = True
                        if index and not number:
                            setup += rules.load
                        else:
                            begin += rules.load
                    elif begin <= serves[0]:
                        begin = serves[0] + 1
                if index:
                    begin = max(begin, ends[number] + step.operations[index - 1].dry)
                if mixes and product is not None:
                    own[product] = (begin, begin + lives.get(product, NEVER))
                ends[number] = cursor = begin + minutes
                found.append((number, index, begin, mixes))
                if index and not number:
                    ahead += setup
        if not ahead:
            return found
        # Shifted as a whole, a load might run out that just served; then it is mixed again, and the audit would know.
        return [(number, index, begin + ahead, mixes) for number, index, begin, mixes in found]

    def _fits(
        self, pieces: Sequence[int], group: Group, person: int, gun: int | None, now: int, until: int
    ) -> list[tuple[int, int, int, bool]] | None:
        """When each operation begins, if all of it is done before the person leaves, within windows, pot lives and air; else None."""
        times = self._times(pieces, group, person, gun, now)
        steps = [self.steps[p][self.next[p]] for p in pieces]
        last: dict[int, int] = {}
        mixed: dict[str, int] = {}
        mixed_until = {product: serves[1] for product, serves in self.loads.open.items()}
        first_coat = NEVER
        share = 1.0 if len(pieces) == 1 else WINDOW
        for number, index, begin, mixes in times:
            operation = steps[number].operations[index]
            end = begin + operation.minutes
            if end > until:
                return None
            product = group.products[index]
            if product is not None and not mixes and product in mixed_until and end > mixed_until[product]:
                return None
            if mixes and product is not None:
                mixed_until[product] = begin + self.shop.lives.get(product, NEVER)
            if index:
                window = steps[number].operations[index - 1].window
                if window is not None and begin - last[number] > window * share:
                    return None
            last[number] = end
            if mixes and product is not None:
                mixed[product] = mixed.get(product, 0) + 1
                if product in self.shop.lives:
                    count = self.loads.count.get(product, 0) + mixed[product]
                    if count > self.shop.problem.most_mixes:
                        return None
            if operation.wet and operation.kind in COATS:
                first_coat = min(first_coat, begin)
                if not self._air_ok(end + operation.wet, begin):
                    return None
            elif operation.wet and not self._air_ok(end + operation.wet, begin):
                return None
        if first_coat < NEVER and any(first_coat < self.dust[self.air[p]] for p in pieces):
            return None
        return times

    def _air_ok(self, until: int, begin: int) -> bool:
        if self.shop.air_until is None:
            return True
        return until <= self.shop.air_until(begin)

    def _do(
        self,
        person: int,
        pieces: list[int],
        group: Group,
        gun: int | None,
        now: int,
        until: int,
        air: int,
        number: int,
    ) -> bool:
        shop = self.shop
        times = self._fits(pieces, group, person, gun, now, until)
        if times is None:
            return False
        first = self.steps[pieces[0]][self.next[pieces[0]]]
        if group.by_piece and not self._lie(pieces[0], first, group, air, now):
            return False
        if group.dusty and group.level is None:
            where = self.air[pieces[0]]
            if now < self.wet[where]:
                return False
            if not self._dust_ends(pieces, group, person, now, where):
                return False
        hands = self.hands[person]
        tool = self.guns[gun] if gun is not None else None
        steps = [self.steps[p][self.next[p]] for p in pieces]
        end = now
        late = 0
        for index_of, index, begin, mixes in times:
            step, piece = steps[index_of], pieces[index_of]
            operation = step.operations[index]
            begin += late
            minutes = operation.minutes
            if self.happens is not None:
                minutes = self.happens.took(operation, person, begin)
                late += minutes - operation.minutes
            end = begin + minutes
            take(
                shop.lives,
                hands,
                tool if group.guns[index] else None,
                self.loads,
                group.families[index],
                group.products[index],
                begin,
                end,
                group.guns[index],
                mixes,
            )
            self.done.append(Done(operation, piece, person, gun if group.guns[index] else None, begin, end))
            where = self.air[piece]
            if operation.kind in COATS:
                wet = shop.problem.calendar.dries(end, operation.wet)
                self.wet[where] = max(self.wet[where], wet)
                self._dries(where)
            if operation.kind in self.rules.dusty:
                self.dust[where] = max(self.dust[where], end)
            if index + 1 == len(step.operations):
                self._pass_on(piece, step, group, end)
        hands.free, hands.block, hands.idle = end, number, -1
        if tool is not None:
            tool.holder = person
        self.resumes = (-1, NEVER)
        heappush(self.events, (end, -1 - person))
        waiting = self.waiting[(number, air)]
        for piece in pieces:
            waiting.remove((self.prios[piece], piece))
        self.sums[(number, air)] -= sum(step.total for step in steps)
        if group.wave:
            for piece in pieces:
                self.under[self.air[piece]] = True
                if group.sprays and group.level is not None and group.level >= 0:
                    wave = self.waves[self.air[piece]]
                    wave.closes = min(wave.closes, now + self.policy.late)
        return True

    def _dries(self, air: int) -> None:
        """Where a plan is followed, look again when the air is dry: what dries last may have its next work on another day."""
        if self.follow is not None:
            heappush(self.events, (self.wet[air], len(self.steps) + 999))

    def _dust_ends(self, pieces: Sequence[int], group: Group, person: int, now: int, air: int) -> bool:
        """Stripping ends before the wave of the day begins, if anything waits for it."""
        if self.opens >= NEVER or now >= self.opens or self.relaxed:
            return True
        end = now + self.rules.change + sum(self.steps[p][self.next[p]].total for p in pieces)
        return end <= self.opens + 10 or not self._wave_left(air)

    def _goes_again(self, piece: int) -> list[Step]:
        """A piece that failed goes once more through its coats."""
        self.again.add(piece)
        more = self.shop.again(piece)
        self.steps[piece] = [*self.steps[piece], *more]
        self.total += len(more)
        for step in more:
            self.left[step.group] += step.total
        return self.steps[piece]

    def _pass_on(self, piece: int, step: Step, group: Group, end: int) -> None:
        steps, at = self.steps[piece], self.next[piece]
        minutes = step.dry if self.happens is None else self.happens.dries(step.dry, end)
        dry = self.shop.problem.calendar.dries(end, minutes)
        if (
            at + 1 == len(steps)
            and self.happens is not None
            and piece not in self.again
            and self.happens.fails(piece)
        ):
            steps = self._goes_again(piece)
        last = at + 1 == len(steps)
        if self.pending:
            for operation in step.operations:
                self._ended(operation.key, dry)
        for wave in self.waves:
            if piece in wave.members:
                wave.pass_on(piece, self.shop, steps, at)
        if step.stays:
            self.floor.go_on(piece, step.pass_key, dry)
            self.on[piece] = steps[at + 1].pass_key
        elif step.closes:
            self.floor.close(piece, step.pass_key, dry, last=last)
            self.on.pop(piece, None)
        self.left[step.group] -= step.total
        self.next[piece] = at + 1
        self.total -= 1
        if last:
            self.ended[piece] = dry
            self.floor.end(piece, dry)
            self._ended(self.shop.jobs[piece].piece, dry)
            kept = self.kept.pop(piece, None)
            if kept is not None:
                self.held[kept] -= self.shop.along[piece]
            return
        self._comes(piece, dry)
