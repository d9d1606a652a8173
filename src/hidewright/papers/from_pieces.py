"""Spray order cards out of the list of pieces: like pieces get one order, one for each side that is coated."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Final

from hidewright.charts.faces import SprayStop, rim_order, usual_order
from hidewright.papers.spray_order import LikePieces, SprayOrderCard
from hidewright.refusals import Refusal
from hidewright.survey import SHAPES, Piece
from hidewright.survey.zones import zones_as_text

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


RIMMED: Final = frozenset({"panel", "shell"})
"""Shapes whose sides are only a rim: it is sprayed with the face, corners first."""


def spray_order_of(
    pieces: Iterable[Piece], *, job: str, colour: str, made_on: date, coats: str = "", page_url: str = ""
) -> SprayOrderCard:
    """The card for these pieces. Pieces are alike when their shape and their coated faces agree, whatever they are called: they get one order."""
    listed = list(pieces)
    kinds: list[LikePieces] = []
    for shape in dict.fromkeys(piece.shape for piece in listed):
        kinds += _in_zones([piece for piece in listed if piece.shape == shape and piece.zones], coats)
        alike = [piece for piece in listed if piece.shape == shape and not piece.zones]
        kinds += _passes(alike, "front", "lies with its front or top up.", coats)
        kinds += _passes(
            alike, "back", "turned, its back or underside up, when the first side has cured.", coats
        )
    return SprayOrderCard(job, colour, tuple(kinds), made_on, page_url=page_url)


def _passes(alike: list[Piece], side: str, lies: str, coats: str) -> Iterable[LikePieces]:
    """One block for each set of faces that is coated on this side."""
    groups: dict[tuple[tuple[str, ...], tuple[str, ...]], list[Piece]] = {}
    for piece in alike:
        front, back = _sides(piece, "front"), _sides(piece, "back")
        if back if side == "back" else front:
            groups.setdefault((front, back if side == "back" else ()), []).append(piece)
    for (front, back), group in groups.items():
        stops = _stops(group[0].shape, front, back)
        shape = SHAPES[group[0].shape].words.partition(" (")[0]
        number = "first" if side == "front" else "second"
        yield LikePieces(
            f"{shape[:1].upper()}{shape[1:]}, {number} side",
            tuple(piece.key for piece in group),
            stops,
            f"It {lies}" if side == "front" else f"It is {lies}",
            coats,
            _by_name(group),
        )


def _in_zones(alike: list[Piece], coats: str) -> Iterable[LikePieces]:
    """One block for each set of zones: the same stops zone by zone, each where it belongs to the zone."""
    groups: dict[tuple[tuple[str, ...], str], list[Piece]] = {}
    for piece in alike:
        sides = (*_sides(piece, "front"), *_sides(piece, "back"))
        groups.setdefault((sides, zones_as_text(piece.zones)), []).append(piece)
    for (sides, _), group in groups.items():
        shape = SHAPES[group[0].shape].words.partition(" (")[0]
        yield LikePieces(
            f"{shape[:1].upper()}{shape[1:]}, in zones",
            tuple(piece.key for piece in group),
            rim_order("top") if group[0].shape in RIMMED else usual_order(sides),
            f"It is coated in zones, each in this order as far as it goes: {_zone_words(group[0])}.",
            coats,
            _by_name(group),
        )


def _zone_words(piece: Piece) -> str:
    """“first flap and sides (mask back and face); then, turned, back and face”."""
    words = []
    for number, zone in enumerate(piece.zones):
        turned = ", turned," if zone.moved else ""
        masked = f" (mask {zone.masked})" if zone.masked else ""
        words.append(f"{'then' if number else 'first'}{turned} {zone.name}{masked}")
    return "; ".join(words)


def _by_name(group: list[Piece]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    names: dict[str, list[str]] = {}
    for piece in group:
        names.setdefault(piece.name, []).append(piece.key)
    return tuple((name, tuple(keys)) for name, keys in names.items())


def _stops(shape: str, front: tuple[str, ...], back: tuple[str, ...]) -> tuple[SprayStop, ...]:
    """The stops of the first side, or (with what is coated at the `back`) of the second: corners and edges before the faces."""
    if shape in RIMMED:
        return rim_order("bottom" if back else "top")
    if not back:
        return usual_order(front)
    found = (stop for stop in usual_order((*front, *back)) if stop.sides & set(back))
    return tuple(sorted(found, key=lambda stop: -len(stop.sides)))


def _sides(piece: Piece, side: str) -> tuple[str, ...]:
    known = SIDES_OF.get(piece.shape)
    if known is None:
        raise Refusal(
            f"No spray order is known for the shape “{piece.shape}”.",
            where=piece.key,
            remedy="Give it one of the known shapes.",
        )
    return tuple(name for face in piece.faces if face.side == side for name in known[face.name])
