"""Rivals of the planner: rules that a careful person could follow with a list in hand, carried out by the same foreman and paying the same set-ups.

Each is made as strong as it honestly can be: it is tried with several settings, and the one that ends first counts (`best_rival`). None looks ahead further than a person with a list would.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .foreman import Foreman, StuckError
from .records import DAY, Costs, Item, Op, Record, Shop, Stretch
from .shop_floor import Person

ROUTE = (
    "strip",
    "clean",
    "repair",
    "mask",
    "turn",
    "wipe down",
    "wipe in colour",
    "prime",
    "spray colour",
    "sand",
    "tack",
    "spray second coat",
    "spray clear",
    "unmask",
    "inspect",
)
STAGE = {kind: number for number, kind in enumerate(ROUTE)}
COATING = frozenset(ROUTE[5:13])


@dataclass(frozen=True, slots=True)
class Habit:
    """What a list says beside its order.

    `barrier`: no piece begins a pass before all have ended the stage before; `stick`: stay with one kind of work as long as any of it is ready; `fits`: a coating pass is begun only while so many times
    its span still fits today (0: at any time); `prep_days`: how many days at first are for stripping and cleaning only; `small`: small turned pieces first; `least`: nobody changes to a family with
    fewer minutes than this ready, unless nothing else is; `wave`: nothing is wiped down while a first coat waits for its second or its clear.
    """

    name: str
    barrier: bool = False
    stick: bool = False
    slack: bool = False
    fits: float = 0.0
    prep_days: int = 0
    small: bool = False
    least: int = 0
    wave: bool = False


STAGE_BY_STAGE = (
    Habit("stage by stage", barrier=True, stick=True),
    Habit("stage by stage, waves that fit today", barrier=True, stick=True, fits=1.0),
    Habit("stage by stage, small first", barrier=True, stick=True, fits=1.35, small=True),
)
CAREFUL = (
    Habit("careful list", slack=True),
    Habit("careful list, passes that fit today", slack=True, fits=1.0),
)
ONE_RULE = (
    Habit("one rule", stick=True, small=True, fits=1.35),
    Habit("one rule, a first day of preparing", stick=True, small=True, fits=1.35, prep_days=1),
    Habit("one rule, no small changes", stick=True, small=True, fits=1.35, least=15),
    Habit(
        "one rule, preparing first, no small changes",
        stick=True,
        small=True,
        fits=1.35,
        prep_days=1,
        least=15,
    ),
)
"""The list of one rule as the issue words it, and with habits that have helped."""
WAVES = (
    Habit("waves", stick=True, fits=1.35, wave=True),
    Habit("waves, small first", stick=True, small=True, fits=1.15, wave=True),
    Habit("waves, as long as they fit", stick=True, small=True, fits=1.0, wave=True),
)
"""A list of our own: what is wiped down and sprayed together goes through all its coats before another wave begins."""


class ListRule:
    """A rule from a habit."""

    def __init__(self, shop: Shop, habit: Habit) -> None:
        self.habit = habit
        self.open = shop.open
        self.days: dict[int, Stretch] = {}
        for a, b in self.open:
            self.days[a // DAY] = (self.days.get(a // DAY, (a, b))[0], b)
        self.spans = {item.piece: _spans(item) for item in shop.items}
        self.turned = {item.piece: len({o.stay for o in item.ops} - {"", "prep"}) > 1 for item in shop.items}
        self.size = {item.piece: min(along for _, along in item.ways) for item in shop.items}
        self.tails = (
            {item.piece: latest_starts(item, self.open) for item in shop.items} if habit.slack else {}
        )
        self.first_days = sorted({a // DAY for a, _ in self.open})[: habit.prep_days]

    def morning(self, foreman: Foreman, now: int) -> None:
        """A list is not dealt out."""

    def place(self, foreman: Foreman, piece: int) -> None:
        """A list says nothing about places."""

    def order(self, foreman: Foreman, person: Person, now: int) -> Iterable[int]:
        """Ready pieces, the first first."""
        lowest = min((_pass(p.op) for p in foreman.pieces if not p.done), default=0)
        allowed = [n for n in foreman.ready if self._may(foreman, n, now, lowest)]
        if self.habit.slack:
            return sorted(allowed, key=lambda n: self._slack(foreman, n))
        pressing: dict[str, int] = {}
        for number in allowed:
            op = foreman.pieces[number].op
            pressing[op.family] = pressing.get(op.family, 0) + op.minutes
        return sorted(allowed, key=lambda n: self._key(foreman, n, person, pressing))

    def _slack(self, foreman: Foreman, number: int) -> tuple[int, int]:
        piece = foreman.pieces[number]
        return self.tails[piece.item.piece][piece.next], number

    def _key(
        self, foreman: Foreman, number: int, person: Person, pressing: dict[str, int]
    ) -> tuple[object, ...]:
        piece, habit = foreman.pieces[number], self.habit
        op = piece.op
        goes_on = op.kind == person.kind or (op.kind, person.kind) in TOGETHER
        slight = op.family != person.family and pressing[op.family] < habit.least
        stage = STAGE.get(op.kind, 99)
        size = self.size[piece.item.piece]
        first = (not self.turned[piece.item.piece], size) if habit.small else (False, 0.0)
        return (
            habit.stick and not goes_on,
            op.family != person.family,
            slight,
            stage,
            _pass(op),
            *first,
            number,
        )

    def _may(self, foreman: Foreman, number: int, now: int, lowest: int) -> bool:
        piece, habit = foreman.pieces[number], self.habit
        op = piece.op
        if any(number in p.owes for p in foreman.people):
            return True
        if habit.barrier and piece.opens and lowest < _pass(op):
            return False
        coating = op.stay not in ("", "prep")
        if coating and lowest == 0 and now // DAY in self.first_days:
            return False
        if (
            habit.wave
            and op.kind == "wipe down"
            and any(p.op.kind in MID for p in foreman.pieces if not p.done)
        ):
            return False
        begins = op.kind == "wipe down" or (piece.opens and coating)
        if habit.fits and begins:
            left = foreman.closing.get(now // DAY, 0) - now
            return habit.fits * self.spans[piece.item.piece][piece.next] <= left or self._too_long(
                foreman, number, now
            )
        return True

    def _too_long(self, foreman: Foreman, number: int, now: int) -> bool:
        """True for a pass that fits into no day: it may begin in the first hour of one."""
        piece = foreman.pieces[number]
        opening, closing = self.days.get(now // DAY, (0, 0))
        span = self.spans[piece.item.piece][piece.next]
        return self.habit.fits * span > closing - opening and now - opening < 60


MID = frozenset({"sand", "tack", "spray second coat", "spray clear"})
TOGETHER = frozenset({("tack", "sand"), ("wipe in colour", "wipe down")})
"""Work that goes on with what was done before as one kind: (next, before)."""


def _pass(op: Op) -> int:
    return {"prep": 0, "front": 1, "back": 2, "": 3}.get(op.stay, 1)


def _spans(item: Item) -> list[int]:
    """For each operation, minutes from its start to the end of the last work of its pass, if nothing came between."""
    spans: list[int] = []
    span = 0
    for op, after in zip(reversed(item.ops), [None, *reversed(item.ops)], strict=False):
        span = op.minutes if after is None or after.stay != op.stay else op.minutes + op.dry + span
        spans.append(span)
    return spans[::-1]


def latest_starts(item: Item, open_: Sequence[Stretch], end: int = 28 * DAY) -> list[int]:
    """For each operation, the latest start from which all can still be done by `end` if nothing is in the way."""
    found: list[int] = []
    limit = end
    for op in reversed(item.ops):
        latest = limit - op.dry
        starts = [min(b, latest) - op.minutes for a, b in open_ if a + op.minutes <= min(b, latest)]
        limit = starts[-1] if starts else latest - op.minutes
        found.append(limit)
    return found[::-1]


def follow(shop: Shop, habit: Habit, costs: Costs | None = None) -> Record:
    """What comes of a habit."""
    return Foreman(shop, ListRule(shop, habit), costs).run()


def best_rival(shop: Shop, habits: Sequence[Habit], costs: Costs | None = None) -> tuple[Habit, Record]:
    """The habit of these that ends first."""
    found: list[tuple[Habit, Record]] = []
    for habit in habits:
        try:
            found.append((habit, follow(shop, habit, costs)))
        except StuckError:
            continue
    if not found:
        raise StuckError("none of these lists comes to an end")
    return min(found, key=lambda each: each[1].finish)
