"""The a*b* plane with an L* strip beside it: the target with what is near enough, the cup with its spread, readings, and where pours lead.

Drawn to one scale on both axes. Shapes and numbers tell the points apart, so that nothing hangs on colour alone: target a cross in its border of
what is near enough, readings squares, the cup a large disc in its 90 % border, and numbered rings for the colour foretold after each pouring.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hidewright.charts import ink
from hidewright.refusals import Refusal

Array = NDArray[np.float64]
PLANE: Final = 250.0
STRIP: Final = 40.0
LEFT: Final = 40.0
TOP: Final = 20.0
GAP: Final = 44.0
IN_PLANE_90: Final = 4.605170185988092
"""χ² of two degrees of freedom that 90 % lie within (ln 100)."""
Z90: Final = 1.6448536269514722
TONES: Final = {"target": "#1f2328", "cup": "#b3541e", "then": "#1d5a8c", "read": "#5b6470"}


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """A colour on the plane: Lab (3,), a label, the hex it is filled with, and where known its covariance (3, 3)."""

    label: str
    lab: Array
    hex: str = "#ffffff"
    covariance: Array | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        values = np.asarray(self.lab, dtype=float)
        if values.shape != (3,) or not np.all(np.isfinite(values)):
            raise Refusal("A colour has three numbers.", where=self.label)
        object.__setattr__(self, "lab", values)


@dataclass(frozen=True, slots=True, eq=False)
class PlaneShown:
    """What the plane shows. `near` (3, 3): dᵀ·near·d = 1 on the border of what is near enough, d = Lab − target.

    `way` the colours that lead to the cup, pour by pour, the first of them numbered `first`; `then` those that lead on from it.
    """

    target: Spot
    near: Array
    cup: Spot | None = None
    read: Sequence[Spot] = ()
    then: Sequence[Spot] = ()
    way: Sequence[Spot] = ()
    first: int = 1


def outline(middle: Array, square: Array, level: float = 1.0, points: int = 48) -> Array:
    """Points (n, 2) with dᵀ·square·d = level around a middle (2,); `square` (2, 2) is symmetric and positive."""
    values, vectors = np.linalg.eigh(square)
    turn = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
    axes = vectors * np.sqrt(level / np.maximum(values, 1e-9))
    return np.asarray(middle + np.stack([np.cos(turn), np.sin(turn)], axis=1) @ axes.T)


def _half(shown: PlaneShown) -> tuple[float, float]:
    """What is near enough and the cup's 90 % in L*, each as half a length."""
    near = float(1.0 / np.sqrt(max(shown.near[0, 0], 1e-9)))
    cup = shown.cup
    spread = 0.0 if cup is None or cup.covariance is None else Z90 * float(np.sqrt(cup.covariance[0, 0]))
    return near, spread


def _borders(shown: PlaneShown) -> tuple[Array, Array | None]:
    # the slice through the target's own lightness: what an eye would take as near enough there
    near = outline(shown.target.lab[1:], shown.near[1:, 1:])
    cup = shown.cup
    if cup is None or cup.covariance is None:
        return near, None
    spread = np.asarray(np.linalg.inv(cup.covariance[1:, 1:] + 1e-9 * np.eye(2)), dtype=np.float64)
    return near, outline(cup.lab[1:], spread, IN_PLANE_90)


class _Scale:
    """Lab to the picture, one unit of a*, b* or L* being as long as another."""

    def __init__(self, shown: PlaneShown, borders: Sequence[Array]) -> None:
        spots = [shown.target, *shown.read, *shown.way, *shown.then, *([shown.cup] if shown.cup else [])]
        flat = np.concatenate([np.array([s.lab[1:] for s in spots]), *borders])
        lights = np.array([s.lab[0] for s in spots])
        near, spread = _half(shown)
        tall = np.array([lights.min() - max(near, spread), lights.max() + max(near, spread)])
        low, high = flat.min(axis=0), flat.max(axis=0)
        self.span = 1.12 * max(float((high - low).max()), float(tall[1] - tall[0]), 0.5)
        self.middle = (low + high) / 2
        self.light = float(tall.mean())

    def at(self, ab: Array) -> tuple[float, float]:
        """x and y of an (a*, b*)."""
        x, y = (np.asarray(ab, dtype=float) - self.middle) / self.span
        return LEFT + PLANE * (0.5 + float(x)), TOP + PLANE * (0.5 - float(y))

    def up(self, lightness: float) -> float:
        """y of an L*."""
        return TOP + PLANE * (0.5 - (lightness - self.light) / self.span)

    def ticks(self, middle: float) -> list[float]:
        """Round values across the span around a middle."""
        step = next(s for s in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0) if self.span / s <= 6)
        first = np.ceil((middle - self.span / 2) / step) * step
        return [float(v) + 0.0 for v in np.round(np.arange(first, middle + self.span / 2, step), 9)]


def _axes(scale: _Scale) -> list[str]:
    body = [ink.rect(LEFT, TOP, PLANE, PLANE, ink.PAPER, stroke=ink.LINE)]
    for value in scale.ticks(float(scale.middle[0])):
        x, _ = scale.at(np.array([value, scale.middle[1]]))
        body += [
            ink.line(x, TOP, x, TOP + PLANE, "#e3e6ea"),
            ink.words(x, TOP + PLANE + 14, f"{value:g}", size=10, anchor="middle"),
        ]
    for value in scale.ticks(float(scale.middle[1])):
        _, y = scale.at(np.array([scale.middle[0], value]))
        body += [
            ink.line(LEFT, y, LEFT + PLANE, y, "#e3e6ea"),
            ink.words(LEFT - 4, y + 4, f"{value:g}", size=10, anchor="end"),
        ]
    body += [
        ink.words(LEFT + PLANE / 2, TOP + PLANE + 29, "greener · a* · redder", anchor="middle"),
        ink.words(12, TOP + PLANE / 2, "bluer · b* · yellower", anchor="middle", turned=True),
    ]
    x = LEFT + PLANE + GAP
    body += [
        ink.rect(x, TOP, STRIP, PLANE, ink.PAPER, stroke=ink.LINE),
        ink.words(x + STRIP / 2, TOP + PLANE + 29, "L*", anchor="middle"),
    ]
    for value in scale.ticks(scale.light):
        y = scale.up(value)
        body += [
            ink.line(x, y, x + STRIP, y, "#e3e6ea"),
            ink.words(x - 4, y + 4, f"{value:g}", size=10, anchor="end"),
        ]
    return body


def _border(points: Array, scale: _Scale, stroke: str, dash: str) -> str:
    path = " L".join(f"{ink.number(x)},{ink.number(y)}" for x, y in (scale.at(p) for p in points))
    return f'<path d="M{path} Z" fill="none" stroke="{stroke}" stroke-width="1.5" stroke-dasharray="{dash}"/>'


def _marked(x: float, y: float, kind: str, spot: Spot, number: int) -> list[str]:
    """One point in its shape."""
    tone = TONES[kind]
    if kind == "target":
        return [
            ink.line(x - 7, y, x + 7, y, tone, stroke_width=2),
            ink.line(x, y - 7, x, y + 7, tone, stroke_width=2),
        ]
    if kind == "read":
        return [ink.rect(x - 4, y - 4, 8, 8, spot.hex, stroke=tone, stroke_width=1.5)]
    radius = 8 if kind == "cup" else 7
    ring = f'<circle cx="{ink.number(x)}" cy="{ink.number(y)}" r="{radius}" fill="{ink.text_safe(spot.hex if kind == "cup" else ink.PAPER)}" stroke="{tone}" stroke-width="2"/>'
    return [ring] + (
        [ink.words(x, y + 3.5, number, size=9, anchor="middle", weight=600)] if kind == "then" else []
    )


def colour_plane(shown: PlaneShown) -> str:
    """The plane and its strip; SVG, with every number in its label for those who do not see it."""
    near, spread = _borders(shown)
    scale = _Scale(shown, [near, *([spread] if spread is not None else [])])
    body = [*_axes(scale), _border(near, scale, TONES["target"], "5 3")]
    if spread is not None:
        body.append(_border(spread, scale, TONES["cup"], "2 2"))
    chain = [*shown.way, *([shown.cup] if shown.cup else []), *shown.then]
    for one, two in pairwise(chain):
        body.append(ink.line(*scale.at(one.lab[1:]), *scale.at(two.lab[1:]), TONES["then"], stroke_width=1.5))
    strip = LEFT + PLANE + GAP + STRIP / 2
    half = _half(shown)
    if shown.cup is not None and half[1]:
        y = scale.up(float(shown.cup.lab[0]))
        long = PLANE * half[1] / scale.span
        body.append(
            ink.line(strip, y - long, strip, y + long, TONES["cup"], stroke_width=2, stroke_dasharray="2 2")
        )
    for side in (-half[0], half[0]):
        y = scale.up(float(shown.target.lab[0]) + side)
        body.append(
            ink.line(strip - STRIP / 2, y, strip + STRIP / 2, y, TONES["target"], stroke_dasharray="5 3")
        )
    groups = (
        ("read", shown.read, 1),
        ("then", shown.way, shown.first),
        ("cup", [shown.cup] if shown.cup else [], 1),
        ("then", shown.then, 1),
        ("target", [shown.target], 1),
    )
    for kind, spots, first in groups:
        for number, spot in enumerate(spots, first):
            body += _marked(*scale.at(spot.lab[1:]), kind, spot, number)
            body += _marked(strip, scale.up(float(spot.lab[0])), kind, spot, number)
    told = ", ".join(
        f"{spot.label} L* {spot.lab[0]:.1f} a* {spot.lab[1]:.1f} b* {spot.lab[2]:.1f}"
        for _, spots, _ in groups
        for spot in spots
    )
    return ink.picture(
        LEFT + PLANE + GAP + STRIP + 4, TOP + PLANE + 38, body, label=f"The a*b* plane: {told}"
    )
