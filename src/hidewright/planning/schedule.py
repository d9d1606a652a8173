"""A plan as values: who does what when, and what lies where."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from .problem import Kind, Problem


@dataclass(frozen=True, slots=True)
class Placement:
    """One operation done: `person` by key, `gun` number or None, minutes since the midnight before the first day."""

    operation: str
    batch: str
    kind: Kind
    person: str
    start: int
    end: int
    gun: int | None = None


@dataclass(frozen=True, slots=True)
class Stay:
    """A batch lying on one stretch of a table through one pass: `at` m from its end, `start` to `end` in minutes."""

    batch: str
    pass_key: str
    table: str
    at: float
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Plan:
    """Placements in order of time, and stays."""

    placements: tuple[Placement, ...]
    stays: tuple[Stay, ...]

    @property
    def finish(self) -> int:
        """The minute at which the last work ends."""
        return max(p.end for p in self.placements)

    def of(self, batch: str) -> tuple[Placement, ...]:
        """A batch's placements in order."""
        return tuple(sorted((p for p in self.placements if p.batch == batch), key=lambda p: p.start))

    def to_data(self) -> dict[str, Any]:
        """Plain data for JSON."""
        return {"placements": [asdict(p) for p in self.placements], "stays": [asdict(s) for s in self.stays]}


def plan_from_data(data: Mapping[str, Any]) -> Plan:
    """The plan that `Plan.to_data` wrote."""
    placements = tuple(Placement(**{**row, "kind": Kind(row["kind"])}) for row in data["placements"])
    return Plan(placements, tuple(Stay(**row) for row in data["stays"]))


def ordered(placements: list[Placement], stays: list[Stay]) -> Plan:
    """A plan with everything in order of time."""
    return Plan(
        tuple(sorted(placements, key=lambda p: (p.start, p.person, p.operation))),
        tuple(sorted(stays, key=lambda s: (s.start, s.table, s.at))),
    )


def colour_sessions(problem: Problem, plan: Plan) -> tuple[tuple[int, int], ...]:
    """Stretches of spraying that one portion of crosslinked colour serves: each fits the pot life; a new one is mixed for the next."""
    sprayed = sorted((p.start, p.end) for p in plan.placements if p.kind in (Kind.SPRAY, Kind.SECOND))
    found: list[tuple[int, int]] = []
    for start, end in sprayed:
        if (
            found
            and (problem.pot_life is None or end - found[-1][0] <= problem.pot_life)
            and start - found[-1][1] <= 240
        ):
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return tuple(found)
