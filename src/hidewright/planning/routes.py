"""Routes: what a piece goes through, with the minutes it takes.

Common practice, no source, all of it: starting values for the shop to edit and to learn from its own log. Faces that are sat on get colour wiped in first; a turned piece lies one side up until the coat has cured, then the
other; wet coats dry through the night.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from hidewright.refusals import Refusal
from hidewright.survey import Condition, Material, Piece

from .calendar import Calendar, Person
from .problem import Batch, Kind, Lying, Operation, Problem, Table


@dataclass(frozen=True, slots=True)
class Pace:
    """Minutes of hands: `fixed` for each piece and `per_m2` for each m², by kind of operation."""

    fixed: float
    per_m2: float

    def minutes(self, area: float) -> float:
        """Minutes for one piece with this much area."""
        return self.fixed + self.per_m2 * area


PACE: dict[Kind, Pace] = {
    Kind.STRIP: Pace(4, 42),
    Kind.CLEAN: Pace(2, 8),
    Kind.REPAIR: Pace(30, 0),
    Kind.MASK: Pace(4, 6),
    Kind.TURN: Pace(1, 0),
    Kind.WIPE_DOWN: Pace(1, 4),
    Kind.WIPE_IN: Pace(2, 12),
    Kind.SPRAY: Pace(1.5, 5),
    Kind.SAND: Pace(1.5, 6),
    Kind.TACK: Pace(0.5, 2),
    Kind.SECOND: Pace(1.5, 5),
    Kind.CLEAR: Pace(1.5, 6),
    Kind.UNMASK: Pace(1.5, 2),
    Kind.INSPECT: Pace(2, 2),
}


@dataclass(frozen=True, slots=True)
class Drying:
    """Minutes that must pass after: `strip` (crust dries out), `repair`, `wiped`, `colour`, `clear` between coats, `cure` before it is turned or moved."""

    strip: int = 180
    repair: int = 240
    wiped: int = 30
    colour: int = 40
    cure: int = 840
    wipe_down_window: int = 60

    def __post_init__(self) -> None:
        for name in ("strip", "repair", "wiped", "colour", "cure", "wipe_down_window"):
            if not 0 <= getattr(self, name) <= 14 * 24 * 60:
                raise Refusal(f"{getattr(self, name)} min of drying cannot be.", where=name)


MOST_PIECES = 4
MOST_LENGTH = 2.6
MOST_MINUTES = 150
"""A batch stays small enough to lie on one table, and for an operation to fit between two breaks."""


def _kinds(piece: Piece, side: str) -> list[Kind]:
    sat_on = any(face.sat_on for face in piece.faces if face.side == side)
    wiped = [Kind.WIPE_IN] if sat_on and piece.material is not Material.METAL else []
    first = [Kind.MASK] if side == "front" else [Kind.TURN]
    return [*first, Kind.WIPE_DOWN, *wiped, Kind.SPRAY, Kind.SAND, Kind.TACK, Kind.SECOND, Kind.CLEAR]


def _dry(kind: Kind, drying: Drying) -> int:
    after = {
        Kind.STRIP: drying.strip, Kind.REPAIR: drying.repair, Kind.WIPE_IN: drying.wiped, Kind.SPRAY: drying.colour, Kind.SECOND: drying.colour,
        Kind.CLEAR: drying.cure, Kind.CLEAN: 20,
    }  # fmt: skip
    return after.get(kind, 0)


def steps_of(piece: Piece) -> tuple[tuple[str, Kind], ...]:
    """The route of a piece as (pass, kind) pairs; passes are prep, front, back, and "" for what needs no table."""
    steps: list[tuple[str, Kind]] = []
    if piece.strip:
        steps += [("prep", Kind.STRIP), ("prep", Kind.CLEAN)]
    if piece.condition is Condition.DAMAGED:
        steps.append(("prep", Kind.REPAIR))
    for side in ("front", "back"):
        if side == "front" or piece.turned:
            steps += [(side, kind) for kind in _kinds(piece, side)]
    return (*steps, ("", Kind.UNMASK), ("", Kind.INSPECT))


def _minutes(pieces: Sequence[Piece], kind: Kind, pass_key: str, pace: dict[Kind, Pace]) -> int:
    side = pass_key if pass_key in ("front", "back") else None
    total = sum(pace[kind].minutes(p.side_area(side) if side else p.area) for p in pieces)
    return max(1, round(total))


def _batches(pieces: Sequence[Piece], pace: dict[Kind, Pace], longest: float) -> list[list[Piece]]:
    """Split like pieces (same route, same size) into batches that fit a table and half a day."""
    most_length = min(MOST_LENGTH, longest)
    like = sorted(pieces, key=lambda p: (steps_of(p), p.lies, p.name.split(",")[0], p.key))
    found: list[list[Piece]] = []
    for _, same in groupby(like, key=lambda p: (steps_of(p), p.lies)):
        current: list[Piece] = []
        for piece in same:
            trial = [*current, piece]
            length = sum(p.lies[0] + 0.05 for p in trial)
            slow = max(_minutes(trial, kind, pass_key, pace) for pass_key, kind in steps_of(piece))
            if current and (len(trial) > MOST_PIECES or length > most_length or slow > MOST_MINUTES):
                found.append(current)
                trial = [piece]
            current = trial
        found.append(current)
    return found


def batch_of(pieces: Sequence[Piece], pace: dict[Kind, Pace], drying: Drying) -> Batch:
    """One batch of like pieces with its operations."""
    key = pieces[0].key if len(pieces) == 1 else f"{pieces[0].key}+{len(pieces) - 1}"
    operations = []
    for pass_key, kind in steps_of(pieces[0]):
        operations.append(
            Operation(
                key=f"{key}/{pass_key or 'end'}/{kind}",
                kind=kind,
                side="back" if pass_key == "back" else "front",
                minutes=_minutes(pieces, kind, pass_key, pace),
                dry=_dry(kind, drying),
                gun=kind in (Kind.SPRAY, Kind.SECOND, Kind.CLEAR),
                window=drying.wipe_down_window if kind is Kind.WIPE_DOWN else None,
                table=bool(pass_key),
                pass_key=pass_key,
            )
        )
    name = pieces[0].name if len(pieces) == 1 else f"{pieces[0].name} and {len(pieces) - 1} like it"
    lying = tuple(Lying(p.key, *p.lies) for p in pieces)
    return Batch(key, name, lying, tuple(operations))


def build_problem(
    pieces: Sequence[Piece],
    people: Sequence[Person],
    tables: Sequence[Table],
    calendar: Calendar,
    *,
    guns: int = 1,
    drying: Drying | None = None,
    pace: dict[Kind, Pace] | None = None,
    promised: date | None = None,
    pot_life: int | None = None,
) -> Problem:
    """The problem of planning these pieces; refuses what no table can hold, naming the piece."""
    if not tables:
        raise Refusal("There is no table.", remedy="Enter at least one table.")
    for piece in pieces:
        length, depth = piece.lies
        if not any(t.length >= length + 0.05 and t.depth >= depth for t in tables):
            best = max(tables, key=lambda t: (t.depth >= depth, t.length))
            raise Refusal(
                f"{piece.key} takes {length + 0.05:.2f} by {depth:.2f} m and fits no table; the best is {best.name}, {best.length:.2f} by {best.depth:.2f} m.",
                where=piece.key,
                remedy=f"Add a table of at least {length + 0.05:.2f} by {depth:.2f} m.",
            )
    pace = pace or PACE
    longest = max(t.length for t in tables)
    batches = [batch_of(group, pace, drying or Drying()) for group in _batches(pieces, pace, longest)]
    fixed = []
    for batch, group in zip(batches, _batches(pieces, pace, longest), strict=True):
        if any(t.length >= batch.length and t.depth >= batch.depth for t in tables):
            fixed.append(batch)
        else:
            fixed += [batch_of([piece], pace, drying or Drying()) for piece in group]
    return Problem(tuple(fixed), tuple(people), tuple(tables), calendar, guns, promised, pot_life)
