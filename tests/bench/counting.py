"""Counters over a plan, or over what a foreman did with it: written from the rules of the shop alone, sharing no code with planner, audit or executor.

Wipe-down with wipe-in count as one kind of work, sanding with tack too. A break or a night does not end a block; another kind of work does.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from itertools import pairwise

from .records import DAY, GAP, Record, Shop, Work

ONE_KIND = {"wipe down": "wipe", "wipe in colour": "wipe", "sand": "sand", "tack": "sand"}
SHORT = 5
"""min; a block up to so long is hardly begun before it ends."""


@dataclass(frozen=True, slots=True)
class Counts:
    """What was counted. Averages are over the days on which a person, or a gun, is at work.

    `sessions` and `blocks` a person-day; `lines` a person-day, sessions as the plan itself names them; `short` share of blocks ≤ 5 min (0..1); `gun_changes` a gun-day and `most_gun_changes` in one;
    the rest are numbers of faults.
    """

    sessions: float
    blocks: float
    lines: float
    short: float
    gun_changes: float
    most_gun_changes: int
    dust_beside_wet: int
    broken_windows: int
    person_twice: int
    table_twice: int
    gun_twice: int
    rack_overfull: int
    outside_hours: int
    out_of_order: int
    moved_wet: int
    missing: int

    @property
    def faults(self) -> dict[str, int]:
        """The counters that must be 0, by name."""
        return {
            name: getattr(self, name)
            for name in (
                "dust_beside_wet",
                "broken_windows",
                "person_twice",
                "table_twice",
                "gun_twice",
                "rack_overfull",
                "outside_hours",
                "out_of_order",
                "moved_wet",
                "missing",
            )
        }


def count(shop: Shop, record: Record) -> Counts:
    """All counters."""
    blocks = [
        b for blocks in _runs(record, lambda w: ONE_KIND.get(w.op.kind, w.op.kind)).values() for b in blocks
    ]
    families = _runs(record, lambda w: w.op.family)
    lines = _runs(record, lambda w: w.session or w.op.key)
    days = max(1, len(families))
    changes = gun_changes(record)
    return Counts(
        sessions=sum(map(len, families.values())) / days,
        blocks=len(blocks) / days,
        lines=sum(len({w.session or w.op.key for run in runs for w in run}) for runs in lines.values())
        / days,
        short=sum(sum(w.end - w.start for w in b) <= SHORT for b in blocks) / max(1, len(blocks)),
        gun_changes=sum(changes.values()) / max(1, len(changes)),
        most_gun_changes=max(changes.values(), default=0),
        dust_beside_wet=dust_beside_wet(shop, record),
        broken_windows=broken_windows(record),
        person_twice=person_twice(record),
        table_twice=table_twice(shop, record),
        gun_twice=gun_twice(shop, record),
        rack_overfull=rack_overfull(shop, record),
        outside_hours=outside_hours(shop, record),
        out_of_order=out_of_order(record),
        moved_wet=moved_wet(record),
        missing=missing(shop, record),
    )


def _runs(record: Record, of: Callable[[Work], Hashable]) -> dict[tuple[str, int], list[list[Work]]]:
    """(Person, day) → runs of work that `of` calls the same, in order of time."""
    by_day: dict[tuple[str, int], list[Work]] = defaultdict(list)
    for work in sorted(record.works, key=lambda w: (w.start, w.end)):
        by_day[work.person, work.start // DAY].append(work)
    found: dict[tuple[str, int], list[list[Work]]] = {}
    for key, works in by_day.items():
        runs: list[list[Work]] = []
        for work in works:
            if runs and of(runs[-1][-1]) == of(work):
                runs[-1].append(work)
            else:
                runs.append([work])
        found[key] = runs
    return found


def gun_changes(record: Record) -> dict[tuple[int, int], int]:
    """(Gun, day) → how often what is in the gun changes on that day."""
    loaded: dict[tuple[int, int], list[str]] = defaultdict(list)
    for work in sorted(record.works, key=lambda w: w.start):
        if work.op.gun:
            products = loaded[work.gun if work.gun is not None else -1, work.start // DAY]
            if not products or products[-1] != work.op.product:
                products.append(work.op.product)
    return {key: len(products) - 1 for key, products in loaded.items()}


def dust_beside_wet(shop: Shop, record: Record) -> int:
    """How many dusty works are done while a coat is being laid on or is wet in the same air."""
    wet: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for work in record.works:
        if work.op.wet:
            wet[shop.air.get(work.table, "")].append((work.start, work.wet_until))
    dusty = (w for w in record.works if w.op.dusty)
    return sum(any(a < w.end and w.start < b for a, b in wet[shop.air.get(w.table, "")]) for w in dusty)


def _of_pieces(record: Record) -> Iterable[list[Work]]:
    pieces: dict[str, list[Work]] = defaultdict(list)
    for work in sorted(record.works, key=lambda w: (w.start, w.end)):
        pieces[work.op.piece].append(work)
    return pieces.values()


def broken_windows(record: Record) -> int:
    """How many steps with a window are followed too late."""
    return sum(
        a.op.window is not None and b.start - a.end > a.op.window
        for works in _of_pieces(record)
        for a, b in pairwise(works)
    )


def _overlaps(spans: Iterable[tuple[int, int]]) -> int:
    """How many spans begin before an earlier one has ended."""
    until, found = -1, 0
    for start, end in sorted(spans):
        found += start < until
        until = max(until, end)
    return found


def person_twice(record: Record) -> int:
    """How often a person is at two things at once, set-ups included."""
    spans: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for each in (*record.works, *record.set_ups):
        spans[each.person].append((each.start, each.end))
    return sum(_overlaps(s) for s in spans.values())


def gun_twice(shop: Shop, record: Record) -> int:
    """How often a gun is in two hands at once, or none is named that the shop has."""
    spans: dict[int, list[tuple[int, int]]] = defaultdict(list)
    nameless = 0
    for work in record.works:
        if work.op.gun:
            nameless += work.gun is None or not 0 <= work.gun < shop.guns
            spans[work.gun if work.gun is not None else -1].append((work.start, work.end))
    return nameless + sum(_overlaps(s) for s in spans.values())


def table_twice(shop: Shop, record: Record) -> int:
    """How many pairs of pieces lie on the same place at once, and how many lie over a table's end."""
    found = 0
    by_table = defaultdict(list)
    for lying in record.lying:
        by_table[lying.table].append(lying)
        found += lying.at < -1e-6 or lying.at + lying.along > shop.tables.get(lying.table, 0.0) + 1e-6
    for all_lying in by_table.values():
        here: list = []
        for lying in sorted(all_lying, key=lambda each: each.since):
            here = [other for other in here if other.until > lying.since]
            found += sum(
                lying.at < other.at + other.along + GAP - 1e-6
                and other.at < lying.at + lying.along + GAP - 1e-6
                for other in here
            )
            here.append(lying)
    return found


def rack_overfull(shop: Shop, record: Record) -> int:
    """By how many pieces the racks are overfull at worst: pieces begun and not done that lie on no table."""
    if shop.rack is None:
        return 0
    changes: Counter[int] = Counter()
    for works in _of_pieces(record):
        lying = sorted((x.since, x.until) for x in record.lying if x.piece == works[0].op.piece)
        last = works[-1].end
        for (_, until), (since, _) in zip(lying, [*lying[1:], (last, last)], strict=True):
            if until < since:
                changes[until] += 1
                changes[since] -= 1
    standing = most = 0
    for minute in sorted(changes):
        standing += changes[minute]
        most = max(most, standing)
    return max(0, most - shop.rack)


def outside_hours(shop: Shop, record: Record) -> int:
    """How many works or set-ups lie outside their person's hours, or are of a kind they do not do."""
    hands = {hand.key: hand for hand in shop.hands}
    found = 0
    for each in (*record.works, *record.set_ups):
        hand = hands.get(each.person)
        inside = hand is not None and any(a <= each.start and each.end <= b for a, b in hand.hours)
        able = hand is not None and (not isinstance(each, Work) or hand.can(each.op.kind))
        found += not (inside and able)
    return found


def out_of_order(record: Record) -> int:
    """How many works begin before what comes before them on the piece has ended and dried, or before they may."""
    found = sum(w.start < w.op.release for w in record.works)
    for works in _of_pieces(record):
        found += sum(b.start < a.dry_until for a, b in pairwise(works))
    return found


def moved_wet(record: Record) -> int:
    """How many works of a pass are done while the piece does not lie on its stretch, or it leaves before it has dried."""
    lying = {(x.piece, x.stay): x for x in record.lying}
    found = 0
    for work in record.works:
        if work.op.stay:
            place = lying.get((work.op.piece, work.op.stay))
            found += place is None or not (place.since <= work.start and work.dry_until <= place.until)
    return found


def missing(shop: Shop, record: Record) -> int:
    """How many operations are left out, done twice, unknown, done in another order than the route says, or given fewer minutes than they take."""
    done: dict[str, list[Work]] = {works[0].op.piece: works for works in _of_pieces(record)}
    found = len(set(done) - {item.piece for item in shop.items})
    for item in shop.items:
        works = done.get(item.piece, [])
        keys = Counter(w.op.key for w in works)
        known = Counter(o.key for o in item.ops)
        found += ((known - keys) + (keys - known)).total()
        if keys == known and [w.op.key for w in works] != [o.key for o in item.ops]:
            found += 1
        minutes = {o.key: o.minutes for o in item.ops}
        found += sum(w.end - w.start < minutes.get(w.op.key, 0) for w in works)
    return found
