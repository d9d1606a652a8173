"""Typical pieces of a seat, a chair, a settee and a panel: what a first call counts, before anybody measured.

Common practice, no source: middle sizes of what is found in cabins, saloons and lounges. A single interior differs by a quarter or so (`AREA_SD`),
which every figure worked out from these must carry.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from hidewright.refusals import Refusal

from .piece import Piece, make_piece

AREA_SD = 0.25
"""Relative sd of the area of one interior against these sizes: common practice, no source."""
MOST = 200
"""Of one kind; more is no first call."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a kind: name, shape, length, width and thickness in m, how many, whether it is sat on and coated on both sides."""

    name: str
    shape: str
    size: tuple[float, float, float]
    count: int = 1
    sat_on: bool = True
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Furniture:
    """What somebody counts on the telephone: its key, what one and several are called, the letters its marks begin with, and its parts."""

    key: str
    one: str
    several: str
    mark: str
    parts: tuple[Part, ...]


SEAT = Furniture("seat", "seat with arms", "seats with arms", "S", (
    Part("seat cushion", "cushion", (0.54, 0.52, 0.13), turned=True),
    Part("back", "shell", (0.72, 0.54, 0.0), turned=True),
    Part("head roll", "roll", (0.42, 0.11, 0.0)),
    Part("arm", "arm", (0.50, 0.10, 0.18), 2),
    Part("skirt", "panel", (0.54, 0.19, 0.0), sat_on=False),
))  # fmt: skip
CHAIR = Furniture("chair", "chair without arms", "chairs without arms", "C", (
    Part("seat", "cushion", (0.46, 0.45, 0.08)),
    Part("back", "shell", (0.50, 0.43, 0.0)),
))  # fmt: skip
SETTEE = Furniture("settee", "settee", "settees", "T", (
    Part("seat cushion", "cushion", (0.62, 0.58, 0.14), 3, turned=True),
    Part("back cushion", "cushion", (0.62, 0.48, 0.12), 3),
    Part("arm", "arm", (0.66, 0.13, 0.24), 2),
    Part("front panel", "panel", (1.90, 0.22, 0.0), sat_on=False),
))  # fmt: skip
PANEL = Furniture("panel", "trim panel", "trim panels", "P", (
    Part("panel", "panel", (0.90, 0.32, 0.0), sat_on=False),
))  # fmt: skip

FURNITURE: Mapping[str, Furniture] = {each.key: each for each in (SEAT, CHAIR, SETTEE, PANEL)}
"""What can be counted, in the order in which it is asked."""


def typical_pieces(counts: Mapping[str, int], *, material: str = "leather", strip: bool) -> tuple[Piece, ...]:
    """The pieces that so many of each kind typically have; refuses unknown kinds, numbers below nothing or above `MOST`, and nothing at all."""
    for key, count in counts.items():
        if key not in FURNITURE:
            raise Refusal(f"“{key}” is not counted here.", where=key, remedy=f"Use {', '.join(FURNITURE)}.")
        if not 0 <= count <= MOST:
            raise Refusal(
                f"{count} {FURNITURE[key].several} cannot be.", where=key, remedy=f"Write 0 to {MOST}."
            )
    made = [
        piece
        for kind in FURNITURE.values()
        for number in range(1, counts.get(kind.key, 0) + 1)
        for piece in _pieces(kind, number, material, strip)
    ]
    if not made:
        raise Refusal(
            "Nothing is counted yet.", where="counts", remedy="Write how many there are of something."
        )
    return tuple(made)


def _pieces(kind: Furniture, number: int, material: str, strip: bool) -> list[Piece]:
    found = []
    group = f"{kind.one[:1].upper()}{kind.one[1:]} {number}"
    place = 0
    for part in kind.parts:
        for which in range(1, part.count + 1):
            place += 1
            length, width, thickness = part.size
            found.append(
                make_piece(
                    key=f"{kind.mark}{number}-{place}",
                    name=f"{part.name} {which}" if part.count > 1 else part.name,
                    group=group,
                    shape=part.shape,
                    length=length,
                    width=width,
                    thickness=thickness,
                    material=material,
                    condition="worn",
                    sat_on=part.sat_on,
                    turned=part.turned,
                    strip=strip,
                    notes="typical size, not measured yet",
                )
            )
    return found
