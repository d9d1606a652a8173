"""A simulated foreman: minute by minute, whoever is free takes the first work of a rule that can be begun now, and pays every set-up.

He keeps the rules of the room by himself: no dust beside a wet coat in the same air, nothing moved before it has dried, one unbroken stretch of a table a pass, a gun in one hand at a time, windows, pot
life, hours. He begins a wipe-down or tack only if all coats that are then waiting can still be laid on in their windows. What a rule adds is only who takes what first (`readings` for plans,
`rivals` for lists). Real minutes may differ from the minutes on paper: he sees them when the work ends.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable
from heapq import heappop, heappush
from typing import Protocol

from .records import DAY, Costs, Lying, Op, Record, SetUp, Shop, Work
from .shop_floor import Gun, Offer, Person, Piece
from .tables import Place, Tables

FOREVER = 10**9
SPRAYING = frozenset({"colour", "clear"})
"""Families of work in which who has suited up stays so, until another family or the next day."""

Minutes = Callable[[Op], int]


class StuckError(RuntimeError):
    """Nothing more can be begun, and work is left: a rule or a plan that leads nowhere."""


class Rule(Protocol):
    """Who takes what first."""

    def morning(self, foreman: "Foreman", now: int) -> None:
        """A day begins: deal anew."""

    def order(self, foreman: "Foreman", person: Person, now: int) -> Iterable[int]:
        """Numbers of pieces whose next work this person would take, the first first."""

    def place(self, foreman: "Foreman", piece: int) -> Place | None:
        """Where the rule would have the piece lie in the pass that opens; None: anywhere."""


class Foreman:
    """One execution of a rule in a shop."""

    def __init__(
        self, shop: Shop, rule: Rule, costs: Costs | None = None, minutes: Minutes | None = None
    ) -> None:
        self.shop = shop
        self.rule = rule
        self.costs = costs or Costs()
        self.minutes: Minutes = minutes or (lambda op: op.minutes)
        self.care = 1.0 if minutes is None else 1.25
        self.pieces = [Piece(item) for item in shop.items]
        self.people = [Person(n) for n in range(len(shop.hands))]
        self.hours = [hand.hours for hand in shop.hands]
        self.starts = [[a for a, _ in h] for h in self.hours]
        self.closing: dict[int, int] = {}
        for hours in self.hours:
            for a, b in hours:
                self.closing[a // DAY] = max(self.closing.get(a // DAY, 0), b)
        self.guns = [Gun() for _ in range(shop.guns)]
        self.pots: dict[str, int] = {}
        self.wet: dict[str, list[tuple[int, int]]] = {}
        self.dust: dict[str, list[tuple[int, int]]] = {}
        self.tables = Tables(shop.tables)
        self.standing = 0
        self.ready: list[int] = list(range(len(self.pieces)))
        self.events: list[int] = []
        self.queued: set[int] = set()
        self.arrivals: list[tuple[int, int]] = []
        self.leaving: list[tuple[int, int]] = []
        self.cured: list[int] = []
        self.works: list[Work] = []
        self.lying: list[Lying] = []
        self.set_ups: list[SetUp] = []
        self.left = sum(len(item.ops) for item in shop.items)
        self.today = -1

    # --- the day ---------------------------------------------------------------------------------------------------

    def run(self) -> Record:
        """Do all the work; raises StuckError when nothing more can be begun."""
        for hours in self.hours:
            for a, _ in hours:
                self.wake(a)
        for item in self.shop.items:
            for op in item.ops:
                if op.release:
                    self.wake(op.release)
        while self.left:
            if not self.events:
                raise StuckError(f"{self.left} operations are left and nothing can be begun")
            now = heappop(self.events)
            self.queued.discard(now)
            self.settle(now)
            self.hand_out(now)
        for number, piece in enumerate(self.pieces):
            if piece.place is not None:
                self._take_up(number, piece.ready)
        return Record(tuple(self.works), tuple(self.lying), tuple(self.set_ups))

    def wake(self, minute: int) -> None:
        """Look again at `minute`."""
        if minute not in self.queued:
            self.queued.add(minute)
            heappush(self.events, minute)

    def settle(self, now: int) -> None:
        """What happens by itself: work comes to its end, coats dry, cured pieces leave their tables, windows close."""
        while self.arrivals and self.arrivals[0][0] <= now:
            number = heappop(self.arrivals)[1]
            if not self.pieces[number].done:
                self.ready.append(number)
        while self.leaving and self.leaving[0][0] <= now:
            self.cured.append(heappop(self.leaving)[1])
        self.cured = [n for n in self.cured if not self._off(n, now)]
        for spans in (*self.wet.values(), *self.dust.values()):
            spans[:] = [s for s in spans if s[1] > now]
        for person in self.people:
            for number, deadline in list(person.owes.items()):
                if deadline < now and self.pieces[number].ready <= now:
                    self._again(person, number)

    def _again(self, person: Person, number: int) -> None:
        """A window has closed before the coat was on: the work before it is done again."""
        del person.owes[number]
        self.left += 1
        self.pieces[number].next -= 1

    def hand_out(self, now: int) -> None:
        """Everybody who is free takes work."""
        day = now // DAY
        if day != self.today and any(a // DAY == day for a in (s[i] for s, i in self._current(now))):
            self.today = day
            self.rule.morning(self, now)
        for person in sorted(self.people, key=lambda p: (not p.owes, p.number)):
            until = self.until(person, now)
            if person.free > now or until is None:
                continue
            if person.day != day:
                person.day, person.family, person.kind, person.suited = day, "", "", False
            blocked: set[tuple[str, str]] = set()
            for number in self.rule.order(self, person, now):
                op = self.pieces[number].op
                offer = None
                if (op.kind, op.product) not in blocked:
                    offer = self.offer(person, number, now, until, blocked)
                if offer is not None:
                    self.begin(person, offer, now)
                    break

    def _current(self, now: int) -> list[tuple[list[int], int]]:
        found = []
        for starts in self.starts:
            index = bisect_right(starts, now) - 1
            if index >= 0:
                found.append((starts, index))
        return found

    def until(self, person: Person, now: int) -> int | None:
        """The end of the stretch in which this person works now; None when they are not there."""
        index = bisect_right(self.starts[person.number], now) - 1
        if index < 0 or self.hours[person.number][index][1] <= now:
            return None
        return self.hours[person.number][index][1]

    # --- what can be begun ------------------------------------------------------------------------------------------

    def offer(
        self, person: Person, number: int, now: int, until: int, blocked: set[tuple[str, str]]
    ) -> Offer | None:
        """The next work on a piece for this person now, with its set-ups; None when it cannot be begun or not be ended in time.

        What hinders every such work now, whatever the piece, is added to `blocked` (kind, product).
        """
        piece, hand = self.pieces[number], self.shop.hands[person.number]
        op = piece.op
        if op.release > now or not hand.can(op.kind):
            return None
        if any(number in other.owes for other in self.people if other is not person):
            return None
        gun = self._gun(person, op, now)
        if op.gun and gun is None:
            blocked.add((op.kind, op.product))
            return None
        set_ups = self.set_ups_for(person, op, gun, now)
        start = now + sum(minutes for _, minutes in set_ups)
        if start + op.minutes > until:
            return None
        opens = piece.opens and piece.place is None
        if opens and self.shop.air:
            airs = {self.shop.air.get(table, "") for table in self.shop.tables}
            airs = {air for air in airs if self._clean(person, op, air, start)}
        else:
            airs = {self._air(number)}
            if not self._clean(person, op, *airs, start):
                if not self.shop.air and self._never_clean(person, op, start):
                    blocked.add((op.kind, op.product))
                return None
        follows = piece.item.ops[piece.next + 1] if op.window is not None else None
        first = person.owes and min(person.owes, key=lambda n: person.owes[n]) == number
        if (
            (person.owes or follows)
            and not first
            and not self._kept(person, op, number, gun, start, until, follows)
        ):
            return None
        place = self._find(number, airs) if opens else None
        if opens and place is None:
            return None
        return Offer(number, start, set_ups, gun, place)

    def set_ups_for(self, person: Person, op: Op, gun: int | None, now: int) -> tuple[tuple[str, int], ...]:
        """What must be set up before this work, in order: change of family, pot, gun, suit."""
        costs, found = self.costs, []
        if person.family and person.family != op.family and costs.change:
            found.append(("change", costs.change))
        if op.mixed and costs.mix and self.pots.get(op.product, -1) < now + op.minutes:
            found.append(("mix", costs.mix))
        if op.gun and gun is not None:
            held = self.guns[gun]
            if held.day == now // DAY and held.loaded != op.product and costs.flush:
                found.append(("flush", costs.flush))
            if not person.suited and costs.suit:
                found.append(("suit", costs.suit))
        return tuple(found)

    def _gun(self, person: Person, op: Op, now: int) -> int | None:
        if not op.gun:
            return None
        free = [n for n, g in enumerate(self.guns) if g.free <= now]
        spoken_for = sum(
            any(self.pieces[n].op.gun for n in other.owes) for other in self.people if other is not person
        )
        if len(free) <= spoken_for:
            return None
        return min(
            free,
            key=lambda n: (
                self.guns[n].day == now // DAY and self.guns[n].loaded != op.product,
                self.guns[n].day != now // DAY,
                n,
            ),
        )

    def _air(self, number: int) -> str:
        lies = self.pieces[number].place
        return self.shop.air.get(lies[0] if lies else "", "")

    def _clean(self, person: Person, op: Op, air: str, start: int) -> bool:
        """True when dust and wet coats do not meet: dust waits for coats that are wet, or waited for; a coat waits for dust."""
        if not op.dusty and not op.wet:
            return True
        end = start + op.minutes
        if op.dusty:
            if any(a < end and start < b for a, b in self.wet.get(air, ())):
                return False
            return not any(
                self._air(owed) == air for other in self.people if other is not person for owed in other.owes
            )
        return not any(a < end + op.wet and start < b for a, b in self.dust.get(air, ()))

    def _never_clean(self, person: Person, op: Op, start: int) -> bool:
        """True when no such work can begin at `start` in the one air, however short it is."""
        spans = self.wet if op.dusty else self.dust
        owed = op.dusty and any(other.owes for other in self.people if other is not person)
        return owed or any(a <= start < b for a, b in spans.get("", ()))

    def _kept(
        self, person: Person, op: Op, number: int, gun: int | None, start: int, until: int, follows: Op | None
    ) -> bool:
        """True when this work leaves time for every coat that is then owed, earliest deadline first, with its set-ups, before the next break."""
        costs, t = self.costs, start + round(op.minutes * self.care)
        owed = sorted((minute, n) for n, minute in person.owes.items() if n != number)
        coats = [(minute, self.pieces[n].op) for minute, n in owed]
        if follows is not None:
            assert op.window is not None
            coats.append((start + op.minutes + op.window, follows))
            if follows.gun and not self._gun_to_come(person):
                return False
        family, mixed = op.family, {op.product} if op.mixed else set()
        suited = op.gun or (person.suited and op.family in SPRAYING)
        loaded = ["" if g.day != start // DAY else g.loaded for g in self.guns]
        if gun is not None:
            loaded[gun] = op.product
        dusty = max((b for spans in self.dust.values() for _, b in spans), default=0)
        for deadline, coat in coats:
            if coat.gun:
                t = max(t, min(g.free for g in self.guns))
            t += costs.change * (family != coat.family)
            if coat.mixed and coat.product not in mixed and self.pots.get(coat.product, -1) < t + 60:
                t += costs.mix
            mixed.add(coat.product)
            if coat.gun:
                t += costs.suit * (not suited)
                if coat.product not in loaded:
                    t += costs.flush * ("" not in loaded)
                    loaded[loaded.index("") if "" in loaded else 0] = coat.product
            suited, family = suited or coat.gun, coat.family
            t = max(t, dusty if coat.wet else 0)
            if t > deadline or t + round(coat.minutes * self.care) > until:
                return False
            t += round(coat.minutes * self.care)
        return True

    def _gun_to_come(self, person: Person) -> bool:
        """True when a gun is left for a coat that this person would owe."""
        others = (p for p in self.people if p is not person)
        return len(self.guns) > sum(any(self.pieces[n].op.gun for n in p.owes) for p in others)

    # --- tables -----------------------------------------------------------------------------------------------------

    def _find(self, number: int, airs: set[str]) -> Place | None:
        """A free stretch for a piece in one of these airs: where the rule would have it, else the tightest that holds it."""
        ways = [w for w in self.pieces[number].item.ways if self.shop.air.get(w[0], "") in airs]
        wished = self.rule.place(self, number)
        if wished is not None and self.shop.air.get(wished[0], "") not in airs:
            wished = None
        return self.tables.find(ways, wished)

    def _lay(self, number: int, place: Place, now: int) -> None:
        piece = self.pieces[number]
        self.tables.lay(number, place)
        piece.place, piece.since = place, now
        if piece.in_rack:
            piece.in_rack = False
            self.standing -= 1

    def _take_up(self, number: int, now: int) -> None:
        piece = self.pieces[number]
        assert piece.place is not None
        self.tables.take_up(number, piece.place)
        self.lying.append(Lying(piece.item.piece, piece.stay, *piece.place, piece.since, now))
        piece.place = None

    def _off(self, number: int, now: int) -> bool:
        """Take a cured piece off its table, into the rack where there is room; False when it must lie on."""
        piece = self.pieces[number]
        if piece.done and piece.ready > now:
            return False
        if piece.done and piece.in_rack:
            piece.in_rack = False
            self.standing -= 1
        if piece.place is None or not (piece.done or piece.item.ops[piece.next - 1].stay == piece.stay):
            return True
        if not piece.done and self.shop.rack is not None and self.standing >= self.shop.rack:
            return False
        self._take_up(number, now)
        if not piece.done:
            piece.in_rack = True
            self.standing += 1
        return True

    # --- doing it ---------------------------------------------------------------------------------------------------

    def begin(self, person: Person, offer: Offer, now: int) -> None:
        """Set up, and do the work."""
        piece = self.pieces[offer.piece]
        op = piece.op
        at = now
        name = self.shop.hands[person.number].key
        for what, minutes in offer.set_ups:
            self.set_ups.append(SetUp(name, what, at, at + minutes))
            at += minutes
            if what == "mix":
                self.pots[op.product] = at + self.shop.pots.get(op.product, DAY // 2)
        minutes = self.minutes(op)
        start, end = offer.start, offer.start + minutes
        if piece.opens:
            if piece.place is not None:
                place = piece.place
                self.cured = [n for n in self.cured if n != offer.piece]
                self._take_up(offer.piece, now)
                self._lay(offer.piece, place, now)
            else:
                assert offer.place is not None
                self._lay(offer.piece, offer.place, now)
            piece.stay = op.stay
        if offer.gun is not None:
            gun = self.guns[offer.gun]
            gun.free, gun.loaded, gun.day = end, op.product, now // DAY
        self._air_of(op, offer.piece, start, end)
        lies = piece.place if op.stay else None
        self.works.append(Work(op, start, end, name, *(lies or ("", 0.0, 0.0)), gun=offer.gun))
        person.free, person.family, person.kind = end, op.family, op.kind
        person.suited = op.gun or (person.suited and op.family in SPRAYING)
        person.owes.pop(offer.piece, None)
        if op.window is not None:
            person.owes[offer.piece] = end + op.window
            self.wake(end + op.window + 1)
        self.left -= 1
        self.wake(end)
        self._go_on(offer.piece, end)

    def _air_of(self, op: Op, number: int, start: int, end: int) -> None:
        air = self._air(number)
        if op.wet:
            self.wet.setdefault(air, []).append((start, end + op.wet))
            self.wake(end + op.wet)
        if op.dusty:
            self.dust.setdefault(air, []).append((start, end))

    def _go_on(self, number: int, end: int) -> None:
        piece = self.pieces[number]
        op = piece.op
        dry = end + op.dry
        piece.next += 1
        piece.ready = dry
        self.ready.remove(number)
        heappush(self.arrivals, (dry, number))
        self.wake(dry)
        if op.stay and (piece.done or piece.op.stay != op.stay):
            heappush(self.leaving, (dry, number))
        if piece.done and not op.stay:
            heappush(self.leaving, (end, number))


def execute(shop: Shop, rule: Rule, costs: Costs | None = None, minutes: Minutes | None = None) -> Record:
    """What the foreman does with a rule in a shop."""
    return Foreman(shop, rule, costs, minutes).run()
