"""The pen that every SVG picture is drawn with: escaping, numbers, text, patterns and the shipped font.

Coordinates are SVG user units; a picture states its size in `viewBox` and is scaled by the page or the paper.
All styling is by presentation attributes, so that a strict content policy (no inline style) changes nothing.
"""

from collections.abc import Iterable
from hashlib import blake2s
from importlib.resources import files
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape as _escape_text

FONT: Final = "Open Sans"
FONTS: Final = Path(str(files("hidewright.charts") / "fonts"))
"""The folder of the shipped font files (TTF: Regular, Semibold, Bold)."""

INK: Final = "#1f2328"
QUIET: Final = "#5b6470"
LINE: Final = "#9aa3ad"
PAPER: Final = "#ffffff"
WOOD: Final = "#f3efe8"

PATTERNS: Final[dict[str, tuple[str, str]]] = {
    "plain": ("#ffffff", ""),
    "solid": ("#f2b84b", ""),
    "hatch": ("#bcd9f2", '<path d="M-1,1 l2,-2 M0,6 l6,-6 M5,7 l2,-2" stroke="#1d5a8c" stroke-width="1"/>'),
    "dots": (
        "#dcead9",
        '<path d="M1.5,0.6 a.9,.9 0 1 0 .01,0 M4.5,3.6 a.9,.9 0 1 0 .01,0" fill="#3c6e3a"/>',
    ),
    "rules": ("#efe6f2", '<path d="M0,3 h6" stroke="#6b4a7a" stroke-width="0.9"/>'),
    "cross": ("#f6ddd3", '<path d="M0,0 l6,6 M6,0 l-6,6" stroke="#8c3b1d" stroke-width="0.7"/>'),
    "night": ("#e3e6ea", '<path d="M0,6 l6,-6" stroke="#aab2bb" stroke-width="0.8"/>'),
}
"""Name of a pattern → (tint, the marks of one 6 × 6 tile)."""

_FORBIDDEN = {
    code: None for code in (*range(32), 0xFFFE, 0xFFFF, *range(0xD800, 0xE000)) if code not in (9, 10, 13)
}


def text_safe(text: object) -> str:
    """`text` escaped for an element or a double-quoted attribute, without control characters."""
    return _escape_text(str(text).translate(_FORBIDDEN), {'"': "&quot;", "'": "&#39;"})


def number(value: float) -> str:
    """A coordinate with at most two decimals and no trailing zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def rect(x: float, y: float, width: float, height: float, fill: str, **attributes: object) -> str:
    """A rectangle; a negative size is drawn as zero."""
    return (
        f'<rect x="{number(x)}" y="{number(y)}" width="{number(max(width, 0))}" '
        f'height="{number(max(height, 0))}" fill="{text_safe(fill)}"{_attributes(attributes)}/>'
    )


def line(x1: float, y1: float, x2: float, y2: float, stroke: str = LINE, **attributes: object) -> str:
    """A straight stroke."""
    return (
        f'<line x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}" '
        f'stroke="{text_safe(stroke)}"{_attributes(attributes)}/>'
    )


def words(
    x: float,
    y: float,
    text: object,
    *,
    size: float = 11,
    anchor: str = "start",
    weight: int = 400,
    fill: str = INK,
    turned: bool = False,
) -> str:
    """A line of text with its baseline at (x, y); `turned` writes it upwards."""
    turn = f' transform="rotate(-90 {number(x)} {number(y)})"' if turned else ""
    bold = f' font-weight="{weight}"' if weight != 400 else ""
    end = f' text-anchor="{anchor}"' if anchor != "start" else ""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}"{bold}{end} '
        f'fill="{text_safe(fill)}"{turn}>{text_safe(text)}</text>'
    )


def lettering(
    lines: Iterable[tuple[float, float, object]], *, size: float, weight: int = 400, fill: str = INK
) -> str:
    """Lines of text alike, each with its baseline at (x, y): what they share is written once."""
    bold = f' font-weight="{weight}"' if weight != 400 else ""
    texts = "".join(
        f'<text x="{number(x)}" y="{number(y)}">{text_safe(text)}</text>'
        for x, y, text in lines
        if text != ""
    )
    return f'<g font-size="{number(size)}"{bold} fill="{text_safe(fill)}">{texts}</g>'


NARROW = frozenset(" .,:;'’!ijlI()[]-")


def width_of(text: str, size: float) -> float:
    """A cautious estimate of the drawn width of `text`: 0.6 em a character (the font averages 0.54), 0.34 em a narrow one (0.17 to 0.34)."""
    return size * sum(0.34 if letter in NARROW else 0.6 for letter in text)


def shortened(text: str, room: float, size: float) -> str:
    """`text`, or its beginning with an ellipsis, that fits in `room`; empty when nothing readable fits."""
    if width_of(text, size) <= room:
        return text
    keep = len(text) - 1
    while keep and width_of(f"{text[:keep]}…", size) > room:
        keep -= 1
    return f"{text[:keep]}…" if keep >= 2 else ""


def pattern_fill(name: str, key: str) -> str:
    """The fill that draws pattern `name` inside the picture with this `key`."""
    return f"url(#{key}-{name})"


def pattern_defs(names: Iterable[str], key: str) -> str:
    """The `<defs>` of the named patterns; `key` keeps their ids apart from other pictures' ids."""
    tiles = "".join(
        f'<pattern id="{key}-{name}" width="6" height="6" patternUnits="userSpaceOnUse">'
        f"{rect(0, 0, 6, 6, PATTERNS[name][0])}{PATTERNS[name][1]}</pattern>"
        for name in dict.fromkeys(names)
    )
    return f"<defs>{tiles}</defs>"


def key_of(*parts: object) -> str:
    """A short id made from the content of a picture: the same picture always gets the same ids."""
    return "c" + blake2s(repr(parts).encode(), digest_size=5).hexdigest()


def picture(
    width: float, height: float, body: Iterable[str], *, label: str, wide: bool = False, kind: str = ""
) -> str:
    """The whole SVG. `wide` pictures keep their natural width on the page and scroll inside their frame; `kind` is a class of its own."""
    kind = kind or ("chart chart-wide" if wide else "chart")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" viewBox="0 0 {number(width)} '
        f'{number(height)}" width="{number(width)}" height="{number(height)}" '
        f'font-family="{FONT}, sans-serif" font-weight="400" text-anchor="start" '
        f'role="img" aria-label="{text_safe(label)}">'
        f"{''.join(body)}</svg>"
    )


def _attributes(attributes: dict[str, object]) -> str:
    return "".join(f' {name.replace("_", "-")}="{text_safe(value)}"' for name, value in attributes.items())
