"""One cell: from what a person wrote to a plain text that means one thing, or a refusal with a proposal.

No number is guessed: where a text can mean two numbers (1,234 or two with no unit between them) it is refused, and the likelier is proposed.
"""

import difflib
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hidewright.refusals import Refusal
from hidewright.units import (
    AREAS,
    DURATIONS,
    LENGTHS,
    MASSES,
    VOLUMES,
    read_area,
    read_duration,
    read_length,
    read_mass,
    read_number,
    read_volume,
    written_plainly,
)

from .grid import Cell, written
from .kinds import Meaning, Sort
from .mixes import Mix, Of, read_mix

YES = ("yes", "y", "true", "1", "x", "✓", "✔", "☑", "ja", "j", "oui", "si", "sí", "wahr")
NO = ("no", "n", "false", "0", "-", "–", "nein", "non", "none", "✗", "☐", "falsch")
UNITS: Mapping[Sort, Mapping[str, float]] = {
    Sort.LENGTH: LENGTHS,
    Sort.SIZE: LENGTHS,
    Sort.AREA: AREAS,
    Sort.VOLUME: VOLUMES,
    Sort.MASS: MASSES,
    Sort.DURATION: DURATIONS,
    Sort.SHARE: {"%": 0.01, "per cent": 0.01, "percent": 0.01},
    Sort.FILM: {name: LENGTHS[name] for name in ("µm", "\u03bcm", "um", "micron", "microns", "mil", "mils")},
    Sort.BAND: {"%": 0.01, "share": 1.0},
    Sort.PART: {f"{how} {of}": factor for of in Of for how, factor in (("%", 1.0), ("share", 100.0))},
    Sort.MIX: {f"% {of}": 1.0 for of in Of},
}
"""The units that a heading or a cell can name, for each sort of column."""
_MEASURES: Mapping[Sort, tuple[Callable[[str], float], str, str]] = {
    Sort.LENGTH: (read_length, "m", "18 in or 45 cm"),
    Sort.AREA: (read_area, "m²", "0.8 m² or 9 sq ft"),
    Sort.VOLUME: (read_volume, "mL", "5 L or 1 gal"),
    Sort.MASS: (read_mass, "g", "120 g or 4 oz"),
    Sort.DURATION: (lambda text: read_duration(text) / 60, "min", "90 min or 2 h"),
    Sort.FILM: (lambda text: read_length(text) * 1e6, "µm", "40 µm or 1.6 mil"),
}
_TOKEN = re.compile(r"\d+(?:[.,]\d+)*")
_BARE = re.compile(r"[\d.,]+|\d+ \d+\s*/\s*\d+|\d+\s*/\s*\d+")
_BETWEEN = re.compile(r"(?<=[\d\"'])\s*[x×*]\s*(?=\d)", re.IGNORECASE)
_CURRENCY = re.compile(
    r"^(?:[$€£¥]|[a-z]{3}(?=[ \d])(?<=usd|eur|gbp|chf|cad|aud|dkk|nok|sek|pln)|kr\.?(?= )|fr\.?(?= ))\s*"
    r"|\s*(?:[$€£¥]|usd|eur|gbp|chf|cad|aud|dkk|nok|sek|pln|(?<= )(?:kr|fr|zł)\.?|,-)$",
    re.IGNORECASE,
)
"""The marks of money that may stand before or after an amount; any other letter beside it is a slip."""
_ABOUT = re.compile(r"^(?:~|≈|ca\.?|c\.|approx\.?|about|>|<|≥|≤)\s*|\s*(?:\(.*\)|\?+|!+)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Style:
    """How a list writes its numbers: its decimal mark ("." or ",", empty where nothing shows which), and whether a person said so."""

    mark: str = ""
    chosen: bool = False


class CellRefusal(Refusal):
    """What is wrong with a cell, with a text that would do instead (`proposal`, empty where none is known)."""

    def __init__(self, what: str, *, where: str = "", remedy: str = "", proposal: str = "") -> None:
        super().__init__(what, where=where, remedy=remedy)
        self.proposal = proposal


class UnknownWord(Refusal):
    """A word of the shop's that has no meaning yet: it is asked for once."""

    def __init__(self, word: str) -> None:
        super().__init__(f"“{word}” is not known yet.")
        self.word = word


def folded(text: str) -> str:
    """A word as it is compared: lower case, without accents, blanks single, no stop at its end."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(sign for sign in plain if not unicodedata.combining(sign)).split()).strip(" .:")


def style_of(cells: tuple[Cell, ...]) -> Style:
    """How numbers are written in these cells: by every text that can be read in one way only, the more frequent way."""
    votes = {".": 0, ",": 0}
    for cell in cells:
        for token in _TOKEN.findall(cell) if isinstance(cell, str) and len(cell) < 40 else ():
            marks = [sign for sign in token if sign in votes]
            if len(set(marks)) == 2:
                votes[marks[-1]] += 1
            elif len(marks) == 1 and (token.startswith("0") or len(token.split(marks[0])[1]) != 3):
                votes[marks[0]] += 1
    if votes["."] == votes[","]:
        return Style()
    return Style(max(votes, key=lambda mark: votes[mark]))


def numbers_plain(text: str, style: Style) -> str:
    """The text with each number written with a point and no thousands marks; refuses a number that can be two."""
    return _TOKEN.sub(lambda token: _number(token[0], text, style), text)


def _number(token: str, text: str, style: Style) -> str:
    marks = [sign for sign in token if sign in ".,"]
    if not marks:
        return token
    whole, *rest = re.split(r"[.,]", token)
    thousands = all(len(part) == 3 for part in rest) and 1 <= len(whole) <= 3 and not whole.startswith("0")
    if len(set(marks)) == 2:
        if marks.count(marks[-1]) == 1 and all(len(part) == 3 for part in rest[:-1]) and len(whole) <= 3:
            return f"{whole}{''.join(rest[:-1])}.{rest[-1]}"
    elif len(marks) == 1 and (not thousands or style.mark == marks[0]):
        return f"{whole}.{rest[0]}"
    elif thousands and (len(marks) > 1 or (style.mark and style.chosen)):
        return whole + "".join(rest)
    elif thousands:
        likely = whole + rest[0] if style.mark else f"{whole}.{rest[0]}"
        raise CellRefusal(
            f"“{token}” can mean {whole}{rest[0]} or {whole}.{rest[0]}.",
            remedy="Write which, or say above which mark comes before the decimals.",
            proposal=text.replace(token, likely, 1),
        )
    raise CellRefusal(f"“{token}” is not a number.", remedy="Write it like 12.5.")


def _whole(text: str) -> str:
    """The text where no two numbers stand side by side without a unit; else a refusal, for they would be added up."""
    side_by_side = re.search(r"\d\s+\d+(?!\s*/)(?!\d)", text)
    if side_by_side:
        joined = re.sub(r"(?<=\d)\s+(?=\d{3}(?!\d))", "", text)
        raise CellRefusal(
            f"“{text[:30]}” holds two numbers.",
            remedy="Write one, with its unit.",
            proposal=joined if joined != text and not re.search(r"\d\s+\d", joined) else "",
        )
    return text


def measured(sort: Sort, cell: Cell, unit: str, style: Style) -> float:
    """A length in m, area in m², volume in mL, mass in g or duration in min; `unit` is that of a bare number, and must be known for one."""
    read, _, example = _MEASURES[sort]
    text = written(cell)
    plain = written_plainly(text) if isinstance(cell, float) else numbers_plain(written_plainly(text), style)
    if sort in (Sort.LENGTH, Sort.AREA) and _BETWEEN.search(plain):
        raise CellRefusal(
            f"“{text[:30]}” is a size in several directions.", remedy=f"Write one, like {example}."
        )
    plain = _whole(plain)
    if _BARE.fullmatch(plain):
        if not unit:
            raise CellRefusal(f"“{text[:30]}” has no unit.", remedy="Say in the columns what it is in.")
        plain = f"{plain} {unit}"
    try:
        value = read(plain)
    except CellRefusal:
        raise
    except Refusal as refusal:
        proposal = _mended(sort, text, unit, style)
        raise CellRefusal(refusal.what, remedy=refusal.remedy, proposal=proposal) from refusal
    return value


def _mended(sort: Sort, text: str, unit: str, style: Style) -> str:
    """The first text near what was written that can be read; empty where none is found."""
    units = UNITS[sort]
    tries = [_ABOUT.sub("", text)]
    tries.append(
        re.sub(
            r"(?<=\d)[oO]|[oO](?=\d)",
            "0",
            re.sub(r"(?<![A-Za-z])[lI](?=\d)|(?<=\d)[lI](?![A-Za-z])", "1", tries[0]),
        )
    )
    spread = re.fullmatch(r"\s*[\d.,/ ]+[^\d]{0,6}?-\s*([\d.,/ ]+.*)", written_plainly(tries[-1]))
    if spread:
        tries.append(spread[1])
    parted = re.fullmatch(r"([\d.,/ ]+)\s*([^\d.,/ ]+)", tries[-1])
    if parted:
        near = difflib.get_close_matches(parted[2].casefold(), units, n=1, cutoff=0.5)
        tries += [f"{parted[1].strip()} {near[0]}"] if near else []
        tries.append(parted[1].strip())
    for attempt in tries:
        if attempt == text:
            continue
        try:
            plain = _whole(numbers_plain(written_plainly(attempt), style))
            _MEASURES[sort][0](f"{plain} {unit or next(iter(units))}" if _BARE.fullmatch(plain) else plain)
        except Refusal:
            continue
        return attempt
    return ""


def _figure(cell: Cell, style: Style) -> float:
    if isinstance(cell, float):
        return cell
    sign, digits = (-1, cell[1:].strip()) if cell[:1] in "-−" else (1, cell)
    plain = _whole(numbers_plain(written_plainly(digits), style))
    try:
        return sign * read_number(plain)
    except Refusal as refusal:
        number = _TOKEN.search(digits)
        raise CellRefusal(
            refusal.what, remedy=refusal.remedy, proposal=number[0] if number else ""
        ) from refusal


def _small(cell: Cell) -> float:
    """A number that is never a thousand or more, so that its one mark stands before its decimals."""
    if isinstance(cell, str) and len(marks := [sign for sign in cell if sign in ".,"]) == 1:
        return _figure(cell, Style(marks[0], True))
    return _figure(cell, Style())


def _band(cell: Cell, unit: str) -> float:
    """A share of the light, 0 to 1."""
    text = written(cell)
    if text.endswith("%"):
        return _small(text[:-1].strip()) / 100
    return _small(cell) * UNITS[Sort.BAND].get(unit, 1.0)


def _share(cell: Cell, unit: str, style: Style) -> float:
    text = written(cell)
    if text.endswith("%"):
        return _figure(text[:-1].strip(), style) / 100
    value = _figure(cell, style)
    if unit:
        return value / 100
    if value > 1:
        raise CellRefusal(
            f"“{text[:20]}” is more than the whole.",
            remedy="Write 40 % or 0.4.",
            proposal=f"{value:.12g} %",
        )
    return value


def _part(cell: Cell, unit: str, style: Style) -> str:
    """How much of a mix a thing is, as “18 % by weight”; `unit` says what a bare number is of, and whether it is a share or per cent."""
    text = written(cell)
    if re.search(r"[^\d.,%\s]", text):
        return " ".join(str(_mix(f"it {text}", unit, style).parts[0]).split()[1:])
    if not unit:
        raise CellRefusal(
            f"“{text[:20]}” can be by weight or by volume.", remedy="Say in the columns which it is."
        )
    how, _, of = unit.partition(" ")
    value = _figure(text.rstrip("%").strip() if isinstance(cell, str) else cell, style)
    if not text.endswith("%") and how == "share":
        if value > 1:
            raise CellRefusal(
                f"“{text[:20]}” is more than the whole.",
                remedy="Write 40 % or 0.4.",
                proposal=f"{value:.12g} %",
            )
        value *= 100
    if not 0 < value <= 100:
        raise CellRefusal(f"“{text[:20]}” is no part of a mix.", remedy="It lies above nothing, up to 100 %.")
    return f"{value:.12g} % {of}"


def _mix(text: str, unit: str, style: Style) -> Mix:
    """What is in a mix; `unit` says what a bare per cent is of."""
    try:
        return read_mix(numbers_plain(written_plainly(text), style), unit.partition(" ")[2])
    except CellRefusal:
        raise
    except Refusal as refusal:
        raise CellRefusal(refusal.what, remedy=refusal.remedy) from refusal


def _count(cell: Cell, style: Style) -> str:
    text = written(cell)
    found = re.fullmatch(
        r"(?:[x×]\s*)?(\d+)(?:\.0+)?\s*(?:[x×]|pcs\.?|pieces?|off|stk\.?|stück|ea\.?)?", text, re.IGNORECASE
    )
    if found and 1 <= int(found[1]) <= 500:
        return found[1]
    number = _TOKEN.search(text)
    rounded = int(float(number[0].replace(",", "."))) if number and len(number[0]) < 6 else 0
    raise CellRefusal(
        f"“{text[:20]}” is not a count from 1 to 500.",
        remedy="Write how many there are, such as 4.",
        proposal=str(rounded) if 1 <= rounded <= 500 else "1",
    )


def _word(meaning: Meaning, cell: Cell, words: Mapping[tuple[str, str], str]) -> str:
    word = folded(written(cell))
    known = words.get((meaning.key, word))
    if known is not None:
        return known
    if meaning.sort is Sort.FLAG:
        if word in YES or word in NO:
            return "yes" if word in YES else "no"
    else:
        for key, names in meaning.choices.items():
            if word == key or word in names:
                return key
    raise UnknownWord(word)


def plain_cell(
    meaning: Meaning, cell: Cell, *, unit: str, style: Style, words: Mapping[tuple[str, str], str]
) -> str:
    """The cell as a text that means one thing; empty for an empty cell. Raises `CellRefusal` with a proposal, or `UnknownWord`.

    `unit`: that of a bare number. `words`: (meaning, folded word) → value, what the shop said its words mean.
    """
    if cell == "":
        return ""
    sort = meaning.sort
    if isinstance(cell, str) and sort is not Sort.TEXT and cell.startswith("#") and cell[1:2].isupper():
        raise CellRefusal(f"“{cell[:20]}” is a fault of the spreadsheet.", remedy="Write the value itself.")
    if sort in _MEASURES:
        return f"{measured(sort, cell, unit or meaning.unit, style):.12g} {_MEASURES[sort][1]}"
    if sort is Sort.SHARE:
        return f"{_share(cell, unit, style):.12g}"
    if sort is Sort.PART:
        return _part(cell, unit, style)
    if sort is Sort.MIX:
        return str(_mix(written(cell), unit, style))
    if sort is Sort.MONEY:
        amount = _CURRENCY.sub("", written(cell))
        return f"{_figure(cell if isinstance(cell, float) else amount, style):.12g}"
    if sort is Sort.NUMBER:
        return f"{_figure(cell, style):.12g}"
    if sort is Sort.SMALL:
        return f"{_small(cell):.12g}"
    if sort is Sort.BAND:
        return f"{_band(cell, unit):.12g}"
    if sort is Sort.COUNT:
        return _count(cell, style)
    if sort in (Sort.FLAG, Sort.CHOICE):
        return _word(meaning, cell, words)
    return written(cell)


def size_parts(cell: Cell, count: int) -> tuple[str, ...]:
    """A size such as “18 x 20 x 4 in” as its parts, the last one's unit given to those without; refuses other than two or three parts."""
    parts = [part.strip() for part in _BETWEEN.split(written_plainly(written(cell)))]
    parts = [part for part in parts if part]
    if not 2 <= len(parts) <= count:
        raise CellRefusal(
            f"“{written(cell)[:30]}” is no size.", remedy="Write it like 560 x 540 x 130 mm or 22 x 21 in."
        )
    last = re.search(r"[^\d.,/\s]+$", parts[-1])
    if last:
        parts = [f"{part} {last[0]}" if _BARE.fullmatch(part) else part for part in parts]
    return tuple(parts)
