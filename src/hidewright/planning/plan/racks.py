"""How full the racks get in a plan, and what it costs where they are full: pieces that have cured and stay on their tables."""

from dataclasses import dataclass

from ..problem.model import GAP, Problem
from .schedule import Plan

TOGETHER = 120
"""Minutes for which a cured piece waits for the like ones it is worked with; only what lies on for longer lacks a place."""


@dataclass(frozen=True, slots=True)
class RackUse:
    """`most` pieces stand off the tables at once, first at minute `when`; `kept` stay on their table after they have cured, which takes `metre_hours` of table."""

    most: int
    when: int
    kept: tuple[str, ...]
    metre_hours: float

    @property
    def words(self) -> str:
        """What full racks cost, in words without a full stop; empty when they cost nothing."""
        if not self.kept:
            return ""
        pieces = "1 piece stays" if len(self.kept) == 1 else f"{len(self.kept)} pieces stay"
        hours = "1 metre-hour" if round(self.metre_hours) == 1 else f"{self.metre_hours:.0f} metre-hours"
        return f"{pieces} on the table after curing, for want of a place in the racks ({hours} of table)"


def rack_use(problem: Problem, plan: Plan) -> RackUse:
    """How full the racks get, between passes and until a piece is inspected."""
    last: dict[str, int] = {}
    dry: dict[tuple[str, str], int] = {}
    for p in plan.placements:
        last[p.piece] = max(last.get(p.piece, 0), p.end)
        key = (p.piece, p.pass_key)
        dry[key] = max(dry.get(key, 0), p.end, p.dry_until)
    coming: dict[str, int] = {}
    changes: list[tuple[int, int]] = []
    kept: dict[str, None] = {}
    metre_hours = 0.0
    for stay in sorted(plan.stays, key=lambda s: -s.since):
        until = coming.get(stay.piece, last[stay.piece])
        coming[stay.piece] = stay.since
        if stay.until < until:
            changes += [(stay.until, 1), (until, -1)]
        longer = stay.until - dry.get((stay.piece, stay.pass_key), stay.until)
        if problem.rack is not None and longer > TOGETHER:
            kept[stay.piece] = None
            metre_hours += (stay.along + GAP) * longer / 60
    return RackUse(*_most(changes), tuple(sorted(kept)), metre_hours)


def _most(changes: list[tuple[int, int]]) -> tuple[int, int]:
    """The most at once and since when; what goes at a minute goes before what comes."""
    count = most = when = 0
    for minute, by in sorted(changes):
        count += by
        if count > most:
            most, when = count, minute
    return most, when
