"""The shop while it runs: what waits, who is free, what is wet, and what joins the wave of the day."""

from bisect import bisect_right, insort
from dataclasses import replace
from heapq import heappush

from ..problem.calendar import DAY, ShopDay
from ..problem.kinds import COATS
from ..problem.model import Held
from .floor import Curing, Floor
from .hands import Gun, Hands, Loads
from .policy import Policy
from .runs import MORNING, NEVER, Chances, Done, Follow, Start
from .steps import BEFORE, Shop, Step
from .wave import Wave, loads

PLANNED = 0.8
"""What has its day today in the plan that is followed is believed to take so much less than estimated: the plan shows that it fits."""
AGAIN = 20
"""min after which a piece that found no room in the wave is asked again."""
MORE_CHANGES = 1000
"""Changes of a gun a day where things go as they may."""


class Morning:
    """The state of one run, and how each day begins."""

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
        # Where things go as they may, a gun is flushed once more rather than a day lost.
        self.rules = shop.rules if happens is None else replace(shop.rules, changes=MORE_CHANGES)
        self.happens = happens
        self.follow = follow
        self.hours = shop.hours if happens is None else happens.hours
        self.ends = shop.ends if happens is None else [[b for _, b in hours] for hours in self.hours]
        self.steps = shop.steps if happens is None else list(shop.steps)
        self.again: set[int] = set()
        self.pending: dict[str, list[int]] = {}
        self.over: dict[str, int] = {}
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
        self.hands = [Hands(free=start.busy.get(n, start.now)) for n in range(len(self.hours))]
        self.guns = [Gun() for _ in range(shop.problem.guns)]
        self.loads = Loads()
        airs = len(shop.airs)
        self.wet = [start.wet.get(a, 0) for a in range(airs)]
        self.dust = [start.dust.get(a, 0) for a in range(airs)]
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
        for number, until in start.guns_busy.items():
            self.guns[number].free = until
        self.loads.open.update(start.loads)
        self.loads.count.update(start.mixed)
        self._expect()
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
            self._wake(person, start.busy.get(person, start.now))
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

    def _expect(self) -> None:
        """Note what other pieces wait for: what is left of it is pending, what was done is over when it has dried."""
        wanted = {name for steps in self.steps for step in steps for name in step.after}
        if not wanted:
            return
        for piece, (job, steps) in enumerate(zip(self.shop.jobs, self.steps, strict=True)):
            left = {o.key for step in steps for o in step.operations}
            for name in wanted & {job.piece, *(o.key for o in job.operations)}:
                if name in left or (name == job.piece and left):
                    self.pending[name] = []
                else:
                    state = self.start.begun.get(piece)
                    self.over[name] = state.ready if state is not None else 0

    def _ended(self, name: str, dry: int) -> None:
        """Something is over that others may wait for."""
        if name not in self.pending:
            return
        self.over[name] = dry
        for piece in self.pending.pop(name):
            self._comes(piece, self.ready_at[piece])

    def _comes(self, piece: int, ready: int) -> None:
        step = self.steps[piece][self.next[piece]]
        ready = max(ready, step.release)
        for name in step.after:
            if name in self.pending:
                self.ready_at[piece] = ready
                self.pending[name].append(piece)
                return
            ready = max(ready, self.over.get(name, 0))
        if self.follow is not None:
            key = step.operations[0].key
            planned = self.follow.starts.get(key)
            if planned is not None and piece not in self.follow.loose:
                ready = max(ready, int(planned) - self.follow.lead - self.follow.early.get(key, 0))
        self.ready_at[piece] = ready
        heappush(self.events, (ready, piece))

    def _wake(self, person: int, at: int) -> None:
        place = bisect_right(self.ends[person], at)
        hours = self.hours[person]
        if place < len(hours):
            heappush(self.events, (max(at, hours[place][0]), -1 - person))

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
                or (self.follow.after and self.today is not None and planned < self.today.opening)
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
            if self.follow.after:
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
            (piece not in self.half, self.prios[piece], piece)
            for piece, pass_key in self.on.items()
            if self.air[piece] == air and pass_key != "prep" and piece not in self.waves[air].members
        )
        for piece in (piece for _, _, piece in there):
            if self.next[piece] < len(self.steps[piece]):
                kept = self.kept.pop(piece, None)
                if kept is not None:
                    self.held[kept] -= self.shop.along[piece]
                step = self.steps[piece][self.next[piece]]
                half = self.shop.groups[step.group].wave and piece in self.half
                self._joins(piece, air, max(self.today.opening, self.start.now), forced=half)
                if half and not fresh:
                    self.under[air] = True

    def _planned_coat(self, piece: int) -> float | None:
        """When the plan that is followed has this piece in the wave of its pass; None where it need not follow it."""
        if self.follow is None or piece in self.follow.loose:
            return None
        steps, at = self.steps[piece], self.next[piece]
        for step in steps[at:]:
            if step.pass_key != steps[at].pass_key:
                break
            if self.shop.groups[step.group].wave:
                return self.follow.starts.get(step.operations[0].key)
        return None

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
        due = self._planned_coat(piece)
        if due is not None and due >= today.closing and not forced:
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
        if (self.pending or self.over) and any(
            name in self.pending or self.over.get(name, 0) >= today.closing
            for s in steps[at:]
            if s.pass_key == steps[at].pass_key
            for name in s.after
        ):
            return False
        begin = max(now, self.opens if self.opens < NEVER else now)
        rules = self.rules
        setups = 2 * rules.load + rules.flush + 2 * rules.suit + 4 * rules.change
        needed = self.policy.span * wave.estimate(self.people, setups, loads(self.shop, steps, at))
        left = today.left(begin)
        if due is not None and due >= today.opening:
            needed *= PLANNED
        if needed > left and not forced:
            alone = not wave.members and needed > today.minutes - 30
            if not (self.relaxed or (alone and now - today.opening < 90)):
                self.refused[piece] = now + AGAIN
                return False
        wave.add(piece, self.shop, steps, at)
        if wave.colour is None:
            wave.colour = colour
        return True
