"""The pieces as the planner needs them: how they lie, how much of each side is coated, and what they need."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from hidewright.defaults import CLEAR_COATS, COLOUR_COATS, WIPED_IN
from hidewright.refusals import Refusal
from hidewright.survey import Condition, Piece
from hidewright.survey.zones import Zone, checked_zones, shares, zone_keys

from .route import Route


@dataclass(frozen=True, slots=True)
class Hold:
    """Work that must wait: the piece's first operation of kind `before` (or the one of that pass, “back/turn”) does not start before `until`: an approval, a missing part."""

    before: str
    until: date
    why: str = ""


@dataclass(frozen=True, slots=True)
class WorkPiece:
    """A piece to be planned.

    `length`, `depth` m as it lies; `front`, `back` m² coated on each side (back 0: not turned); `front_sat`, `back_sat` whether that side has a face that is sat on;
    `strip`, `repair`, `mask` what it needs; `prime` a first coat of primer (bare plastic or metal); `holds` what it waits for; `due` the day by which it must be done;
    `colour_coats`, `clear_coats` how many coats are sprayed; `wiped` whether faces that are sat on get colour wiped in first; `route` a route of its own in place of the shop's;
    `colour` the name of its colour where the job has several; `rank` of its job among several: lower goes first;
    `zones` in which it is coated one after the other in place of its sides, each with its share of the area.
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
    colour_coats: int = COLOUR_COATS
    clear_coats: int = CLEAR_COATS
    wiped: bool = WIPED_IN
    route: Route | None = None
    colour: str = ""
    rank: int = 0
    zones: tuple[Zone, ...] = ()

    def __post_init__(self) -> None:
        if not self.key.strip():
            raise Refusal("A piece needs a mark.", where="key")
        if not (0 < self.length <= 20 and 0 < self.depth <= 20):
            raise Refusal(
                f"{self.length:g} by {self.depth:g} m cannot be.", where=self.key, remedy="Check the unit."
            )
        if self.front < 0 or self.back < 0 or self.front + self.back <= 0:
            raise Refusal("A piece has some area to coat.", where=self.key)
        if not (0 <= self.colour_coats <= 12 and 0 <= self.clear_coats <= 8):
            raise Refusal(
                f"{self.colour_coats} coats of colour and {self.clear_coats} of clear cannot be.",
                where=self.key,
                remedy="0 to 12 of colour, 0 to 8 of clear.",
            )
        checked_zones(self.zones)

    @property
    def turned(self) -> bool:
        """True when both sides are coated."""
        return self.front > 0 and self.back > 0

    @property
    def area(self) -> float:
        """m² on both sides."""
        return self.front + self.back

    def area_in(self, pass_key: str) -> float:
        """m² that are worked on in a pass: that of the side or the zone, else the whole."""
        if pass_key in ("front", "back"):
            return self.front if pass_key == "front" else self.back
        of_zones = dict(zip(zone_keys(self.zones), shares(self.zones) if self.zones else (), strict=True))
        return self.area * of_zones.get(pass_key, 1.0)


@dataclass(frozen=True, slots=True)
class Coats:
    """How many coats are sprayed, of `colour` and of `clear`, and whether faces that are sat on get colour `wiped` in first."""

    colour: int = COLOUR_COATS
    clear: int = CLEAR_COATS
    wiped: bool = WIPED_IN


def work_piece(
    piece: Piece,
    *,
    holds: tuple[Hold, ...] = (),
    due: date | None = None,
    coats: Coats | None = None,
    route: Route | None = None,
) -> WorkPiece:
    """The planner's view of a surveyed piece, with the coats that it gets (those of `hidewright.defaults` where nothing is said) and a route of its own."""
    coats = coats or Coats()
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
        colour_coats=coats.colour,
        clear_coats=coats.clear,
        wiped=coats.wiped,
        route=route,
        zones=piece.zones,
    )


def work_pieces(
    pieces: Iterable[Piece],
    on_hold: Mapping[str, tuple[Hold, ...]] | None = None,
    due: Mapping[str, date] | None = None,
    *,
    coats: Coats | None = None,
    routes: Mapping[str, Route] | None = None,
) -> tuple[WorkPiece, ...]:
    """The planner's view of all pieces; `on_hold`, `due` and `routes` (of their own) by the piece's mark, `coats` for all of them."""
    holds, dues, own = on_hold or {}, due or {}, routes or {}
    return tuple(
        work_piece(p, holds=holds.get(p.key, ()), due=dues.get(p.key), coats=coats, route=own.get(p.key))
        for p in pieces
    )
