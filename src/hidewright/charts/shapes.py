"""Small pictures of the shapes that pieces have, for lists and forms: plain line drawings, faces that are sat on hatched."""

from collections.abc import Iterable
from functools import lru_cache

from hidewright.charts import ink

_PLAIN, _EDGE = "#f4f4f4", "#d9d9d9"
_FILLED = "#8fbf98"
_SQUARE: tuple[str, tuple[str, ...]] = ("M12,8 H58 V40 H12 Z", ())
_FOOT, _HIGH = 42.0, 36.0
"""Where the drawings end below, and how high they are at most."""
_DRAWN: dict[str, tuple[str, tuple[str, ...]]] = {
    "panel": ("M10,38 L20,8 H60 L50,38 Z", ()),
    "cushion": ("M8,24 Q8,20 14,19 L24,9 Q27,7 32,7 H56 Q62,7 60,12 L52,22 Q50,25 45,25 H12 Q8,25 8,24 Z", ("M8,24 V35 Q8,38 12,38 H45 Q50,38 52,35 L60,24 V12",)),
    "roll": ("M14,16 L50,10 A4,12 0 0 1 50,34 L14,40 A4,12 0 0 1 14,16 Z", ("M14,16 A4,12 0 0 0 14,40 A4,12 0 0 0 14,16",)),
    "shell": ("M16,40 Q12,10 34,8 Q56,10 52,40 Q46,34 34,34 Q22,34 16,40 Z", ("M52,40 Q58,36 58,24 Q57,12 46,9",)),
    "arm": ("M8,22 L22,10 H62 L50,22 Z", ("M8,22 V32 H50 V22", "M50,32 L62,20 V10")),
    "box": ("M8,14 H52 V40 H8 Z", ("M8,14 L14,8 H58 L52,14", "M52,40 L58,34 V8")),
}  # fmt: skip
"""Shape → outline of the face that lies up, and the lines around it; on a ground of 70 by 46."""


def shape_picture(shape: str, *, sat_on: bool = False, turned: bool = False, label: str = "") -> str:
    """SVG of a shape; hatched where people sit, with an arrow round it when it is turned. Unknown shapes are drawn as a plain square."""
    return _framed(_drawing(shape, sat_on, turned), label or shape)


def shape_copy(shape: str, *, sat_on: bool = False, turned: bool = False, label: str = "") -> str:
    """The same picture, which shows the drawing that `shape_drawings` puts on the page once: for a list that shows a shape many times."""
    return _framed(f'<use href="#{_key(shape, sat_on, turned)}"/>', label or shape)


def shape_drawings(kinds: Iterable[tuple[str, bool, bool]]) -> str:
    """The drawings of which copies are shown on a page: of each (shape, sat on, turned) one, in an SVG that is not seen itself."""
    drawn = "".join(
        f'<symbol id="{_key(*kind)}" viewBox="0 0 76 48">{_drawing(*kind)}</symbol>'
        for kind in dict.fromkeys(kinds)
    )
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="0" height="0" class="drawings" aria-hidden="true">{drawn}</svg>'


def shape_filled(shape: str, share: float) -> str:
    """SVG of a shape filled from below up to a share of it, 0 to 1; it says nothing by itself: words stand beside it."""
    face, lines = _DRAWN.get(shape, _SQUARE)
    paths = (*lines, face)
    key = ink.key_of("filled", shape)
    high = _HIGH * min(max(share, 0.0), 1.0)
    body = "".join(f'<path d="{path}" fill="{_PLAIN}"/>' for path in paths)
    clip = f'<clipPath id="{key}">{"".join(f"""<path d="{path}"/>""" for path in paths)}</clipPath>'
    filled = f'<g clip-path="url(#{key})">{ink.rect(0, _FOOT - high, 76, high, _FILLED)}</g>'
    outline = "".join(
        f'<path d="{path}" fill="none" stroke="{ink.INK}" stroke-width="1.2" stroke-linejoin="round"/>'
        for path in paths
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 76 48" width="76" height="48" class="shape" '
        f'aria-hidden="true">{body}{clip}{filled}{outline}</svg>'
    )


def _key(shape: str, sat_on: bool, turned: bool) -> str:
    return ink.key_of("shape", shape, sat_on, turned)


def _framed(body: str, label: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 76 48" width="76" height="48" class="shape" role="img" '
        f'aria-label="{ink.text_safe(label)}">{body}</svg>'
    )


@lru_cache(maxsize=64)
def _drawing(shape: str, sat_on: bool, turned: bool) -> str:
    face, lines = _DRAWN.get(shape, _SQUARE)
    ids = f"{_key(shape, sat_on, turned)}p"
    fill = ink.pattern_fill("hatch", ids) if sat_on else _PLAIN
    drawn = [ink.pattern_defs(["hatch"], ids)] if sat_on else []
    drawn += [
        f'<path d="{line}" fill="{_EDGE}" stroke="{ink.INK}" stroke-width="1.2" stroke-linejoin="round"/>'
        for line in lines
    ]
    drawn.append(
        f'<path d="{face}" fill="{fill}" stroke="{ink.INK}" stroke-width="1.2" stroke-linejoin="round"/>'
    )
    if turned:
        drawn.append(
            f'<path d="M62,40 a7,5 0 1 1 5,-6 m0,-4 v4 h-4" fill="none" stroke="{ink.INK}" stroke-width="1.4"/>'
        )
    return "".join(drawn)
