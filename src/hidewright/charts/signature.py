"""A signature drawn on the screen: strokes as points, read strictly, drawn as SVG."""

import json
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from hidewright.refusals import Refusal

WIDTH, HEIGHT = 1000, 400
"""The field that is signed in, in its own units."""
MOST_POINTS = 4000
LONGEST_TEXT = 60_000
LEAST_LENGTH = 60.0
"""Units of line below which it is a slip of the finger, not a signature."""
AGAIN = "Sign once more in the field."

Point = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Signature:
    """Strokes, each a line of points with 0 ≤ x ≤ WIDTH and 0 ≤ y ≤ HEIGHT; long enough to be meant."""

    strokes: tuple[tuple[Point, ...], ...]

    def __post_init__(self) -> None:
        points = [point for stroke in self.strokes for point in stroke]
        if not points:
            raise Refusal("Nobody has signed yet.", where="Signature", remedy="Sign in the field.")
        if len(points) > MOST_POINTS:
            raise Refusal("The signature has too many points.", where="Signature", remedy=AGAIN)
        if not all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in points):
            raise Refusal("The signature leaves its field.", where="Signature", remedy=AGAIN)
        if self.length < LEAST_LENGTH:
            raise Refusal("That is too short for a signature.", where="Signature", remedy=AGAIN)

    @property
    def length(self) -> float:
        """Length of all strokes in units of the field."""
        return sum(
            ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5
            for stroke in self.strokes
            for (x1, y1), (x2, y2) in pairwise(stroke)
        )

    def data(self) -> list[list[list[int]]]:
        """The strokes as plain lists, to be kept."""
        return [[[x, y] for x, y in stroke] for stroke in self.strokes]

    def svg(self, label: str = "Signature") -> str:
        """The signature as SVG with a label for those who do not see it."""
        lines = "".join(
            f'<polyline points="{" ".join(f"{x},{y}" for x, y in stroke)}"/>'
            if len(stroke) > 1
            else f'<circle cx="{stroke[0][0]}" cy="{stroke[0][1]}" r="3" fill="#1f2328"/>'
            for stroke in self.strokes
            if stroke
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(label)}">'
            f'<g fill="none" stroke="#1f2328" stroke-width="5" stroke-linecap="round" stroke-linejoin="round">{lines}</g></svg>'
        )


def signature_of(data: object) -> Signature:
    """A signature out of plain lists; refuses anything else."""
    if not isinstance(data, list):
        raise Refusal("The signature cannot be read.", where="Signature", remedy=AGAIN)
    strokes = []
    for stroke in data:
        if not isinstance(stroke, list) or not all(
            isinstance(point, list) and len(point) == 2 and all(type(v) is int for v in point)
            for point in stroke
        ):
            raise Refusal("The signature cannot be read.", where="Signature", remedy=AGAIN)
        strokes.append(tuple((point[0], point[1]) for point in stroke))
    return Signature(tuple(strokes))


def read_signature(text: str) -> Signature:
    """A signature from the text that the page sends: JSON, a list of strokes, each a list of [x, y]. Refuses what is none."""
    if not text.strip():
        raise Refusal("Nobody has signed yet.", where="Signature", remedy="Sign in the field.")
    if len(text) > LONGEST_TEXT:
        raise Refusal("The signature has too many points.", where="Signature", remedy=AGAIN)
    try:
        data = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Refusal("The signature cannot be read.", where="Signature", remedy=AGAIN) from error
    return signature_of(data)
