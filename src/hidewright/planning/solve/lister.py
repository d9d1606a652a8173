"""Working by a list: whoever is free takes the first work of a list that can be begun now; nothing is held back for a wave of coats, the rules of the room alone decide.

The list says what comes first: least slack, one stage after the other, staying with one kind of work, or the order of a plan. A careful person could follow each of them by hand.
"""

from collections.abc import Sequence
from heapq import heappush

from ..problem.kinds import COATS, Kind
from .foreman import Foreman
from .hands import take
from .policy import Listing, Policy
from .runs import MORNING, NEVER, Chances, Done, Follow, Start
from .sides import latest_of, passes_of, spans_of
from .steps import PRIMER, Group, Shop, Step

TOGETHER = frozenset({(Kind.TACK, Kind.SAND), (Kind.WIPE_IN, Kind.WIPE_DOWN)})
"""(next, before): work that goes on with what was done before as one kind."""
OWN_AFTER = {
    Kind.OWN_PREP: Kind.REPAIR,
    Kind.OWN_MASK: Kind.MASK,
    Kind.OWN_TURN: Kind.TURN,
    Kind.OWN_COLOUR: Kind.SECOND,
    Kind.OWN_CLEAR: Kind.CLEAR,
    Kind.OWN_FINISH: Kind.UNMASK,
}
"""After which kind of work the shop's own comes, in a list that goes stage by stage."""
STAGES = {
    kind: list(Kind).index(OWN_AFTER[kind]) + 0.5 if kind in OWN_AFTER else float(number)
    for number, kind in enumerate(Kind)
}
"""Which kind of work comes before which, where a list goes stage by stage."""
FIRST_COATS = frozenset({0, PRIMER})
"""Levels of the work with which a wave begins."""
FIRST_HOUR = 60
"""min after opening in which a pass that fits into no day may be begun."""


class Lister(Foreman):
    """One run of the shop by a list."""

    policy: Listing

    def _begin(self) -> None:
        listing = self.policy
        self.spans = [spans_of(steps) for steps in self.steps]
        self.passes = [passes_of(steps, self.shop.groups) for steps in self.steps]
        self.at_pass: dict[int, int] = {}
        for passes in self.passes:
            if passes:
                self.at_pass[passes[0]] = self.at_pass.get(passes[0], 0) + 1
        self.mid = sum(self._is_mid(steps[0]) for steps in self.steps if steps)
        self.stuck: dict[tuple[int, int], tuple[int, int]] = {}
        self.refusal = False
        self.rest = (-1, 0)
        self.asks: set[tuple[int, int]] = set()
        self.ranks = self._ranks(listing)
        self.due: list[float] = [ranks[0] if ranks else NEVER for ranks in self.ranks] if self.ranks else []
        super()._begin()

    def _ranks(self, listing: Listing) -> list[list[float]]:
        """For each piece and step its number in the list, where the list has single pieces; smaller comes first."""
        if listing.starts:
            starts = listing.starts
            weights = listing.weights or (0.0,) * len(self.steps)
            return [
                [starts.get(step.operations[0].key, NEVER) + weight for step in steps]
                for steps, weight in zip(self.steps, weights, strict=True)
            ]
        if listing.slack:
            spread = [(day.opening, day.closing) for day in self.shop.days]
            return [
                [start + self.order[piece] for start in latest_of(steps, spread)]
                for piece, steps in enumerate(self.steps)
            ]
        return []

    def _is_mid(self, step: Step) -> bool:
        level = self.shop.groups[step.group].level
        return level is not None and level > 0

    def _rejoin(self, air: int, *, fresh: bool) -> None:
        """There is no wave to join."""

    def _waits(self, piece: int) -> None:
        at, steps = self.next[piece], self.steps[piece]
        if at < len(steps):
            if self.ranks:
                ranks = self.ranks[piece]
                self.prios[piece] = ranks[at] if at < len(ranks) else NEVER
            air = self.air[piece] if self.on.get(piece) == steps[at].pass_key else -1
            self.stuck.pop((steps[at].group, air), None)
        super()._waits(piece)

    def _pass_on(self, piece: int, step: Step, group: Group, end: int) -> None:
        at = self.next[piece]
        passes = self.passes[piece]
        before = passes[at] if at < len(passes) else 99
        super()._pass_on(piece, step, group, end)
        self.at_pass[before] = self.at_pass.get(before, 0) - 1
        self.mid -= self._is_mid(step)
        if at + 1 < len(self.steps[piece]):
            after = passes[at + 1] if at + 1 < len(passes) else 99
            self.at_pass[after] = self.at_pass.get(after, 0) + 1
            self.mid += self._is_mid(self.steps[piece][at + 1])
        if self.due:
            ranks = self.ranks[piece]
            self.due[piece] = ranks[at + 1] if at + 1 < len(ranks) else NEVER

    def _hand_out(self, person: int, now: int) -> bool:
        until = self._works_until(person, now)
        if until is None:
            return False
        hands = self.hands[person]
        if hands.day != self.day:
            hands.day, hands.family, hands.suited, hands.block = self.day, "", False, -1
        if self._choose(person, now, until):
            self.last_work = now
            return True
        if hands.idle != until:
            hands.idle = until
            heappush(self.events, (until, -1 - person))
        return False

    def _left_to_other(self, piece: int, person: int, now: int) -> bool:
        left = super()._left_to_other(piece, person, now)
        if left and self.follow is not None:
            planned = self.follow.starts[self.steps[piece][self.next[piece]].operations[0].key]
            over = max(int(planned), self.ready_at[piece]) + self.follow.wait + 1
            if (over, person) not in self.asks:
                self.asks.add((over, person))
                heappush(self.events, (over, -1 - person))
        return left

    def _choose(self, person: int, now: int, until: int) -> bool:
        shop, hands = self.shop, self.hands[person]
        if self.policy.stick and hands.block >= 0 and self._more_of_it(person, hands.block, now, until):
            return True
        able = shop.able
        limit = self._limit(now)
        ranked = []
        ready: dict[str, int] = {}
        for key, pieces in self.waiting.items():
            number, air = key
            if not pieces or not able[number][person]:
                continue
            group = shop.groups[number]
            if group.dusty and not self._no_coat_wet(air, now):
                continue
            family = group.families[0]
            ready[family] = ready.get(family, 0) + self.sums[key]
            ranked.append((number, air, group, pieces[0][0]))
        if not ranked:
            return False
        if self.ranks and not self.policy.stick:
            line = sorted((first, number, air) for number, air, _, first in ranked if first <= limit)
            return any(self._take_first(person, n, air, now, until, limit) for _, n, air in line)
        least = self.policy.least
        last = shop.groups[hands.block].kinds[-1] if hands.block >= 0 else None
        order = sorted(
            (
                number not in shop.urgent,
                self.policy.stick and not self._goes_on(number, group, hands.block, last),
                group.families[0] != hands.family,
                ready[group.families[0]] < least and group.families[0] != hands.family,
                self._stage(group),
                first,
                number,
                air,
            )
            for number, air, group, first in ranked
        )
        return any(self._take_first(person, each[-2], each[-1], now, until, limit) for each in order)

    def _more_of_it(self, person: int, block: int, now: int, until: int) -> bool:
        """Go on with the same work, where a piece is ready for it."""
        group = self.shop.groups[block]
        for air in range(-1, len(self.wet)):
            pieces = self.waiting.get((block, air))
            if not pieces or (group.dusty and not self._no_coat_wet(air, now)):
                continue
            if self._take_first(person, block, air, now, until, NEVER * 10.0):
                return True
        return False

    def _gun(self, product: str, now: int) -> int | None:
        """A gun for this product; with `back`, none whose last change of the day would go to colour, since the clear that follows would have to wait for tomorrow."""
        number = super()._gun(product, now)
        if number is None or not self.policy.back or product == "clear":
            return number
        gun = self.guns[number]
        changes = bool(gun.product) and gun.product != product
        return None if changes and gun.changes + 2 > self.rules.changes else number

    def _goes_on(self, number: int, group: Group, block: int, last: Kind | None) -> bool:
        kind = group.kinds[0]
        return number == block or kind == last or (kind, last) in TOGETHER

    def _stage(self, group: Group) -> float:
        kind = group.kinds[0]
        stage = STAGES.get(kind, 99.0)
        return stage + dict(self.policy.stages).get(str(kind), 0.0) if self.policy.stages else stage

    def _limit(self, now: int) -> float:
        """The number in the list beyond which nothing is taken now, since what comes first will be ready soon."""
        if not self.due or not self.policy.wait:
            return NEVER * 10.0
        piece = min(range(len(self.due)), key=self.due.__getitem__)
        waits = now < self.ready_at[piece] <= now + self.policy.wait
        return self.due[piece] if waits else NEVER * 10.0

    def _dust_first(self, air: int) -> float:
        """The number in the plan of the first dusty work that waits in this air: no coat that comes after it is begun, since it would lie wet."""
        return min(
            (
                pieces[0][0]
                for (number, where), pieces in self.waiting.items()
                if pieces and self.shop.groups[number].dusty and (air < 0 or where in (air, -1))
            ),
            default=NEVER * 10.0,
        )

    def _no_coat_wet(self, air: int, now: int) -> bool:
        if air >= 0:
            return now >= self.wet[air]
        return any(now >= wet for wet in self.wet)

    def _take_first(self, person: int, number: int, air: int, now: int, until: int, limit: float) -> bool:
        """Take the first piece of this work that can be begun; where all of it is done together, as many as the windows hold."""
        group = self.shop.groups[number]
        pieces = self.waiting[(number, air)]
        gun: int | None = None
        if group.sprays:
            product = next(
                p for p, k in zip(reversed(group.products), reversed(group.kinds), strict=True) if p
            )
            gun = self._gun(product, now)
            if gun is None or self._in_other_hands(gun, person, number, now):
                return False
        key = (number, air)
        if self.stuck.get(key) == (self.floor.freed, self.day):
            return False
        if self.follow is not None and group.coats:
            limit = min(limit, self._dust_first(air))
        allowed: list[int] = []
        refused = stuck = 0
        steps, at, may = self.steps, self.next, self._may
        for rank, piece in tuple(pieces):
            if rank > limit:
                break
            step = steps[piece][at[piece]]
            if self.follow is not None and self._left_to_other(piece, person, now):
                continue
            if not may(piece, step, group, air, now, wave=group.wave):
                stuck += self.refusal
                continue
            if now + step.first > until:
                continue
            if not group.by_piece:
                allowed.append(piece)
                continue
            if len(step.minutes) == 1:
                if self._do_one(person, piece, step, group, gun, now, until, air, number):
                    return True
            elif self._do(person, [piece], group, gun, now, until, air, number):
                return True
            refused += 1
            if refused > 6:
                return False
        if stuck == len(pieces):
            self.stuck[key] = (self.floor.freed, self.day)
        while allowed:
            fitting = self._most(allowed, group, person, gun, now, until)
            if not fitting:
                allowed = allowed[1:8]
                continue
            laid = [
                piece
                for piece in fitting
                if self._lie(piece, self.steps[piece][self.next[piece]], group, air, now)
            ]
            return bool(laid) and self._do(person, laid, group, gun, now, until, air, number)
        return False

    def _do_one(
        self,
        person: int,
        piece: int,
        step: Step,
        group: Group,
        gun: int | None,
        now: int,
        until: int,
        air: int,
        number: int,
    ) -> bool:
        """The same as `_do` for one operation on one piece, without the lists that several need."""
        hands, rules, operation = self.hands[person], self.rules, step.operations[0]
        family, product = group.families[0], group.products[0]
        tool = self.guns[gun] if gun is not None else None
        begin, suited, mixes = now, hands.suited, False
        if hands.family != family:
            begin += rules.change if hands.family else 0
            suited = False
        if tool is not None:
            begin += 0 if suited else rules.suit
            begin += rules.flush if tool.product and tool.product != product else 0
        if product is not None and product != "primer":
            serves = self.loads.open.get(product)
            if serves is None or max(begin, serves[0] + 1) + step.first > serves[1]:
                mixes = True
                begin += rules.load
                if (
                    product in self.shop.lives
                    and self.loads.count.get(product, 0) >= self.shop.problem.most_mixes
                ):
                    return False
            elif begin <= serves[0]:
                begin = serves[0] + 1
        end = begin + step.first
        if end > until or (operation.wet and not self._air_ok(end + operation.wet, begin)):
            return False
        coats = operation.kind in COATS
        if not step.opens or len(self.wet) == 1:
            # Where a piece is laid anew, and there are several airs, only tables in the right air are looked at.
            where = 0 if step.opens else self.air[piece]
            if (coats and operation.wet and begin < self.dust[where]) or (
                group.dusty and now < self.wet[where]
            ):
                return False
        if not self._lie(piece, step, group, air, now):
            return False
        where = self.air[piece]
        if self.happens is not None:
            end = begin + self.happens.took(operation, person, begin)
        take(
            self.shop.lives,
            hands,
            tool,
            self.loads,
            family,
            product,
            begin,
            end,
            group.guns[0],
            mixes,
        )
        self.done.append(Done(operation, piece, person, gun if group.guns[0] else None, begin, end))
        if coats:
            wet = self.shop.problem.calendar.dries(end, operation.wet)
            self.wet[where] = max(self.wet[where], wet)
            self._dries(where)
        if operation.kind in self.rules.dusty:
            self.dust[where] = max(self.dust[where], end)
        self._pass_on(piece, step, group, end)
        hands.free, hands.block, hands.idle = end, number, -1
        if tool is not None:
            tool.holder = person
        heappush(self.events, (end, -1 - person))
        self.waiting[(number, air)].remove((self.prios[piece], piece))
        self.sums[(number, air)] -= step.total
        return True

    def _most(
        self, pieces: list[int], group: Group, person: int, gun: int | None, now: int, until: int
    ) -> list[int]:
        """As many of the first of these as fit."""
        low, high = 0, min(len(pieces), 40)
        while low < high:
            middle = (low + high + 1) // 2 if low else high if high <= 4 else (high + 1) // 2
            if self._fits(pieces[:middle], group, person, gun, now, until) is None:
                high = middle - 1
            else:
                low = middle
        return pieces[:low]

    def _may(self, piece: int, step: Step, group: Group, air: int, now: int, *, wave: bool) -> bool:
        self.refusal = True
        if step.opens and self.floor.no_place.get(piece) == self.floor.freed:
            return False
        at, listing = self.next[piece], self.policy
        if (step.opens and group.level is not None) or group.level in FIRST_COATS:
            begins = step.opens or self._starts_wave(piece, at)
            if begins and listing.fits and not self._fits_today(piece, at, now):
                return False
        else:
            begins = False
        self.refusal = False
        passes = self.passes[piece]
        here = passes[at] if at < len(passes) else 99
        if listing.barrier and step.opens and any(n for p, n in self.at_pass.items() if p < here):
            return False
        if group.level is None:
            return True
        if listing.prep_days > self.day and self.at_pass.get(0, 0) and piece not in self.half:
            return False
        return not (begins and listing.wave and self.mid and wave)

    def _starts_wave(self, piece: int, at: int) -> bool:
        """Whether this is the first work of the wave on its side."""
        if at == 0:
            return True
        step = self.steps[piece][at - 1]
        return step.pass_key != self.steps[piece][at].pass_key or not self.shop.groups[step.group].wave

    def _fits_today(self, piece: int, at: int, now: int) -> bool:
        today = self.today
        assert today is not None
        spans = self.spans[piece]
        if at >= len(spans):
            return True
        span = self.policy.fits * spans[at]
        if self.rest[0] != now:
            self.rest = (now, today.left(now))
        return span <= self.rest[1] or (span > today.minutes and now - today.opening < FIRST_HOUR)

    def _tables_for(self, piece: int, group: Group, now: int) -> frozenset[int] | None:
        if len(self.wet) == 1:
            return None
        if group.dusty:
            airs = {a for a, wet in enumerate(self.wet) if now >= wet}
        elif group.coats:
            airs = {a for a, dust in enumerate(self.dust) if now >= dust}
        else:
            return None
        return frozenset(t for t, a in enumerate(self.shop.air_of_table) if a in airs)

    def _dust_ends(self, pieces: Sequence[int], group: Group, person: int, now: int, air: int) -> bool:
        return True


def foreman_of(
    shop: Shop,
    policy: Policy,
    start: Start = MORNING,
    *,
    happens: Chances | None = None,
    follow: Follow | None = None,
) -> Foreman:
    """Whoever runs the shop in the way of this policy."""
    kind = Lister if isinstance(policy, Listing) else Foreman
    return kind(shop, policy, start, happens=happens, follow=follow)
