"""A plan: who does what when, and where each piece lies; as values and as plain data for JSON."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from hidewright.refusals import Refusal

from ..problem.model import Kind


@dataclass(frozen=True, slots=True)
class Placement:
    """One operation in the plan: minutes since the midnight before the first day; dry at `dry_until`."""

    operation: str
    piece: str
    kind: Kind
    side: str
    pass_key: str
    person: str
    gun: int | None
    start: int
    end: int
    dry_until: int


@dataclass(frozen=True, slots=True)
class Stay:
    """Where a piece lies during one pass: from `at` m, `along` m of the table, `across` m of its depth, from `since` to `until`."""

    piece: str
    pass_key: str
    table: str
    at: float
    along: float
    across: float
    since: int
    until: int


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan. `placements` in order of time, one for each operation of each piece; `stays` one for each pass on a table."""

    placements: tuple[Placement, ...]
    stays: tuple[Stay, ...]

    @property
    def finish(self) -> int:
        """The minute at which the last work has been done and the last coat has cured."""
        return max(max(p.end, p.dry_until) for p in self.placements)

    def of_piece(self, piece: str) -> tuple[Placement, ...]:
        """The placements of one piece, in order of time."""
        return tuple(p for p in self.placements if p.piece == piece)

    def stay_of(self, piece: str, pass_key: str) -> Stay | None:
        """Where a piece lies in a pass, or None when the pass needs no table."""
        for stay in self.stays:
            if stay.piece == piece and stay.pass_key == pass_key:
                return stay
        return None


def plan_to_data(plan: Plan) -> dict[str, Any]:
    """The plan as dictionaries, lists, text and numbers."""
    return {
        "placements": [{**asdict(p), "kind": str(p.kind)} for p in plan.placements],
        "stays": [asdict(s) for s in plan.stays],
    }


def plan_from_data(data: Mapping[str, Any]) -> Plan:
    """The plan that `plan_to_data` wrote; refuses what is no plan."""
    try:
        placements = tuple(Placement(**{**p, "kind": Kind(p["kind"])}) for p in data["placements"])
        return Plan(placements, tuple(Stay(**s) for s in data["stays"]))
    except (KeyError, TypeError, ValueError) as error:
        raise Refusal(f"This is no plan: {error!r}.", where="plan", remedy="Make the plan again.") from error
