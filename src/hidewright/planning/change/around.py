"""The foreman who works around what the other jobs hold: their hands, guns, stretches and places are theirs, to the minute.

When a piece is laid down nobody knows yet how long it will lie. So a stretch is taken only where nobody else needs it for some days (`reach`); a run in which a piece lay too long is done again
with a longer reach for that piece.
"""

from bisect import bisect_left, bisect_right, insort
from collections.abc import Mapping, Sequence
from dataclasses import replace
from heapq import heappush
from itertools import pairwise

from hidewright.refusals import Refusal

from ..problem.calendar import DAY, ShopDay, open_hours, shop_days
from ..problem.kinds import COATS, product_of
from ..problem.model import GAP, Problem
from ..solve.floor import OPEN
from ..solve.foreman import Foreman
from ..solve.lister import Lister
from ..solve.policy import Listing, Policy
from ..solve.runs import Follow, Run, Start
from ..solve.steps import Group, Shop, Step
from .holds import CLEAR, Holds, Lain, Spray, overlapping

REACH = 2 * DAY
"""min for which a stretch must be free where nothing else is known."""
AGAIN = 8
"""How often a run is done again because a piece lay too long."""
WAKE = 15
"""min, to whole ones of which the moments are rounded up at which what the others held is looked at again."""
LOOK = 30
"""min for which a piece that found no place does not look again, while none of the job's own is freed."""
RACKS = 7 * DAY
"""min for which the places of the others in the racks are left to them."""


def shop_days_of(shop: Shop, whole: Problem, since: int) -> None:
    """Give the shop the days of the whole shop from `since` on, with the hours that are left to it: where all hands are held there is still a day."""
    left = shop_days(open_hours(shop.problem.calendar, shop.problem.people))
    parts = [stretch for day in left for stretch in day.stretches]
    starts, ends = [a for a, _ in parts], [b for _, b in parts]
    days: list[ShopDay] = []
    for day in shop_days(open_hours(whole.calendar, whole.people)):
        if day.closing > since:
            inside = tuple(parts[bisect_right(ends, day.opening) : bisect_left(starts, day.closing)])
            days.append(replace(day, stretches=inside))
    shop.days = tuple(days)
    shop.openings = [day.opening for day in days]


class Around(Foreman):
    """One run of one job's work in the shop, around what the others hold."""

    def __init__(
        self,
        shop: Shop,
        policy: Policy,
        start: Start,
        holds: Holds,
        reach: Mapping[int, int],
        *,
        follow: Follow | None = None,
    ) -> None:
        self.holds, self.reach = holds, reach
        self.clears = sorted(
            (s.start, s.end) for sprays in holds.guns.values() for s in sprays if s.product == CLEAR
        )
        lains = (
            (index, lain)
            for index, table in enumerate(shop.problem.tables)
            for lain in holds.tables.get(table.key, ())
        )
        self.lains = sorted(lains, key=lambda each: each[1].since)
        self.uses = {gun: [s.start for s in sprays] for gun, sprays in holds.guns.items()}
        super().__init__(shop, policy, start, follow=follow)
        self.places = self.floor.rack
        self._racks(start.now)
        for minute in sorted({-(-minute // WAKE) * WAKE for minute in holds.ends}):
            if minute > start.now and self._anybody(minute):
                heappush(self.events, (minute, len(self.steps) + 999))
        self.hour = -1
        self.lain: list[tuple[int, Lain]] = []
        self.since: list[int] = []
        self.full: dict[int, tuple[int, int]] = {}

    def _anybody(self, minute: int) -> bool:
        """Whether any hands are left to the job at a minute: at others there is nothing to look at again."""
        for hours, ends in zip(self.hours, self.ends, strict=True):
            place = bisect_right(ends, minute)
            if place < len(hours) and hours[place][0] <= minute:
                return True
        return False

    def _racks(self, now: int) -> None:
        if self.places is not None:
            self.floor.rack = max(0, self.places - self.holds.standing(now, now + RACKS))

    def _new_day(self, now: int) -> None:
        before = self.day
        super()._new_day(now)
        if self.day != before:
            self._racks(now)

    def _fits(
        self, pieces: Sequence[int], group: Group, person: int, gun: int | None, now: int, until: int
    ) -> list[tuple[int, int, int, bool]] | None:
        if CLEAR in group.products and not self._clear_may(now):
            return None
        if gun is not None:
            starts = self.uses.get(gun, ())
            coming = bisect_right(starts, now)
            until = until if coming == len(starts) else min(until, starts[coming] - self.rules.flush)
        times = super()._fits(pieces, group, person, gun, now, until)
        if times is None or not (group.dusty or group.coats):
            return times
        for number, index, begin, _ in times:
            piece = pieces[number]
            operation = self.steps[piece][self.next[piece]].operations[index]
            end = begin + operation.minutes
            for air in self._airs(piece):
                if operation.kind in self.rules.dusty and overlapping(
                    self.holds.wet.get(air, ()), begin, end
                ):
                    return None
                if operation.kind in COATS and overlapping(
                    self.holds.dust.get(air, ()), begin, end + operation.wet
                ):
                    return None
        return times

    def _airs(self, piece: int) -> Sequence[str]:
        """The air in which a piece lies; all of them where it lies nowhere yet."""
        return self.shop.airs if self.on.get(piece) is None else (self.shop.airs[self.air[piece]],)

    def _clear_may(self, now: int) -> bool:
        """Clear is one mix for all: it is used after the others have used theirs that day, out of what is open."""
        if self.today is None:
            return True
        first = bisect_left(self.clears, (self.today.opening, 0))
        today = self.clears[first : bisect_left(self.clears, (self.today.closing, 0))]
        if not today:
            return True
        if now < max(end for _, end in today):
            return False
        life = self.shop.lives.get(CLEAR)
        opened, until = today[0][0], today[0][0]
        for start, end in today:
            if until < end:
                opened, until = start, start + (life if life is not None else 10**9)
        mine = self.loads.open.get(CLEAR)
        if mine is None or mine[0] < opened:
            self.loads.open[CLEAR] = (opened, until)
        return True

    def _gun(self, product: str, now: int) -> int | None:
        best: tuple[tuple[bool, bool, int, int], int, str] | None = None
        for number, gun in enumerate(self.guns):
            if gun.free > now:
                continue
            theirs = self._today_on(number)
            if any(s.start - self.rules.flush <= now < s.end for s in theirs):
                continue
            before = [s for s in theirs if s.end <= now]
            coming = next((s for s in theirs if s.start > now), None)
            inside = gun.product
            if before and (not gun.product or before[-1].end > gun.free):
                inside = before[-1].product
            # The next to use it left no time for a rinse that it did not need.
            unready = not before or (coming is not None and before[-1].product == coming.product)
            if coming is not None and coming.product != product and unready:
                continue
            changes = self._changes(number, theirs, product, now)
            if changes > self.rules.changes:
                continue
            rank = (bool(inside) and inside != product, not inside, changes, number)
            if best is None or rank < best[0]:
                best = (rank, number, inside)
        if best is None:
            return None
        self.guns[best[1]].product = best[2]
        return best[1]

    def _today_on(self, gun: int) -> list[Spray]:
        today = self.today
        if today is None:
            return []
        starts = self.uses.get(gun, ())
        here = slice(bisect_left(starts, today.opening), bisect_left(starts, today.closing))
        return list(self.holds.guns.get(gun, ())[here])

    def _changes(self, gun: int, theirs: Sequence[Spray], product: str, now: int) -> int:
        """Changes of product that this gun would have today, the others' later ones included."""
        if not theirs:
            own = self.guns[gun]
            return own.changes + (bool(own.product) and own.product != product)
        assert self.today is not None
        uses = [(s.start, s.product) for s in theirs] + [(now, product)]
        for done in reversed(self.done):
            if done.start < self.today.opening:
                break
            if done.gun == gun:
                colour = self.shop.jobs[done.piece].colour
                uses.append((done.start, product_of(done.operation.kind, colour) or ""))
        uses.sort()
        return sum(a[1] != b[1] for a, b in pairwise(uses))

    def _lie(self, piece: int, step: Step, group: Group, air: int, now: int) -> bool:
        if not step.opens:
            return super()._lie(piece, step, group, air, now)
        if self.full.get(piece) == (self.floor.freed, now // LOOK):
            return False
        until = now + self.reach.get(piece, REACH)
        lains = self._lain_from(now)
        kept = [
            (index, (lain.at, lain.end, OPEN))
            for index, lain in lains[: bisect_left(self.since, until)]
            if lain.until > now
        ]
        for index, stretch in kept:
            insort(self.floor.tables[index], stretch)
        try:
            lies = super()._lie(piece, step, group, air, now)
            if not lies:
                self.full[piece] = (self.floor.freed, now // LOOK)
            return lies
        finally:
            for index, stretch in kept:
                self.floor.tables[index].remove(stretch)
            if kept:
                self.floor.no_place.pop(piece, None)

    def _lain_from(self, now: int) -> list[tuple[int, Lain]]:
        """The stretches that are held from about now on, with the index of their table, by the minute from which they are."""
        if self.hour != now // 60:
            self.hour = now // 60
            since = self.hour * 60
            self.lain = [each for each in self.lains if each[1].until > since]
            self.since = [lain.since for _, lain in self.lain]
        return self.lain


class ListAround(Around, Lister):
    """The same by a list: whoever is free takes the first work of the list that can be begun beside what the others hold."""

    policy: Listing

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
        """By way of `_do`, which asks what the others hold."""
        return self._do(person, [piece], group, gun, now, until, air, number)


def run_around(
    shop: Shop,
    policy: Policy,
    start: Start,
    holds: Holds,
    *,
    follow: Follow | None = None,
    limit: int | None = None,
    known: Mapping[int, int] | None = None,
) -> tuple[Run, dict[int, int]] | None:
    """One run in which no piece lies where another job's does, with the reach of each piece that it took (`known` from runs before); None where none was found, or when it goes on after `limit`."""
    reach = dict(known or {})
    kind = ListAround if isinstance(policy, Listing) else Around
    for _ in range(AGAIN):
        try:
            run = kind(shop, policy, start, holds, reach, follow=follow).run(
                None if limit is None else limit.__lt__
            )
        except Refusal:
            return None
        if run is None:
            return None
        longer = _too_long(shop, run, holds)
        if not longer:
            return run, reach
        if all(reach.get(piece, REACH) >= minutes for piece, minutes in longer.items()):
            return None
        reach |= {piece: max(minutes, reach.get(piece, REACH)) for piece, minutes in longer.items()}
    return None


def _too_long(shop: Shop, run: Run, holds: Holds) -> dict[int, int]:
    """The pieces that lie where another job's come to lie, each with the reach that would have shown it."""
    found: dict[int, int] = {}
    for (piece, _), (lies, since, until) in run.stayed.items():
        for table, at, along, _ in lies:
            held = holds.tables.get(shop.problem.tables[table].key, ())
            for lain in held[: bisect_right([each.since for each in held], until)]:
                apart = lain.end <= at + 1e-9 or at + along + GAP <= lain.at + 1e-9
                if lain.since < until and lain.until > since and not apart:
                    found[piece] = max(found.get(piece, 0), lain.since - since + 1)
    return found
