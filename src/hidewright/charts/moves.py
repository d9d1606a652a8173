"""What moved between two plans of one job: day, person or table of each act, told piece by piece."""

from dataclasses import dataclass
from datetime import date

from hidewright.charts.plan import ActShown, PlanShown


@dataclass(frozen=True)
class Move:
    """One act before and after; None where a plan does not have it."""

    key: str
    before: ActShown | None
    after: ActShown | None

    @property
    def piece(self) -> str:
        """The piece it belongs to."""
        act = self.after or self.before
        assert act is not None
        return act.piece

    @property
    def act(self) -> str:
        """What is done, with the part."""
        act = self.after or self.before
        assert act is not None
        return f"{act.act} {act.part}".strip()

    @property
    def days(self) -> tuple[date | None, date | None]:
        """Its day before and after."""
        return (
            self.before.start.date() if self.before else None,
            self.after.start.date() if self.after else None,
        )

    @property
    def kind(self) -> str:
        """“new”, “gone”, “another day”, “another person”, “another table” or “another time”."""
        if self.before is None:
            return "new"
        if self.after is None:
            return "gone"
        if self.days[0] != self.days[1]:
            return "another day"
        if self.before.person != self.after.person:
            return "another person"
        if self.before.table != self.after.table:
            return "another table"
        return "another time"


@dataclass(frozen=True)
class Shift:
    """The acts of one piece that went from the same day to the same other day; None where a plan does not have them."""

    piece: str
    before: date | None
    after: date | None
    acts: tuple[str, ...]


@dataclass(frozen=True)
class Moves:
    """All that changed, and how much stayed. Acts in `left_out` (done already) are not counted."""

    moves: tuple[Move, ...]
    pieces: int
    pieces_on_their_days: int

    @property
    def of_day(self) -> tuple[Move, ...]:
        """The moves that matter most: to another day, new or gone."""
        return tuple(move for move in self.moves if move.kind in ("another day", "new", "gone"))

    @property
    def shifts(self) -> tuple[Shift, ...]:
        """The same, piece by piece: what went together is told together, in order of the new day."""
        found: dict[tuple[str, date | None, date | None], list[str]] = {}
        for move in self.of_day:
            found.setdefault((move.piece, *move.days), []).append(move.act)
        return tuple(Shift(*which, tuple(dict.fromkeys(acts))) for which, acts in found.items())

    @property
    def shifted(self) -> int:
        """How many pieces have an act that moved to another day, is new or is gone."""
        return len({move.piece for move in self.of_day})

    @property
    def kept(self) -> float:
        """Share 0..1 of the pieces of both plans all of whose acts keep their day; 1 when there are none."""
        return self.pieces_on_their_days / self.pieces if self.pieces else 1.0


def moves_between(before: PlanShown, after: PlanShown, *, left_out: frozenset[str] = frozenset()) -> Moves:
    """Compare two plans act by act; `left_out` are keys of acts done before the second plan was made."""
    old = {act.key: act for act in before.acts if act.key not in left_out}
    new = {act.key: act for act in after.acts if act.key not in left_out}
    moves = [
        Move(key, old.get(key), new.get(key)) for key in {**old, **new} if _differ(old.get(key), new.get(key))
    ]
    both = {act.piece for act in old.values()} & {act.piece for act in new.values()}
    lies = {act.piece for plan in (before, after) for act in plan.acts if act.table}
    both = both & lies or both  # what is done once for the whole job is no piece
    shifted = {move.piece for move in moves if move.kind in ("another day", "new", "gone")}
    ordered = sorted(moves, key=lambda m: (m.days[1] or m.days[0] or date.max, m.piece, m.act))
    return Moves(tuple(ordered), len(both), len(both - shifted))


def _differ(before: ActShown | None, after: ActShown | None) -> bool:
    if before is None or after is None:
        return True
    told = [(act.start, act.end, act.person, act.table) for act in (before, after)]
    return told[0] != told[1]
