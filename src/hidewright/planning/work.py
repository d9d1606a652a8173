"""The pieces as the planner needs them: how they lie, how much of each side is coated, and what they need."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from hidewright.refusals import Refusal
from hidewright.survey import Condition, Piece


@dataclass(frozen=True, slots=True)
class Hold:
    """Work that must wait: the piece's first operation of kind `before` does not start before `until` (an approval, a missing part)."""

    before: str
    until: date
    why: str = ""


@dataclass(frozen=True, slots=True)
class WorkPiece:
    """A piece to be planned.

    `length`, `depth` m as it lies; `front`, `back` m² coated on each side (back 0: not turned); `front_sat`, `back_sat` whether that side has a face that is sat on;
    `strip`, `repair`, `mask` what it needs; `prime` a first coat of primer (bare plastic or metal); `holds` what it waits for; `due` the day by which it must be done;
    `route` its own steps as (pass, kind) pairs in place of the shop's route.
    """

    key: str
    name: str
    group: str
    material: str
    condition: str
    length: float
    depth: float
    front: float
    back: float = 0.0
    front_sat: bool = False
    back_sat: bool = False
    strip: bool = False
    repair: bool = False
    mask: bool = True
    prime: bool = False
    holds: tuple[Hold, ...] = ()
    due: date | None = None
    route: tuple[tuple[str, str], ...] | None = None

    def __post_init__(self) -> None:
        if not self.key.strip():
            raise Refusal("A piece needs a mark.", where="key")
        if not (0 < self.length <= 20 and 0 < self.depth <= 20):
            raise Refusal(
                f"{self.length:g} by {self.depth:g} m cannot be.", where=self.key, remedy="Check the unit."
            )
        if self.front < 0 or self.back < 0 or self.front + self.back <= 0:
            raise Refusal("A piece has some area to coat.", where=self.key)

    @property
    def turned(self) -> bool:
        """True when both sides are coated."""
        return self.front > 0 and self.back > 0

    @property
    def area(self) -> float:
        """m² on both sides."""
        return self.front + self.back


def work_piece(piece: Piece, *, holds: tuple[Hold, ...] = (), due: date | None = None) -> WorkPiece:
    """The planner's view of a surveyed piece."""
    length, depth = piece.lies
    return WorkPiece(
        key=piece.key,
        name=piece.name,
        group=piece.group,
        material=str(piece.material),
        condition=str(piece.condition),
        length=length,
        depth=depth,
        front=piece.side_area("front"),
        back=piece.side_area("back") if piece.turned else 0.0,
        front_sat=any(f.sat_on for f in piece.faces if f.side == "front"),
        back_sat=any(f.sat_on for f in piece.faces if f.side == "back"),
        strip=piece.strip,
        repair=piece.condition is Condition.DAMAGED,
        mask=piece.edge > 0,
        prime=str(piece.material) in ("metal", "plastic") and piece.strip,
        holds=holds,
        due=due,
    )


def work_pieces(
    pieces: Iterable[Piece],
    on_hold: Mapping[str, tuple[Hold, ...]] | None = None,
    due: Mapping[str, date] | None = None,
) -> tuple[WorkPiece, ...]:
    """The planner's view of all pieces; `on_hold` and `due` by the piece's mark."""
    holds, dues = on_hold or {}, due or {}
    return tuple(work_piece(p, holds=holds.get(p.key, ()), due=dues.get(p.key)) for p in pieces)
