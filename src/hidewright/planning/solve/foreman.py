"""The foreman: lets the shop run day by day in sessions, as a careful person would, under the settings of a policy.

Time goes on from event to event; whoever is free takes the work that counts most: the wave of coats first, then what makes dust while nothing is wet, then what the wave needs, then the
rest. Every rule of the room holds by construction, whatever the settings, so that a whole plan comes out.
"""

from bisect import bisect_right, insort
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush

from hidewright.refusals import Refusal

from ..plan.schedule import Placement, Plan, Stay
from ..problem.calendar import DAY, ShopDay, Stretch
from ..problem.kinds import COATS
from ..problem.model import Held, Operation
from .floor import Begun, Curing, Floor, Places, Stayed
from .hands import Gun, Hands, Loads, take
from .policy import Policy
from .steps import BEFORE, PRIMER, Group, Shop, Step
from .wave import Wave, loads

NEVER = 10**9
WINDOW = 0.85
"""Share of a window that is planned to be used; the rest is for what takes longer."""
AGAIN = 20
"""min after which a piece that found no room in the wave is asked again."""
DRIFT = 12
"""min without work after which a person begins a session shorter than is worth beginning."""


@dataclass(frozen=True, slots=True)
class Start:
    """How the shop stands at minute `now`: what is `begun` by piece number, what only cures, what is wet until when by air, guns and loads of today (product and changes; product → from, until; how
    many were mixed), and at what family of work each person was last today."""

    now: int = 0
    begun: Mapping[int, Begun] = field(default_factory=dict)
    curing: tuple[Curing, ...] = ()
    wet: Mapping[int, int] = field(default_factory=dict)
    guns: tuple[tuple[str, int], ...] = ()
    loads: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    mixed: Mapping[str, int] = field(default_factory=dict)
    at_work: Mapping[int, str] = field(default_factory=dict)


MORNING = Start()


@dataclass(frozen=True, slots=True)
class Follow:
    """A plan that is to be followed: operation → its `starts` and `people` (numbers); `opens` day number → the minute at which the first coat of that day was to begin; `places` where pieces were
    to lie; `loose` pieces that need not follow it; `lead` min by which work may come before its time, `wait` min for which it is left to whom it was given."""

    starts: Mapping[str, int]
    people: Mapping[str, int]
    opens: Mapping[int, int]
    places: Places
    loose: frozenset[int]
    lead: int = 15
    wait: int = 30


@dataclass(frozen=True, slots=True)
class Done:
    """One operation as it was placed."""

    operation: Operation
    piece: int
    person: int
    gun: int | None
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Run:
    """What came out: `done` in order of time, `stayed` by (piece, pass), `finish` the minute all is done and dry, `ended` that of each piece."""

    done: tuple[Done, ...]
    stayed: dict[tuple[int, str], Stayed]
    finish: int
    ended: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Chances:
    """What happens in one run: `took` (operation, person, minute) → minutes it takes, `dries` (minutes, minute) → minutes it dries, `fails` piece → whether it must go again, `hours` in which
    each person is there."""

    took: Callable[[Operation, int, int], int]
    dries: Callable[[int, int], int]
    fails: Callable[[int], bool]
    hours: Sequence[tuple[Stretch, ...]]


class Foreman:
    """One run of the shop."""

    def __init__(
        self,
        shop: Shop,
        policy: Policy,
        start: Start = MORNING,
        *,
        happens: Chances | None = None,
        follow: Follow | None = None,
    ) -> None:
        self.shop, self.policy, self.start = shop, policy, start
        self.rules = shop.rules
        self.happens = happens
        self.follow = follow
        self.hours = shop.hours if happens is None else happens.hours
        self.ends = shop.ends if happens is None else [[b for _, b in hours] for hours in self.hours]
        self.steps = shop.steps if happens is None else list(shop.steps)
        self.again: set[int] = set()
        count = len(self.steps)
        self.next = [0] * count
        self.ready_at = [0] * count
        self.ended = [start.now] * count
        self.done: list[Done] = []
        self.total = sum(len(steps) for steps in self.steps)
        self.events: list[tuple[int, int]] = []
        self.waiting: dict[tuple[int, int], list[tuple[float, int]]] = {}
        self.sums: dict[tuple[int, int], int] = {}
        self.resumes: tuple[int, int] = (-1, NEVER)
        self.refused: dict[int, int] = {}
        self.half: set[int] = set()
        self.hands = [Hands(free=start.now) for _ in self.hours]
        self.guns = [Gun() for _ in range(shop.problem.guns)]
        self.loads = Loads()
        airs = len(shop.airs)
        self.wet = [start.wet.get(a, 0) for a in range(airs)]
        self.dust = [0] * airs
        self.waves = [Wave() for _ in range(airs)]
        self.under = [False] * airs
        self.day = -1
        self.today: ShopDay | None = None
        self.opens = 0
        self.people = 1
        self.air = [0] * count
        self.on: dict[int, str] = {}
        self.metres = sum(shop.tables) or 1.0
        self.held = {"prep": 0.0, "ahead": 0.0}
        self.kept: dict[int, str] = {}
        self.relaxed = False
        self.last_work = 0
        self.left = [0] * len(shop.groups)
        for steps in self.steps:
            for step in steps:
                self.left[step.group] += step.total
        taken = [t.places for t in shop.problem.taken if t.what is Held.RACK]
        rack = shop.problem.rack
        self.floor = Floor(
            shop.tables,
            shop.ways,
            None if rack is None else max(0, rack - sum(taken)),
            follow.places if follow is not None else {},
            policy.best_fit,
            lambda minute: heappush(self.events, (max(minute, start.now), count + 999)),
        )
        self.prios = self._priorities()
        self.order = list(self.prios)
        self._begin()

    def _priorities(self) -> list[float]:
        """For each piece a number: smaller goes sooner."""
        policy, jobs = self.policy, self.shop.jobs
        weights = policy.weights or (0.0,) * len(jobs)
        found = []
        for number, job in enumerate(jobs):
            steps = self.steps[number]
            passes = len({s.pass_key for s in steps if s.closes})
            prio = (
                weights[number] + policy.small * self.shop.along[number] - policy.turned * max(0, passes - 1)
            )
            if job.due is not None:
                prio -= 2000.0 - 50.0 * (job.due - self.shop.problem.calendar.start).days
            prio += 100_000.0 * job.rank
            found.append(prio + number * policy.like * 0.01)
        return found

    def _begin(self) -> None:
        start, shop = self.start, self.shop
        tables = {table.key: index for index, table in enumerate(shop.problem.tables)}
        held = [
            Curing(tables[t.key], t.at, t.along, t.until)
            for t in shop.problem.taken
            if t.what is Held.TABLE and t.key in tables and t.until > start.now
        ]
        self.floor.begin(start.begun, (*start.curing, *held))
        for gun, (product, changes) in zip(self.guns, start.guns, strict=False):
            gun.product, gun.changes = product, changes
        self.loads.open.update(start.loads)
        self.loads.count.update(start.mixed)
        for piece, steps in enumerate(self.steps):
            state = start.begun.get(piece)
            ready = max(start.now, state.ready if state is not None else 0)
            if state is not None and state.lies and state.cured is None and steps:
                self.air[piece] = shop.air_of_table[state.lies[0][0]]
                self.on[piece] = steps[0].pass_key
                if self.shop.groups[steps[0].group].wave:
                    self._half(piece, steps[0])
            if not steps:
                self.ended[piece] = ready
                continue
            self._comes(piece, ready)
        if start.now:
            self.day = bisect_right(shop.openings, start.now) - 1
            if self.day >= 0 and start.now < shop.days[self.day].closing:
                self._today(self.day, fresh=False)
        for person in range(len(self.hands)):
            self._wake(person, start.now)
        for person, family in start.at_work.items():
            self.hands[person].family, self.hands[person].day = family, self.day

    def _half(self, piece: int, step: Step) -> None:
        """Note whether the wave of this piece had begun when planning starts: it goes on first, whatever else is planned."""
        before = self.shop.jobs[piece].operations
        at = next((n for n, o in enumerate(before) if o is step.operations[0]), 0)
        if any(
            o.pass_key == step.pass_key and (o.kind in COATS or o.kind in self.rules.dusty)
            for o in before[:at]
        ):
            self.half.add(piece)

    def _comes(self, piece: int, ready: int) -> None:
        step = self.steps[piece][self.next[piece]]
        ready = max(ready, step.release)
        if self.follow is not None:
            planned = self.follow.starts.get(step.operations[0].key)
            if planned is not None and piece not in self.follow.loose:
                ready = max(ready, planned - self.follow.lead)
        self.ready_at[piece] = ready
        heappush(self.events, (ready, piece))

    def _wake(self, person: int, at: int) -> None:
        place = bisect_right(self.ends[person], at)
        hours = self.hours[person]
        if place < len(hours):
            heappush(self.events, (max(at, hours[place][0]), -1 - person))

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

    def _waits(self, piece: int) -> None:
        if self.next[piece] >= len(self.steps[piece]):
            return
        kept = self.kept.pop(piece, None)
        if kept is not None and self.on.get(piece) is None:
            self.held[kept] -= self.shop.along[piece]
        elif kept is not None:
            self.kept[piece] = kept
        step = self.steps[piece][self.next[piece]]
        if self.follow is not None:
            planned = self.follow.starts.get(step.operations[0].key)
            late = (
                planned is None
                or piece in self.follow.loose
                or (self.today is not None and planned < self.today.opening)
            )
            self.prios[piece] = 1e7 + self.order[piece] if late or planned is None else float(planned)
        air = self.air[piece] if self.on.get(piece) == step.pass_key else -1
        key = (step.group, air)
        insort(self.waiting.setdefault(key, []), (self.prios[piece], piece))
        self.sums[key] = self.sums.get(key, 0) + step.total

    def _new_day(self, now: int) -> None:
        day = bisect_right(self.shop.openings, now) - 1
        if day != self.day and day >= 0:
            self._today(day, fresh=True)
            for gun in self.guns:
                gun.product, gun.changes = "", 0
            self.loads = Loads()
            self.relaxed = (now - self.last_work > 3 * DAY and self.last_work > 0) or (
                self.last_work == 0 and day > 1
            )

    def _today(self, day: int, *, fresh: bool) -> None:
        self.day = day
        today = self.today = self.shop.days[day]
        opens = self.policy.opening(day)
        self.opens = today.opening + opens if opens >= 0 else NEVER
        if self.follow is not None:
            self.opens = self.follow.opens.get(today.number, NEVER)
            self._slip()
        self.people = max(
            1,
            sum(any(a < today.closing and b > today.opening for a, b in hours) for hours in self.hours),
        )
        for air, wave in enumerate(self.waves):
            wave.closes, self.under[air] = NEVER, False
            if not wave.members:
                wave.colour = None
            self._rejoin(air, fresh=fresh)

    def _slip(self) -> None:
        """What did not keep its day comes after what has its day today."""
        assert self.today is not None
        for key, pieces in self.waiting.items():
            for number, (prio, piece) in enumerate(pieces):
                if prio < self.today.opening:
                    self.prios[piece] = 1e7 + self.order[piece]
                    pieces[number] = (self.prios[piece], piece)
            pieces.sort()
            self.waiting[key] = pieces

    def _rejoin(self, air: int, *, fresh: bool) -> None:
        """What was made ready yesterday joins the wave of today first."""
        assert self.today is not None
        there = sorted(
            (self.prios[piece], piece)
            for piece, pass_key in self.on.items()
            if self.air[piece] == air and pass_key != "prep" and piece not in self.waves[air].members
        )
        for piece in (piece for _, piece in there):
            if self.next[piece] < len(self.steps[piece]):
                kept = self.kept.pop(piece, None)
                if kept is not None:
                    self.held[kept] -= self.shop.along[piece]
                step = self.steps[piece][self.next[piece]]
                half = self.shop.groups[step.group].wave and piece in self.half
                self._joins(piece, air, max(self.today.opening, self.start.now), forced=half)
                if half and not fresh:
                    self.under[air] = True

    def _joins(self, piece: int, air: int, now: int, *, forced: bool = False) -> bool:
        """Let a piece join today's wave if it can still be done before closing."""
        wave, today = self.waves[air], self.today
        assert today is not None
        if piece in wave.members:
            return True
        if now < self.refused.get(piece, 0) and not forced:
            return False
        steps, at = self.steps[piece], self.next[piece]
        own = self.shop.groups[self.steps[piece][self.next[piece]].group].level or BEFORE
        if (now >= wave.closes or wave.level() > 0) and own < max(wave.level(), 1) and not forced:
            return False
        colour = next(
            (
                p
                for s in steps[at:]
                if s.pass_key == steps[at].pass_key
                for p in self.shop.groups[s.group].products
                if p is not None and p.startswith("colour")
            ),
            None,
        )
        if wave.colour is not None and colour is not None and wave.colour != colour and not forced:
            return False
        if any(s.release >= today.closing for s in steps[at:] if s.pass_key == steps[at].pass_key):
            return False
        begin = max(now, self.opens if self.opens < NEVER else now)
        rules = self.rules
        setups = 2 * rules.load + rules.flush + 2 * rules.suit + 4 * rules.change
        needed = self.policy.span * wave.estimate(self.people, setups, loads(self.shop, steps, at))
        left = today.left(begin)
        if needed > left and not forced:
            alone = not wave.members and needed > today.minutes - 30
            if not (self.relaxed or (alone and now - today.opening < 90)):
                self.refused[piece] = now + AGAIN
                return False
        wave.add(piece, self.shop, steps, at)
        if wave.colour is None:
            wave.colour = colour
        return True

    # ------------------------------------------------------------------ who does what

    def _hand_out(self, person: int, now: int) -> bool:
        hours, ends = self.hours[person], self.ends[person]
        place = bisect_right(ends, now)
        if place >= len(hours):
            return False
        start, until = hours[place]
        hands = self.hands[person]
        if start > now:
            if hands.idle != start:
                hands.idle = start
                heappush(self.events, (start, -1 - person))
            return False
        if hands.day != self.day:
            hands.day, hands.family, hands.suited, hands.block, hands.idle = self.day, "", False, -1, now
        if self._choose(person, now, until):
            self.last_work = now
            return True
        if place + 1 < len(hours):
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

    # ------------------------------------------------------------------ taking work

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

    # ------------------------------------------------------------------ doing it

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
        if not self.shop.air_until:
            return True
        return until <= self.shop.air_until.get(self.today.number if self.today else begin // DAY, 0)

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
                self.wet[where] = max(self.wet[where], end + operation.wet)
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
        dry = end + (step.dry if self.happens is None else self.happens.dries(step.dry, end))
        if (
            at + 1 == len(steps)
            and self.happens is not None
            and piece not in self.again
            and self.happens.fails(piece)
        ):
            steps = self._goes_again(piece)
        last = at + 1 == len(steps)
        for wave in self.waves:
            if piece in wave.members:
                wave.pass_on(piece, self.shop, steps, at)
        if step.closes:
            self.floor.close(piece, step.pass_key, dry, last=last)
            self.on.pop(piece, None)
        self.left[step.group] -= step.total
        self.next[piece] = at + 1
        self.total -= 1
        if last:
            self.ended[piece] = dry
            self.floor.end(piece, dry)
            kept = self.kept.pop(piece, None)
            if kept is not None:
                self.held[kept] -= self.shop.along[piece]
            return
        self._comes(piece, dry)


def plan_of(shop: Shop, run: Run) -> Plan:
    """The plan, operation by operation, of what the shop did."""
    people = [p.key for p in shop.problem.people]
    placements = [
        Placement(
            operation=d.operation.key,
            piece=shop.jobs[d.piece].piece,
            kind=d.operation.kind,
            side=d.operation.side,
            pass_key=d.operation.pass_key,
            person=people[d.person],
            gun=d.gun,
            start=d.start,
            end=d.end,
            dry_until=d.end + d.operation.dry,
        )
        for d in run.done
    ]
    placements.sort(key=lambda p: (p.start, p.person, p.end))
    tables = [t.key for t in shop.problem.tables]
    stays = [
        Stay(shop.jobs[piece].piece, pass_key, tables[table], at, along, across, since, until)
        for (piece, pass_key), (lies, since, until) in run.stayed.items()
        for table, at, along, across in lies
    ]
    return Plan(tuple(placements), tuple(sorted(stays, key=lambda s: (s.since, s.table, s.at))))
