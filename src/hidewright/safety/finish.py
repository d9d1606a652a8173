"""Tests of a finish: what was found beside the figures of published standards. A comparison, never a verdict.

Sources: EN 13336 for *coated* upholstery leather (semi-aniline and aniline leather have other numbers of cycles) as cited in Commission Decision (EU) 2016/1332: dry rub ISO 11640, 500 cycles, at least grade 4; wet
rub 250 cycles, at least 3/4; adhesion ISO 11644, at least 2 N/10 mm. Cross-cut ASTM D3359 method B (5B nothing off … 0B over 65 % off); ISO 2409
is 5 less the figure before the B (from memory). Gloss bands at 60° are the trade's: common practice, no source; they overlap.
"""

import math
import re
from dataclasses import dataclass
from enum import StrEnum

from hidewright.refusals import Refusal
from hidewright.units import read_number


class Check(StrEnum):
    """Which check of a finished piece."""

    SUN = "sun"
    LAMP = "lamp"
    CROSS_CUT = "cross-cut"
    DRY_RUB = "dry rub"
    WET_RUB = "wet rub"
    ADHESION = "adhesion"
    GLOSS = "gloss"
    COLOUR = "colour"
    COLOUR_EYE = "colour by eye"


EYES = (Check.SUN, Check.LAMP)
"""Checks by eye: they have no figure."""
NAMES = {
    Check.SUN: "Looked at in sunlight",
    Check.LAMP: "Looked at under the lamp",
    Check.CROSS_CUT: "Cross-cut",
    Check.DRY_RUB: "Dry rub, 500 cycles",
    Check.WET_RUB: "Wet rub, 250 cycles",
    Check.ADHESION: "Adhesion",
    Check.GLOSS: "Gloss at 60°",
    Check.COLOUR: "Colour against what was agreed",
    Check.COLOUR_EYE: "Colour against what was agreed, by eye",
}
WRITE = {
    Check.CROSS_CUT: "5B, 4B, 3B, 2B, 1B or 0B, or how much came off, such as 12 %",
    Check.DRY_RUB: "grey scale grade: 5, 4-5, 4, 3-4 … 1",
    Check.WET_RUB: "grey scale grade: 5, 4-5, 4, 3-4 … 1",
    Check.ADHESION: "N/10 mm",
    Check.GLOSS: "gloss units",
    Check.COLOUR: "how far off the instrument says it is, such as 0.8",
    Check.COLOUR_EYE: "grey scale grade: 5, 4-5, 4, 3-4 … 1",
}
GRADES = ("1", "1-2", "2", "2-3", "3", "3-4", "4", "4-5", "5")
"""The nine grades of the grey scale (EN 20105-A02), worst first."""
AREA_OFF = {
    "5B": "nothing came off",
    "4B": "under 5 % came off",
    "3B": "5 to 15 % came off",
    "2B": "15 to 35 % came off",
    "1B": "35 to 65 % came off",
    "0B": "over 65 % came off",
}
GLOSS_BANDS = (
    ("flat", 0, 5),
    ("matt", 0, 10),
    ("eggshell", 10, 25),
    ("satin", 20, 35),
    ("semi-gloss", 35, 70),
    ("gloss", 70, 101),
)
LEAST_ADHESION = 2.0
LEAST_RUB = {Check.DRY_RUB: "4", Check.WET_RUB: "3-4"}
GREY_SCALE = "grey scale for change in colour, EN 20105-A02"
RUB_SOURCE = "EN 13336 for coated leather, ISO 11640; Decision (EU) 2016/1332"


@dataclass(frozen=True, slots=True)
class Compared:
    """A figure beside a published one: the value as kept, words, whether it reaches the figure (None: there is none), the source."""

    value: str
    words: str
    reaches: bool | None
    source: str


def compare(check: str, value: str) -> Compared:
    """Put what was found beside the published figure; refuses what cannot be read."""
    try:
        kind = Check(check)
    except ValueError:
        raise Refusal(f"“{check}” is no check that is known here.", where="Check") from None
    text = value.strip()
    if kind in EYES:
        return Compared(text, "by eye", None, "common practice, no source")
    if kind is Check.CROSS_CUT:
        return _cross_cut(text)
    if kind in LEAST_RUB:
        return _rub(kind, text)
    if kind is Check.COLOUR_EYE:
        grade = _grade(kind, text)
        return Compared(grade, f"grade {grade} of the grey scale, 5 is no difference", None, GREY_SCALE)
    figure = _number(text, WRITE[kind])
    if kind is Check.ADHESION:
        reaches = figure >= LEAST_ADHESION
        words = f"{figure:g} N/10 mm beside at least {LEAST_ADHESION:g}"
        return Compared(
            f"{figure:g}", words, reaches, "EN 13336 for coated leather, ISO 11644; Decision (EU) 2016/1332"
        )
    if kind is Check.GLOSS:
        return _gloss(figure)
    return Compared(f"{figure:g}", f"a colour difference of {figure:g}", None, "ISO/CIE 11664-6")


def cross_cut_class(percent: float) -> str:
    """The class of ASTM D3359 method B for `percent` of the area that came off, 0..100: 5B none, 4B under 5, 3B to 15, 2B to 35, 1B to 65, 0B over 65.

    The standard prints 5-15, 15-35 and 35-65; a figure on an edge gets the milder class.
    """
    if not 0 <= percent <= 100:
        raise Refusal("From 0 to 100 % of the area can come off.", where="Found")
    if percent == 0:
        return "5B"
    return (
        "4B"
        if percent < 5
        else next((mark for mark, most in (("3B", 15), ("2B", 35), ("1B", 65)) if percent <= most), "0B")
    )


def _cross_cut(text: str) -> Compared:
    mark = text.upper().replace(" ", "")
    if mark.endswith("%"):
        mark = cross_cut_class(_number(mark[:-1], WRITE[Check.CROSS_CUT]))
    if mark not in AREA_OFF:
        raise Refusal(f"“{text[:20]}” is no class.", where="Found", remedy=f"Write {WRITE[Check.CROSS_CUT]}.")
    words = f"{AREA_OFF[mark]} (ISO 2409: {5 - int(mark[0])}). Written for paint on hard ground: on soft leather a comparison"
    return Compared(mark, words, None, "ASTM D3359 B; ISO 2409 from memory")


def _grade(kind: Check, text: str) -> str:
    grade = re.sub(r"\s*[-/–]\s*", "-", text)
    if grade not in GRADES:
        raise Refusal(f"“{text[:20]}” is no grade.", where="Found", remedy=f"Write a {WRITE[kind]}.")
    return grade


def _rub(kind: Check, text: str) -> Compared:
    grade = _grade(kind, text)
    least = LEAST_RUB[kind]
    reaches = GRADES.index(grade) >= GRADES.index(least)
    return Compared(grade, f"grade {grade} beside at least {least}", reaches, RUB_SOURCE)


def _gloss(figure: float) -> Compared:
    if not 0 <= figure <= 100:
        raise Refusal("Gloss at 60° lies from 0 to 100 units here.", where="Found")
    bands = [name for name, low, high in GLOSS_BANDS if low <= figure <= high]
    return Compared(
        f"{figure:g}", f"{figure:g} units: {' or '.join(bands)}", None, "common practice, no source"
    )


def _number(text: str, write: str) -> float:
    try:
        figure = read_number(text)
    except Refusal:
        figure = math.nan
    if not math.isfinite(figure) or not 0 <= figure <= 1000:
        raise Refusal(f"“{text[:20]}” cannot be read.", where="Found", remedy=f"Write it in {write}.")
    return figure
