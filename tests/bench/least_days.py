"""A bound of the yardstick's own: the first working day on which all could be done, by counting work, set-ups that cannot be spared, nights on the tables, the one air and the longest piece.

Each part holds for every way of working that keeps the rules of the room, so no plan and no foreman can end before it. It is a relaxation: the true best may be later.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

from .records import DAY, GAP, Costs, Item, Op, Shop


@dataclass(frozen=True, slots=True)
class Least:
    """All ends on working `day` (from 1) at the earliest, and what says so in a word."""

    day: int
    why: str


def least_days(shop: Shop, costs: Costs | None = None) -> Least:
    """The latest of all that can be counted."""
    costs = costs or Costs()
    return max(
        (
            Least(_longest_piece(shop), "the longest piece"),
            Least(_table_nights(shop) + 1, "nights on the tables"),
            Least(_hands(shop, costs), "hands with set-ups"),
            Least(_air(shop), "dust and coats in one air"),
        ),
        key=lambda least: least.day,
    )


def _open_days(shop: Shop) -> list[tuple[int, int]]:
    """Opening and closing of each working day."""
    days: dict[int, tuple[int, int]] = {}
    for a, b in shop.open:
        first, last = days.get(a // DAY, (a, b))
        days[a // DAY] = (min(first, a), max(last, b))
    return [days[day] for day in sorted(days)]


def _longest_piece(shop: Shop) -> int:
    return max(shop.days_until(_alone(shop, item)) for item in shop.items)


def _alone(shop: Shop, item: Item) -> int:
    """The minute at which a piece could be done if everybody waited for it."""
    at = 0
    for op in item.ops:
        at = max(at, op.release)
        a = next(max(a, at) for a, b in shop.open if max(a, at) + op.minutes <= b)
        at = a + op.minutes + op.dry
    return at - item.ops[-1].dry


def _closings(item: Item) -> Iterable[Op]:
    """The last operation of each pass on a table."""
    for op, after in zip(item.ops, [*item.ops[1:], None], strict=True):
        if op.stay and (after is None or after.stay != op.stay):
            yield op


def _table_nights(shop: Shop) -> int:
    """On how many different days passes must end that then hold their table until the shop opens again; 0 where there is none.

    A pass whose last coat dries longer than the shop is open holds its stretch over the next night, so a stretch sees one such end a day.
    """
    days = _open_days(shop)
    longest = max(b - a for a, b in days)
    metres = sum(length + GAP for length in shop.tables.values())
    needed = sum(
        (min(along for _, along in item.ways) + GAP) * sum(op.dry >= longest for op in _closings(item))
        for item in shop.items
    )
    return ceil(needed / metres - 1e-9)


def _hands(shop: Shop, costs: Costs) -> int:
    """The first day by which the hands suffice: for all with its least set-ups, and the day before for all that must still dry a night before it is finished."""
    nights = _table_nights(shop)
    work = [op for item in shop.items for op in item.ops]
    longest = max(b - a for a, b in _open_days(shop))
    before_night = 0
    for item in shop.items:
        last = max((n for n, op in enumerate(item.ops) if op.dry >= longest), default=-1)
        if last + 1 < len(item.ops):
            before_night += sum(op.minutes for op in item.ops[: last + 1])
    pots = sum(
        costs.mix * (max(1, nights) if product == "clear" else 1)
        for product in {op.product for op in work if op.mixed}
    )
    suits = costs.suit * max(1, nights) * any(op.gun for op in work)
    least = pots + suits
    total = sum(op.minutes for op in work) + least
    closings = [b for _, b in _open_days(shop)]
    for day, closing in enumerate(closings):
        by_now = _hand_minutes(shop, closing)
        by_yesterday = _hand_minutes(shop, closings[day - 1]) if day else 0
        if total <= by_now and before_night + (least if before_night else 0) <= by_yesterday + (
            0 if before_night else by_now
        ):
            return day + 1
    raise ValueError("the hours do not suffice")


def _hand_minutes(shop: Shop, until: int) -> int:
    return sum(max(0, min(b, until) - a) for hand in shop.hands for a, b in hand.hours)


def _air(shop: Shop) -> int:
    """The first day by which dust by all hands and coats by all guns, never at once, fit into the open hours; 1 where there are several airs."""
    if shop.air:
        return 1
    work = [op for item in shop.items for op in item.ops]
    dust = sum(op.minutes for op in work if op.dusty) / len(shop.hands)
    coats = sum(op.minutes for op in work if op.gun) / shop.guns
    spent = 0
    for day, (opening, closing) in enumerate(_open_days(shop)):
        spent += sum(b - a for a, b in shop.open if opening <= a < closing)
        if dust + coats <= spent:
            return day + 1
    raise ValueError("the hours do not suffice")
