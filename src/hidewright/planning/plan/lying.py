"""What lies on the tables at the same time, and what stands off them, for the audit; it shares no code with the planner."""

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from .schedule import Stay


def at_once(stays: Sequence[Stay]) -> Iterator[tuple[Stay, Stay]]:
    """Each two that lie there at the same time."""
    lying: list[Stay] = []
    for stay in sorted(stays, key=lambda s: s.since):
        lying = [other for other in lying if other.until > stay.since]
        yield from ((other, stay) for other in lying)
        lying.append(stay)


def off_the_tables(stays: Sequence[Stay], last: Mapping[str, int]) -> Iterator[tuple[int, str, int]]:
    """Each time that a piece that has lain on a table, and is not done by minute `last`, comes to lie on none: the minute, the piece, and how many are off the tables then."""
    own: dict[str, list[Stay]] = defaultdict(list)
    for stay in sorted(stays, key=lambda s: s.since):
        if stay.piece in last:
            own[stay.piece].append(stay)
    off: list[tuple[int, int, str]] = []
    for piece, each in own.items():
        for stay, since in zip(each, [*(s.since for s in each[1:]), last[piece]], strict=True):
            if stay.until < since:
                off.append((stay.until, since, piece))
    off.sort()
    came, back = [since for since, _, _ in off], sorted(until for _, until, _ in off)
    for since, _, piece in off:
        yield since, piece, bisect_right(came, since) - bisect_right(back, since)
