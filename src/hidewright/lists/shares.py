"""Columns of shares of a mix: whether by weight, by volume or of the dry film, as a heading says it, or as it is likely and asked about."""

import re
from collections.abc import Sequence

from .cells import folded
from .grid import Cell, written
from .kinds import Sort
from .mixes import Of, says_of

_SAYS = {
    Of.WEIGHT: re.compile(r"\b(?:weight|mass|wt|w/w|gew\w*)\b"),
    Of.VOLUME: re.compile(r"\b(?:volume|vol|v/v)\b"),
    Of.DRY: re.compile(r"\bdry\b"),
}
OF_A_MIX = (Sort.PART, Sort.MIX)


def share_unit(heading: str, sort: Sort) -> str:
    """What shares or per cents under a heading are of, where it says just one thing; else empty."""
    name = folded(heading)
    said = [of for of, words in _SAYS.items() if words.search(name)]
    if Of.DRY in said:
        said = [Of.DRY]
    how = "%" if "%" in name or "per cent" in name or sort is Sort.MIX else "share"
    return f"{how} {said[0]}" if len(said) == 1 else ""


def likely_share(cells: Sequence[Cell], heading: str, sort: Sort) -> str:
    """What the cells of a column that does not say it are likely of: per cents by weight, as the balance says; shares of the dry film, as a laboratory does. Empty where no cell leaves it open."""
    texts = [text for cell in cells if (text := written(cell))]
    if sort is Sort.MIX:
        return "" if all(map(says_of, texts)) else f"% {Of.WEIGHT}"
    bare = [text for text in texts if not re.search(r"[^\d.,%\s]", text)]
    if not bare:
        return ""
    shares = [text for text in bare if "%" not in text and re.match(r"\s*0*[.,]", text)]
    return f"share {Of.DRY}" if shares and "%" not in heading else f"% {Of.WEIGHT}"
