"""How text that people typed flows on paper: long words may break, and right-to-left names keep their place in an English line.

A paper is set from left to right. A name in Arabic or Hebrew inside such a line would pull the comma and the figures beside it over to its own
side (“Lind: 29 ,…”), so each stretch of such letters is set apart by the marks that Unicode has for it (UAX 9, rules X5a and X6a: a
right-to-left isolate, and its end). A word of many letters without a place to break would run into the next column.
"""

import re
import unicodedata
from collections.abc import Mapping
from typing import Any, Final

RTL: Final = r"\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc"
"""The letters of Hebrew, Arabic and their kin."""
STRETCH: Final = re.compile(rf"[{RTL}](?:[{RTL}\s\d.:!?'’\"„“”–-]|\([^()]*\))*[{RTL}]|[{RTL}]")
"""From one such letter to the last that only blanks, figures, brackets and light points part from it."""
START, END = "\u2067", "\u2069"
BREAK: Final = "\u200b"
LONG: Final = 18
"""Letters on end that may not fit a column."""
WORD: Final = re.compile(rf"[^\s{RTL}{START}{END}{BREAK}\u00a0/]{{{LONG},}}")
SUM: Final = re.compile(r"[0-9a-f]{32}")
"""Half a SHA-256: it is copied from the paper to be compared, so nothing is put into it."""
WHOLE: Final = ("svg", "qr", "url", "hex", "paper", "plane", "picture")
"""What is no text to be read."""


def flowing(content: Any, key: str = "") -> Any:
    """The content of a paper with its texts made ready to flow; keys, drawings and addresses are left as they are."""
    if isinstance(content, str):
        return content if key in WHOLE else _apart(WORD.sub(_breaking, content))
    if isinstance(content, Mapping):
        return {name: flowing(value, str(name)) for name, value in content.items()}
    if isinstance(content, list | tuple):
        return [flowing(each, key) for each in content]
    return content


def _apart(text: str) -> str:
    """Each right-to-left stretch set apart; all of a text that has no other letters, with its figures."""
    if not STRETCH.search(text):
        return text
    others = any(unicodedata.bidirectional(letter) == "L" for letter in text)
    return STRETCH.sub(rf"{START}\g<0>{END}", text) if others else f"{START}{text}{END}"


def _breaking(found: re.Match[str]) -> str:
    """A long word that may break anywhere, or, where it has hyphens between short parts, only behind those."""
    word = found[0]
    if SUM.fullmatch(word):
        return word
    return "".join(part if len(part) < LONG else BREAK.join(part) for part in re.split(r"(?<=-)(?=\D)", word))
