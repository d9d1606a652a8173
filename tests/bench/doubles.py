"""What several plans hold twice, counted minute by minute on one clock; this knows neither planner nor audit."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from itertools import combinations

from hidewright.planning.plan.schedule import Plan


def doubles(plans: Mapping[str, tuple[date, Plan]], rack: int, since: datetime = datetime.min) -> list[str]:
    """What is held twice, minute by minute on one clock: hands, guns, centimetres of table; and minutes, from `since` on, at which the racks hold more than they can.

    Of what is over, a plan knows until when a piece cured on its table, not until when it lay there: before `since` the racks cannot be counted.
    """
    hands: dict[tuple[str, datetime], str] = {}
    guns: dict[tuple[int, datetime], str] = {}
    lying: dict[str, list[tuple[datetime, datetime, float, float, str]]] = {}
    racked: dict[datetime, int] = {}
    found = []
    for name, (first, each) in plans.items():
        midnight = datetime.combine(first, datetime.min.time())

        def clock(minute: int, midnight: datetime = midnight) -> datetime:
            return midnight + timedelta(minutes=minute)

        for p in each.placements:
            for minute in range(p.start, p.end):
                for held, key in ((hands, p.person), (guns, p.gun)):
                    if key is not None and (key, clock(minute)) in held:
                        found.append(f"{key} at {clock(minute)}: {held[key, clock(minute)]} and {name}")
                    if key is not None:
                        held[key, clock(minute)] = name
        for s in each.stays:
            lying.setdefault(s.table, []).append(
                (clock(s.since), clock(s.until), s.at, s.at + s.along, f"{name} {s.piece}")
            )
        last = {p.piece: p.end for p in sorted(each.placements, key=lambda p: p.end)}
        for piece, end in last.items():
            there = sorted((s.since, s.until) for s in each.stays if s.piece == piece)
            for minute in range(there[0][1] if there else end, end):
                if not any(a <= minute < b for a, b in there):
                    racked[clock(minute)] = racked.get(clock(minute), 0) + 1
    for table, stays in lying.items():
        for a, b in combinations(stays, 2):
            if a[0] < b[1] and b[0] < a[1] and a[2] < b[3] - 1e-6 and b[2] < a[3] - 1e-6:
                found.append(f"{table}: {a[4]} and {b[4]}")
    found += [f"{count} in the racks at {at}" for at, count in racked.items() if count > rack and at >= since]
    return found
