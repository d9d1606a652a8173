"""A piece unfolded: its sides and its corners, numbered in the order in which the gun visits them.

The piece is drawn as a box laid open (top in the middle, the sides around it, the underside beyond the back), because
every cushion, panel and drawer front can be told that way. A stop of the gun is a side, an edge between two sides, or a
corner where three meet.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from hidewright.charts import ink
from hidewright.refusals import Refusal

SIDES: Final = ("top", "front", "back", "left", "right", "bottom")

_OPPOSITE: Final = ({"top", "bottom"}, {"front", "back"}, {"left", "right"})
_BOX: Final[dict[str, tuple[float, float, float, float]]] = {
    "back": (110, 8, 140, 50),
    "left": (60, 58, 50, 90),
    "top": (110, 58, 140, 90),
    "right": (250, 58, 50, 90),
    "front": (110, 148, 140, 50),
    "bottom": (110, 206, 140, 50),
}
"""Side → x, y, width, height on the picture."""


@dataclass(frozen=True)
class SprayStop:
    """One stop of the gun: the sides it touches (one: a side; two: an edge; three: a corner), and a hint."""

    sides: frozenset[str]
    hint: str = ""

    def __post_init__(self) -> None:
        strange = sorted(self.sides - set(SIDES))
        if strange or not 1 <= len(self.sides) <= 3:
            raise Refusal("A stop is a side, an edge or a corner.", where=", ".join(strange) or "spray order")
        if any(pair <= self.sides for pair in _OPPOSITE):
            raise Refusal("Opposite sides do not meet.", where=", ".join(sorted(self.sides)))

    @property
    def name(self) -> str:
        """The stop in words: “top”, “edge top/front”, “corner top/front/left”."""
        told = "/".join(side for side in SIDES if side in self.sides)
        return f"{('', '', 'edge ', 'corner ')[len(self.sides)]}{told}"


def usual_order(sides: Sequence[str]) -> tuple[SprayStop, ...]:
    """Corners, then edges, then the sides from the least seen to the most seen (common practice, no source).

    Only `sides` are coated; a corner or an edge counts when all the sides that meet there are coated.
    """
    coated = [side for side in SIDES if side in set(sides)]
    if not coated:
        raise Refusal(
            "No side is coated.", where="spray order", remedy="Name at least one of " + ", ".join(SIDES)
        )
    stops = []
    for meeting in (3, 2):
        for group in combinations(coated, meeting):
            if not any(pair <= set(group) for pair in _OPPOSITE):
                stops.append(SprayStop(frozenset(group)))
    last_first = ("bottom", "back", "left", "right", "front", "top")
    return (*stops, *(SprayStop(frozenset({side})) for side in last_first if side in coated))


def rim_order(side: str) -> tuple[SprayStop, ...]:
    """A flat or curved piece, seen from `side` (top or bottom): the corners of its rim, the edges, then the face (common practice, no source)."""
    if side not in ("top", "bottom"):
        raise Refusal("A flat piece lies with its top or its bottom up.", where=side)
    corners = [frozenset({side, a, b}) for a in ("front", "back") for b in ("left", "right")]
    edges = [frozenset({side, a}) for a in ("front", "back", "left", "right")]
    return tuple(SprayStop(sides) for sides in (*corners, *edges, frozenset({side})))


def unfolded(stops: Sequence[SprayStop], *, label: str = "Spray order") -> str:
    """SVG of the piece laid open with the number of each stop where it lies; sides that are not sprayed in this pass are hatched."""
    coated = frozenset[str]().union(*(stop.sides for stop in stops if len(stop.sides) == 1))
    ids = ink.key_of("faces", tuple(stop.name for stop in stops))
    body = [ink.pattern_defs(["night"], ids)]
    for side, (x, y, width, height) in _BOX.items():
        fill = ink.PAPER if side in coated else ink.pattern_fill("night", ids)
        body.append(ink.rect(x, y, width, height, fill, stroke=ink.INK, stroke_width=1.2))
        body.append(_side_name(side, x + width / 2, y + height / 2, narrow=width < 60))
    for order, stop in enumerate(stops, 1):
        body += _bead(*place_of(stop), order, len(stop.sides))
    told = ", ".join(f"{order} {stop.name}" for order, stop in enumerate(stops, 1))
    return ink.picture(360, 272, body, label=f"{label}: {told}")


def _side_name(side: str, x: float, y: float, *, narrow: bool) -> str:
    """The name of a side, beside its bead or (on a narrow side) below it."""
    if narrow:
        return ink.words(x, y + 26, side, size=10, anchor="middle", fill=ink.QUIET)
    return ink.words(x + 15, y + 8, side, size=10, fill=ink.QUIET)


def place_of(stop: SprayStop) -> tuple[float, float]:
    """Where a stop lies on the picture; an edge or corner away from the top lies where its sides join."""
    if len(stop.sides) == 1:
        x, y, width, height = _BOX[next(iter(stop.sides))]
        return x + width / 2, y + height / 2 + 4
    home = next(side for side in ("top", "bottom", "front", "back") if side in stop.sides)
    x, y, width, height = _BOX[home]
    across = {"left": x, "right": x + width}
    down = _down(home, y, height)
    others = stop.sides - {home}
    px = next((across[side] for side in others if side in across), x + width / 2)
    py = next((down[side] for side in others if side in down), y + height / 2)
    return px, py


def _down(home: str, y: float, height: float) -> dict[str, float]:
    """The upper and the lower edge of the side `home`, by the side that meets it there."""
    return {
        "top": {"back": y, "front": y + height},
        "front": {"top": y, "bottom": y + height},
        "back": {"bottom": y, "top": y + height},
        "bottom": {"front": y, "back": y + height},
    }[home]


def _bead(x: float, y: float, order: int, meeting: int) -> list[str]:
    """A numbered bead: round for a side, square for an edge, diamond for a corner."""
    size = 8.5
    if meeting == 1:
        shape = f'<circle cx="{ink.number(x)}" cy="{ink.number(y)}" r="{size + 1}" fill="{ink.INK}"/>'
    elif meeting == 2:
        shape = ink.rect(x - size, y - size, 2 * size, 2 * size, ink.PAPER, stroke=ink.INK, stroke_width=1.4)
    else:
        corners = " ".join(
            f"{ink.number(px)},{ink.number(py)}"
            for px, py in ((x, y - 12), (x + 12, y), (x, y + 12), (x - 12, y))
        )
        shape = f'<polygon points="{corners}" fill="{ink.PAPER}" stroke="{ink.INK}" stroke-width="1.4"/>'
    colour = ink.PAPER if meeting == 1 else ink.INK
    return [shape, ink.words(x, y + 3.4, order, size=9.5, anchor="middle", weight=700, fill=colour)]
