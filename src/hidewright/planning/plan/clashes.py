"""What the plans of several jobs hold twice: hands, guns, stretches of table and places in the racks. It knows plans only, neither planner nor problem."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from ..problem.model import GAP
from .schedule import Placement, Plan


@dataclass(frozen=True, slots=True)
class Dated:
    """A plan of one job, in minutes from the midnight before `first`; what is `done` (operation keys) holds nobody any more."""

    plan: Plan
    first: date
    done: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Clash:
    """`what` (a person's or table's key, “gun 1”, “racks”) that the jobs `keys` both hold at `since`; `times` how often."""

    what: str
    keys: tuple[str, ...]
    since: datetime
    times: int


_Held = tuple[datetime, datetime, str]


def clashes(plans: Mapping[str, Dated], now: datetime, racks: int | None = None) -> tuple[Clash, ...]:
    """Everything that two of the plans hold at the same minute from `now` on, the first first; `racks` how many places there are (None: nobody counted)."""
    found: dict[tuple[str, tuple[str, ...]], list[datetime]] = defaultdict(list)
    for what, held in _singles(plans, now).items():
        for a, b in _meeting(held):
            found[what, _pair(a[2], b[2])].append(max(a[0], b[0], now))
    for table, lains in _stretches(plans, now).items():
        for since, keys in _touching(lains):
            found[table, keys].append(max(since, now))
    found |= _full_racks(plans, now, racks)
    listed = [Clash(what, keys, min(each), len(each)) for (what, keys), each in found.items()]
    return tuple(sorted(listed, key=lambda clash: (clash.since, clash.what, clash.keys)))


def _pair(a: str, b: str) -> tuple[str, str]:
    return (a, b) if a <= b else (b, a)


def _midnight(dated: Dated) -> datetime:
    return datetime.combine(dated.first, time(0))


def _left(dated: Dated, now: datetime) -> Iterator[Placement]:
    minute = (now - _midnight(dated)).total_seconds() / 60
    return (p for p in dated.plan.placements if p.end > minute and p.operation not in dated.done)


def _singles(plans: Mapping[str, Dated], now: datetime) -> dict[str, list[_Held]]:
    """Person or gun → when which job holds it."""
    found: dict[str, list[_Held]] = defaultdict(list)
    for key, dated in plans.items():
        zero = _midnight(dated)
        for p in _left(dated, now):
            held = (zero + timedelta(minutes=p.start), zero + timedelta(minutes=p.end), key)
            found[p.person].append(held)
            if p.gun is not None:
                found[f"gun {p.gun + 1}"].append(held)
    return found


def _meeting(held: Iterable[_Held]) -> Iterator[tuple[_Held, _Held]]:
    """Pairs of different jobs at the same minute, each with the one that began before it."""
    open_: list[_Held] = []
    for each in sorted(held):
        open_ = [other for other in open_ if other[1] > each[0]]
        yield from ((other, each) for other in open_ if other[2] != each[2])
        open_.append(each)


_Lain = tuple[datetime, datetime, str, float, float]


def _stretches(plans: Mapping[str, Dated], now: datetime) -> dict[str, list[_Lain]]:
    found: dict[str, list[_Lain]] = defaultdict(list)
    for key, dated in plans.items():
        zero = _midnight(dated)
        for s in dated.plan.stays:
            until = zero + timedelta(minutes=s.until)
            if until > now:
                since = zero + timedelta(minutes=s.since)
                found[s.table].append((since, until, key, s.at, s.at + s.along + GAP))
    return found


def _touching(lains: Sequence[_Lain]) -> Iterator[tuple[datetime, tuple[str, str]]]:
    open_: list[_Lain] = []
    for each in sorted(lains):
        open_ = [other for other in open_ if other[1] > each[0]]
        for other in open_:
            if other[2] != each[2] and other[3] < each[4] - 1e-6 and each[3] < other[4] - 1e-6:
                yield each[0], _pair(other[2], each[2])
        open_.append(each)


def _full_racks(
    plans: Mapping[str, Dated], now: datetime, racks: int | None
) -> dict[tuple[str, tuple[str, ...]], list[datetime]]:
    """Moments at which the pieces of several jobs together are more than the racks hold."""
    if racks is None:
        return {}
    changes: list[tuple[datetime, int, str]] = []
    for key, dated in plans.items():
        zero = _midnight(dated)
        for since, until in racked(dated.plan):
            if zero + timedelta(minutes=until) > now:
                changes += [
                    (zero + timedelta(minutes=since), 1, key),
                    (zero + timedelta(minutes=until), -1, key),
                ]
    found: dict[tuple[str, tuple[str, ...]], list[datetime]] = defaultdict(list)
    there: dict[str, int] = defaultdict(int)
    for at, by, key in sorted(changes):
        there[key] += by
        jobs = tuple(sorted(key for key, count in there.items() if count > 0))
        if by > 0 and len(jobs) > 1 and sum(there.values()) > racks:
            found["racks", jobs].append(max(at, now))
    return found


def racked(plan: Plan) -> Iterator[tuple[int, int]]:
    """(since, until) of every time that a piece which has lain on a table, and is not done, lies on none."""
    last: dict[str, int] = defaultdict(int)
    for p in plan.placements:
        last[p.piece] = max(last[p.piece], p.end)
    stays: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for s in plan.stays:
        stays[s.piece].append((s.since, s.until))
    for piece, each in stays.items():
        each.sort()
        ends = [*(since for since, _ in each[1:]), last[piece]]
        yield from ((until, end) for (_, until), end in zip(each, ends, strict=True) if until < end)
