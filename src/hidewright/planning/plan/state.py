"""The state of now: what is done, what lies where, and what is left. Planning again starts from it, and the audit holds a plan against it."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass

from ..problem.kinds import COATS, Kind
from ..problem.model import GAP, Operation
from .schedule import Placement, Plan, Stay


@dataclass(frozen=True, slots=True)
class Standing:
    """The work at `now`: `placements` of what is done and of what somebody is at, `left` operations by piece, `lying` the stays that go on, `ended` those that are over or only cure; `at_work` keys of
    what was begun and ends later."""

    now: int
    placements: tuple[Placement, ...]
    left: Mapping[str, tuple[Operation, ...]]
    lying: Mapping[str, Stay]
    ended: tuple[Stay, ...]
    ready: Mapping[str, int]
    at_work: frozenset[str] = frozenset()

    @property
    def done(self) -> frozenset[str]:
        """Keys of the operations that are done, or that somebody is at."""
        return frozenset(p.operation for p in self.placements)


def broken_hands(
    standing: Standing, plan: Plan, dusty: Collection[Kind], air_of: Callable[[str], str]
) -> Iterator[tuple[str, str, str]]:
    """(rule, operation, words) wherever a plan takes the hands or the gun of what somebody is at before it ends, or coats in the air of its dust."""
    airs = {(s.piece, s.pass_key): air_of(s.table) for s in plan.stays}
    for begun in standing.placements:
        if begun.operation not in standing.at_work:
            continue
        air = airs.get((begun.piece, begun.pass_key))
        for p in plan.placements:
            if p.operation in standing.done or p.start >= begun.end or p.end <= standing.now:
                continue
            if p.person == begun.person:
                yield "one thing at a time", p.operation, f"{p.person} is still at {begun.operation}"
            if begun.gun is not None and p.gun == begun.gun:
                yield "gun", p.operation, f"needs the gun while it is at {begun.operation}"
            if begun.kind in dusty and p.kind in COATS and airs.get((p.piece, p.pass_key), "") == air:
                yield "no dust beside wet", p.operation, f"is coated while {begun.operation} makes dust"


def broken_state(standing: Standing, plan: Plan, tables: Collection[str]) -> Iterator[tuple[str, str, str]]:
    """(rule, piece, words) wherever a plan does not go on from how things stand: what lies there is moved or its coat is cut short, or something is laid onto it.

    `tables` are those that are still there: what lay on another has to move.
    """
    stays = {(s.piece, s.pass_key): s for s in plan.stays}
    for piece, lying in standing.lying.items():
        if lying.table not in tables:
            continue
        stay = stays.get((piece, lying.pass_key))
        if stay is None:
            yield "as it lies", piece, f"lies on {lying.table} and has no place there in the plan"
        elif stay.table != lying.table or abs(stay.at - lying.at) > 1e-6 or stay.along < lying.along - 1e-6:
            yield (
                "as it lies",
                piece,
                f"is moved from {lying.table}, {lying.at:.2f} m, before it may be moved",
            )
        elif stay.until < standing.ready.get(piece, 0):
            yield "no move while wet", piece, "leaves its place before the coat that is on it has dried"
    for ended in standing.ended:
        stay = stays.get((ended.piece, ended.pass_key))
        cured = min(ended.until, standing.ready.get(ended.piece, ended.until))
        if cured <= standing.now or stay is None or ended.table not in tables:
            continue
        if stay.table != ended.table or abs(stay.at - ended.at) > 1e-6 or stay.until < cured:
            yield "as it lies", ended.piece, f"is moved from {ended.table} before it has cured there"
    begun = {(s.piece, s.pass_key): s for s in (*standing.lying.values(), *standing.ended)}
    for name, there in begun.items():
        now = stays.get(name, there)
        until = max(now.until, min(there.until, standing.ready.get(there.piece, there.until)))
        for other in plan.stays:
            if other.piece == there.piece or other.table != there.table:
                continue
            since = max(other.since, there.since, standing.now)
            if since < min(until, other.until):
                left, right = (there, other) if there.at <= other.at else (other, there)
                if right.at < left.at + left.along + GAP - 1e-6:
                    yield (
                        "no touching",
                        other.piece,
                        f"is laid onto {there.piece}, which lies on {there.table}",
                    )
    for piece, rest in standing.left.items():
        first = next((p for p in plan.placements if rest and p.operation == rest[0].key), None)
        if first is not None and first.start < standing.ready.get(piece, 0):
            yield (
                "dry before the next",
                first.operation,
                f"starts {standing.ready[piece] - first.start} min before what is on it has dried",
            )
