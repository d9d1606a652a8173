"""Spray order cards out of the list of pieces: like pieces get one order, a pass for each side that is coated."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Final

from hidewright.charts.faces import SprayStop, usual_order
from hidewright.papers.spray_order import LikePieces, SprayOrderCard
from hidewright.refusals import Refusal
from hidewright.survey import Piece

SIDES_OF: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "panel": {"front": ("top",), "back": ("bottom",)},
    "cushion": {"top": ("top",), "border": ("front", "back", "left", "right"), "underside": ("bottom",)},
    "roll": {"front half": ("top",), "ends": ("left", "right"), "back half": ("bottom",)},
    "shell": {"inside": ("top",), "outside": ("bottom",)},
    "arm": {
        "top": ("top",),
        "flanks": ("front", "back"),
        "ends": ("left", "right"),
        "underside": ("bottom",),
    },
    "box": {"face": ("top",), "edges": ("front", "back", "left", "right"), "back": ("bottom",)},
}
"""Shape → its faces → the sides of the box they cover, as the piece lies on the table with its front up."""


def spray_order_of(
    pieces: Iterable[Piece], *, job: str, colour: str, made_on: date, coats: str = "", page_url: str = ""
) -> SprayOrderCard:
    """The card for these pieces. Pieces are alike when name, shape and coated faces agree."""
    like: dict[tuple[str, str, tuple[str, ...]], list[Piece]] = {}
    for piece in pieces:
        faces = tuple(face.name for face in piece.faces)
        like.setdefault((piece.name, piece.shape, faces), []).append(piece)
    kinds = [kind for group in like.values() for kind in _passes(group, coats)]
    return SprayOrderCard(job, colour, tuple(kinds), made_on, page_url=page_url)


def _passes(group: list[Piece], coats: str) -> Iterable[LikePieces]:
    first = group[0]
    codes = tuple(piece.key for piece in group)
    front, back = _sides(first, "front"), _sides(first, "back")
    if front:
        yield LikePieces(
            first.name, codes, usual_order(front), "First pass: lies with its front or top up.", coats
        )
    if back:
        stops = tuple(stop for stop in usual_order((*front, *back)) if stop.sides & set(back))
        lies = "Second pass: turned, its back or underside up, when the first side has cured."
        yield LikePieces(f"{first.name}, turned", codes, _bottom_first(stops), lies, coats)


def _bottom_first(stops: tuple[SprayStop, ...]) -> tuple[SprayStop, ...]:
    """The stops of the second pass: edges and corners first, the underside last."""
    return tuple(sorted(stops, key=lambda stop: -len(stop.sides)))


def _sides(piece: Piece, side: str) -> tuple[str, ...]:
    known = SIDES_OF.get(piece.shape)
    if known is None:
        raise Refusal(
            f"No spray order is known for the shape “{piece.shape}”.",
            where=piece.key,
            remedy="Give it one of the known shapes.",
        )
    return tuple(name for face in piece.faces if face.side == side for name in known[face.name])
