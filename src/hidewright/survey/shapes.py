"""Shapes: from three dimensions to faces with an area and its spread.

Each shape is plain geometry with an allowance for what a tape does not see (crown, rolled edges, seams). The allowances and the spreads are starting
values: common practice, no source; the shop's own yield corrects what they get wrong on average.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import hypot, pi

from hidewright.refusals import Refusal

CURVES = ("straight", "gentle", "tight")
"""How tightly an edge bends: the tighter it is, the narrower the tape that follows it."""


@dataclass(frozen=True, slots=True)
class Face:
    """One face of a piece.

    `area` m², `area_sd` its standard deviation in m²; `side` "front" (up in the first pass) or "back" (up after turning); `sat_on` True when
    people sit or lean on it; `edge` m of outline to mask; `curve` how tightly that outline bends.
    """

    name: str
    area: float
    area_sd: float
    side: str
    sat_on: bool
    edge: float
    curve: str = "straight"

    def __post_init__(self) -> None:
        if not 0 < self.area < 50:
            raise Refusal(
                f"An area of {self.area:.4g} m² is not that of a face.",
                where=self.name,
                remedy="Check the dimensions.",
            )
        if self.side not in ("front", "back") or self.curve not in CURVES:
            raise Refusal(
                "A face lies front or back, with an edge that is straight, gentle or tight.", where=self.name
            )


@dataclass(frozen=True, slots=True)
class Shape:
    """A kind of piece: what it is called, which dimensions it needs, and how they become faces."""

    key: str
    words: str
    needs: tuple[str, ...]
    most: tuple[float, float, float]
    """Largest length, width and thickness in m; a larger number is a slip of the unit."""
    spread: float
    """Relative sd of an area worked out from this shape."""
    faces: Callable[[float, float, float], list[tuple[str, float, str, bool, float, str]]]


def _panel(length: float, width: float, thickness: float) -> list[tuple[str, float, str, bool, float, str]]:
    return [
        ("front", length * width, "front", True, 2 * (length + width), "straight"),
        ("back", length * width, "back", True, 2 * (length + width), "straight"),
    ]


def _cushion(length: float, width: float, thickness: float) -> list[tuple[str, float, str, bool, float, str]]:
    around = 2 * (length + width)
    return [
        ("top", 1.06 * length * width, "front", True, around, "gentle"),
        ("border", around * thickness, "front", False, around, "gentle"),
        ("underside", 1.06 * length * width, "back", True, around, "gentle"),
    ]


def _roll(length: float, width: float, thickness: float) -> list[tuple[str, float, str, bool, float, str]]:
    half = pi * width * length / 2
    return [
        ("front half", half, "front", True, 2 * length, "gentle"),
        ("ends", pi * width**2 / 2, "front", False, 2 * pi * width, "tight"),
        ("back half", half, "back", False, 2 * length, "gentle"),
    ]


def _shell(length: float, width: float, thickness: float) -> list[tuple[str, float, str, bool, float, str]]:
    around = 2 * (length + width)
    return [
        ("inside", 1.12 * length * width, "front", True, around, "tight"),
        ("outside", 1.08 * length * width, "back", False, around, "gentle"),
    ]


def _arm(length: float, width: float, thickness: float) -> list[tuple[str, float, str, bool, float, str]]:
    return [
        ("top", length * width, "front", True, 2 * (length + width), "gentle"),
        ("flanks", 2 * length * thickness, "front", False, 2 * length, "gentle"),
        ("ends", 2 * width * thickness, "front", False, 2 * (width + thickness), "tight"),
        ("underside", length * width, "back", False, 2 * (length + width), "straight"),
    ]


def _box(length: float, width: float, thickness: float) -> list[tuple[str, float, str, bool, float, str]]:
    return [
        ("face", length * width, "front", False, 2 * (length + width), "straight"),
        ("edges", 2 * (length + width) * thickness, "front", False, 2 * (length + width), "straight"),
        ("back", length * width, "back", False, 2 * (length + width), "straight"),
    ]


SHAPES: Mapping[str, Shape] = {
    shape.key: shape
    for shape in (
        Shape("panel", "flat panel", ("length", "width"), (8.0, 4.0, 0.5), 0.03, _panel),
        Shape(
            "cushion",
            "cushion with a border",
            ("length", "width", "thickness"),
            (4.0, 3.0, 0.8),
            0.08,
            _cushion,
        ),
        Shape(
            "roll",
            "roll or bolster (width is its diameter)",
            ("length", "width"),
            (4.0, 0.8, 0.8),
            0.06,
            _roll,
        ),
        Shape("shell", "curved back or shell", ("length", "width"), (4.0, 3.0, 1.0), 0.10, _shell),
        Shape("arm", "arm or wrapped rail", ("length", "width", "thickness"), (6.0, 1.0, 1.0), 0.10, _arm),
        Shape(
            "box",
            "front with edges: drawer, door, fascia",
            ("length", "width", "thickness"),
            (5.0, 3.0, 0.5),
            0.04,
            _box,
        ),
    )
}


TAPE_SD = 0.004
"""Standard deviation in m of one dimension read off a tape on soft goods: common practice, no source."""
LEAST = 0.005
"""No dimension of a piece is smaller (m)."""
TEMPLATE_SD = 0.03
"""Relative sd of an area taken off a template or a drawing: common practice, no source."""


def relative_sd(shape: Shape, length: float, width: float) -> float:
    """Relative sd of an area: what the shape leaves out and what the tape misreads, in quadrature."""
    return hypot(shape.spread, TAPE_SD / length, TAPE_SD / width)


def _check(kind: Shape, sizes: Mapping[str, float]) -> None:
    for (name, size), most in zip(sizes.items(), kind.most, strict=True):
        needed = name in kind.needs
        if needed and not size:
            raise Refusal(
                f"A {kind.words} needs its {name}.", where=name, remedy="Measure it and write it in."
            )
        if (needed or size) and not LEAST <= size <= most:
            raise Refusal(
                f"A {name} of {size:.4g} m is not that of a {kind.words}.",
                where=name,
                remedy=f"It lies from 5 mm to {most:g} m; check the unit.",
            )


def faces_of(
    shape: str,
    length: float,
    width: float,
    thickness: float,
    *,
    sat_on: bool,
    turned: bool,
    measured: float = 0.0,
) -> tuple[Face, ...]:
    """The faces that are coated: those in front, and those at the back too if the piece is turned.

    Dimensions in m. `measured` m² is the whole coated area where it was taken off a template: the faces then share it in the shape's proportions.
    """
    if shape not in SHAPES:
        raise Refusal(
            f"The shape “{shape}” is not known.", where="shape", remedy=f"Use one of {', '.join(SHAPES)}."
        )
    kind = SHAPES[shape]
    _check(kind, {"length": length, "width": width, "thickness": thickness})
    laid_out = [row for row in kind.faces(length, width, thickness) if row[2] == "front" or turned]
    whole = sum(row[1] for row in laid_out)
    if measured and not 0.1 <= measured / whole <= 5:
        raise Refusal(
            f"A measured area of {measured:.4g} m² does not go with a {kind.words} that comes to {whole:.3g} m².",
            where="area",
            remedy="Check the area, the dimensions and their units.",
        )
    scale = measured / whole if measured else 1.0
    spread = TEMPLATE_SD if measured else relative_sd(kind, length, width)
    return tuple(
        Face(name, area * scale, spread * area * scale, side, sat_on and can_be_sat_on, edge, curve)
        for name, area, side, can_be_sat_on, edge, curve in laid_out
    )
