"""Lengths, areas, volumes and masses: read as people write them, kept in SI, shown in the shop's units.

Inside: m, m², mL, g, µm, s. Conversions are exact (international yard and pound, 1959; US gallon 231 in³; imperial gallon
4.54609 L). The US fluid ounce (29.5735295625 mL) and the imperial one (28.4130625 mL) are kept apart: "fl oz" is the US one, "imp fl oz"
the imperial one.
"""

import re
import unicodedata
from enum import StrEnum
from fractions import Fraction
from math import isfinite

from hidewright.refusals import Refusal

INCH = 0.0254
FOOT = 0.3048
US_GALLON_ML = 3785.411784
US_QUART_ML = US_GALLON_ML / 4
US_FL_OZ_ML = 29.5735295625
IMPERIAL_FL_OZ_ML = 28.4130625
OUNCE_G = 28.349523125
MIL_UM = 25.4


class Units(StrEnum):
    """How quantities are shown."""

    METRIC = "metric"
    US = "us"


LENGTHS = {
    "mm": 0.001,
    "cm": 0.01,
    "dm": 0.1,
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    '"': INCH,
    "″": INCH,
    "ft": FOOT,
    "foot": FOOT,
    "feet": FOOT,
    "'": FOOT,
    "′": FOOT,
    "yd": 0.9144,
    "µm": 1e-6,
    "\u03bcm": 1e-6,
    "um": 1e-6,
    "micron": 1e-6,
    "microns": 1e-6,
    "mil": MIL_UM * 1e-6,
    "mils": MIL_UM * 1e-6,
}
FEET = frozenset({"ft", "foot", "feet", "'", "′"})
AREAS = {
    "mm²": 1e-6,
    "mm2": 1e-6,
    "cm²": 1e-4,
    "cm2": 1e-4,
    "m²": 1.0,
    "m2": 1.0,
    "sq m": 1.0,
    "in²": INCH**2,
    "in2": INCH**2,
    "sq in": INCH**2,
    "ft²": FOOT**2,
    "ft2": FOOT**2,
    "sq ft": FOOT**2,
}
VOLUMES = {
    "µl": 0.001,
    "ul": 0.001,
    "ml": 1.0,
    "cc": 1.0,
    "cl": 10.0,
    "dl": 100.0,
    "l": 1000.0,
    "litre": 1000.0,
    "litres": 1000.0,
    "liter": 1000.0,
    "liters": 1000.0,
    "fl oz": US_FL_OZ_ML,
    "floz": US_FL_OZ_ML,
    "us fl oz": US_FL_OZ_ML,
    "imp fl oz": IMPERIAL_FL_OZ_ML,
    "pt": US_GALLON_ML / 8,
    "pint": US_GALLON_ML / 8,
    "pints": US_GALLON_ML / 8,
    "qt": US_QUART_ML,
    "quart": US_QUART_ML,
    "quarts": US_QUART_ML,
    "gal": US_GALLON_ML,
    "gallon": US_GALLON_ML,
    "gallons": US_GALLON_ML,
    "imp gal": 4546.09,
    "cup": US_GALLON_ML / 16,
    "cups": US_GALLON_ML / 16,
    "tsp": US_GALLON_ML / 768,
    "tbsp": US_GALLON_ML / 256,
}
MASSES = {
    "mg": 0.001,
    "g": 1.0,
    "gram": 1.0,
    "grams": 1.0,
    "kg": 1000.0,
    "oz": OUNCE_G,
    "lb": 16 * OUNCE_G,
    "lbs": 16 * OUNCE_G,
}
DURATIONS = {
    "s": 1.0,
    "sec": 1.0,
    "min": 60.0,
    "mins": 60.0,
    "minute": 60.0,
    "minutes": 60.0,
    "h": 3600.0,
    "hr": 3600.0,
    "hrs": 3600.0,
    "hour": 3600.0,
    "hours": 3600.0,
    "d": 86400.0,
    "day": 86400.0,
    "days": 86400.0,
}

_TIMES = re.compile(r"^(\d+)\s*[x×*]\s*(.+)$", re.IGNORECASE)
_FRACTION = r"(?:\d+\s+)?\d+\s*/\s*\d+"
_TERM = re.compile(rf"\s*({_FRACTION}|[\d.,]*\d)\s*([^\d\s.,/+-][^\d+,/]*?)?\s*(?=$|\d|[.,]\d)")
_DECIMAL = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?", re.IGNORECASE)
_GROUPED = re.compile(r"(?<=\d)[\u00a0\u202f\u2009](?=\d{3}(?!\d))")
_SQUARED = re.compile(r"(?<=[\d\s])(mm|cm|m|in|ft)2\b", re.IGNORECASE)
FOLLOWS = {
    **dict.fromkeys(FEET, "in"),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), "min"),
    "lb": "oz",
    "lbs": "oz",
}
"""The unit of a bare number after one with this unit: 16 ft 6, 2 h 30. After any other a second number needs its own."""


_WORDS = {
    "half a": "1/2",
    "a half": "1/2",
    "half": "1/2",
    "a quarter": "1/4",
    "quarter": "1/4",
    "a": "1",
    "an": "1",
    "one": "1",
}
_FIRST_WORD = re.compile(rf"^({'|'.join(sorted(_WORDS, key=len, reverse=True))})\s+(?=[a-z])", re.IGNORECASE)
_QUOTES = str.maketrans(
    {
        "’": "'",
        "‘": "'",
        "“": '"',
        "”": '"',
        "⁄": "/",
        "∕": "/",
        "–": "-",
        "—": "-",
        "−": "-",
        "\u00a0": " ",
        "\u202f": " ",
    }
)


def written_plainly(text: str) -> str:
    """The text with typographic quotes, dashes, blanks and fractions as plain ones: "3½" and "3-1/2" become "3 1/2", "5'-6" becomes "5' 6".

    A no-break blank before three digits parts thousands, as programs write them, and goes away; an ordinary blank stays.
    """
    text = _GROUPED.sub("", text)
    plain = "".join(
        f" {unicodedata.normalize('NFKC', sign)}"
        if unicodedata.category(sign) == "No" and "⁄" in unicodedata.normalize("NFKC", sign)
        else sign
        for sign in text
    )
    plain = plain.translate(_QUOTES).strip()
    plain = re.sub(r"(\d)\s*-\s*(?=\d+\s*/\s*\d)", r"\1 ", plain)
    plain = re.sub(r"('|′|\bft\.?|\bfeet|\bfoot)\s*-\s*(?=\d)", r"\1 ", plain, flags=re.IGNORECASE)
    return _FIRST_WORD.sub(lambda found: f"{_WORDS[found[1].lower()]} ", plain)


def read_number(text: str) -> float:
    """Read "12", "1 1/2", "3-1/2", "3½", "3/8", "0,5", "0,450", "1,234.5", "1.234,5"; refuses what is no number or can be two.

    A point with three digits behind it is a decimal point, as this app writes it; a comma with three behind it can part thousands or decimals: refused.
    """
    cleaned = written_plainly(text)
    remedy = "Write it like 12.5 or 3/8."
    either = re.fullmatch(r"[+-]?([1-9]\d{0,2}),(\d{3})", cleaned)
    if either:
        raise Refusal(
            f"“{text.strip()[:40]}” can mean {either[1]}{either[2]} or {either[1]}.{either[2]}.",
            remedy="Write it without the comma, or with a point before the decimals.",
        )
    if re.fullmatch(r"[+-]?\d+(?:\s+\d+)+", cleaned):
        raise Refusal(
            f"“{text.strip()[:40]}” holds two numbers.", remedy="Write one, without a blank inside."
        )
    value = _value(cleaned)
    if value is None:
        raise Refusal(f"“{text.strip()[:40]}” is not a number.", remedy=remedy)
    if not isfinite(value):
        raise Refusal(f"“{text.strip()[:40]}” is not a number to work with.", remedy=remedy)
    return value


def _value(plain: str) -> float | None:
    """The number that a plain text is; none where it is no number."""
    part = re.fullmatch(r"([+-])?(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)", plain)
    if part:
        whole, above, below = int(part[2] or 0), int(part[3]), int(part[4])
        if below == 0 or (part[2] and above >= below):
            return None
        return float(whole + Fraction(above, below)) * (-1 if part[1] == "-" else 1)
    for thousands, decimal in (",.", ".,"):
        groups = rf"[+-]?[1-9]\d{{0,2}}(?:{re.escape(thousands)}\d{{3}})"
        if re.fullmatch(rf"{groups}+{re.escape(decimal)}\d+|{groups}{{2,}}", plain):
            return float(plain.replace(thousands, "").replace(decimal, "."))
    if plain.count(",") == 1 and not plain.endswith(","):
        plain = plain.replace(",", ".") if "." not in plain else plain
    return float(plain) if _DECIMAL.fullmatch(plain) else None


def _read(text: str, table: dict[str, float], default: str | None, example: str) -> float:
    cleaned = written_plainly(text)
    repeated = _TIMES.match(cleaned)
    if repeated:
        return _repeated(cleaned, int(repeated[1]), repeated[2], table, default, example)
    total, place, before = 0.0, 0, ""
    while place < len(cleaned):
        term = _TERM.match(cleaned, place)
        if term is None:
            raise Refusal(f"“{cleaned[:40]}” cannot be read.", remedy=f"Write it like {example}.")
        unit = " ".join((term[2] or "").lower().split()).rstrip(".")
        bare = not unit
        if bare:
            unit = FOLLOWS.get(before, "") if place else (default or "").lower()
        if (place and not unit) or (bare and not place and term.end() < len(cleaned)):
            raise Refusal(f"“{cleaned[:40]}” holds two numbers.", remedy=f"Write it like {example}.")
        if unit not in table:
            raise Refusal(f"“{cleaned[:40]}” {_stray(unit)}.", remedy=f"Write it like {example}.")
        if place and table[unit] >= table[before]:
            raise Refusal(
                f"“{cleaned[:40]}” holds two measures.",
                remedy=f"Write one, or the larger unit first: {example}.",
            )
        total += read_number(term[1]) * table[unit]
        place, before = term.end(), unit
    if place == 0:
        raise Refusal("Nothing is written here.", remedy=f"Write it like {example}.")
    return total


def _repeated(
    text: str, count: int, each: str, table: dict[str, float], default: str | None, example: str
) -> float:
    """So many times a volume, weight or time: 4 x 250 mL. Lengths and areas are refused, for there an x can part two directions."""
    if table is LENGTHS or (table is AREAS and re.fullmatch(rf"[\d.,\s]*|{_FRACTION}", each.strip())):
        raise Refusal(
            f"“{text[:40]}” is a size in several directions.", remedy=f"Write one measure, like {example}."
        )
    return count * _read(each, table, default, example)


def _stray(unit: str) -> str:
    """What is wrong with a unit that does not measure what is asked for."""
    if not unit:
        return "has no unit"
    kinds = {
        "a length": LENGTHS,
        "an area": AREAS,
        "a volume": VOLUMES,
        "a weight": MASSES,
        "a time": DURATIONS,
    }
    for kind, table in kinds.items():
        if unit in table:
            return f"is {kind}"
    return f"has the unit “{unit}”, which is not known here"


def read_length(text: str, default: str | None = None) -> float:
    """Length in m from "3/8 in", "2' 6\\"", "20 cm"; `default` is the unit of a bare number; refuses what cannot be read."""
    return _read(text, LENGTHS, default, "20 cm or 3/8 in")


def read_area(text: str, default: str | None = None) -> float:
    """Area in m² from "1.2 m²", "1.2 m2" or "12 sq ft"."""
    return _read(_SQUARED.sub(r"\1²", text), AREAS, default, "1.2 m² or 12 sq ft")


def read_volume(text: str, default: str | None = None) -> float:
    """Volume in mL from "12 fl oz", "1.5 qt", "4 x 250 mL"."""
    return _read(text, VOLUMES, default, "250 mL or 12 fl oz")


def read_mass(text: str, default: str | None = None) -> float:
    """Mass in g from "12 g", "1.5 kg", "2 lb 3 oz"."""
    return _read(text, MASSES, default, "120 g or 4 oz")


def read_duration(text: str, default: str | None = None) -> float:
    """Duration in s from "90 min", "1 h 30 min", "2 days"."""
    return _read(text, DURATIONS, default, "90 min or 2 h")


_CLOCK = r"(?:\d{3,4}|\d{1,2}(?:[:.h]\d{2})?)h?\s*(?:[ap]\.?m\.?)?|noon|midday|midnight"
_STRETCH = re.compile(
    rf"\s*({_CLOCK})\s*(?:-|to|until|till)\s*({_CLOCK})\s*(?:o'clock)?\s*(?:[,;+&]|and\b)?\s*", re.IGNORECASE
)


def read_clock(text: str) -> int:
    """A time of day as minutes since midnight, from "7:30", "7.30", "0730", "7:30am", "4 pm", "noon"; refuses what is none."""
    cleaned = (
        re.sub(r"[\s.]", "", written_plainly(text).lower())
        if re.search(r"[ap]\.?\s*m", text, re.IGNORECASE)
        else text.strip().lower()
    )
    if cleaned in ("noon", "midday"):
        return 12 * 60
    if cleaned == "midnight":
        return 24 * 60
    found = re.fullmatch(r"(\d{1,2})(?:[:.h]?(\d{2}))?h?(am|pm)?", cleaned)
    hour, minute = (int(found[1]), int(found[2] or 0)) if found else (99, 0)
    half = found[3] if found else None
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0) if 1 <= hour <= 12 else 99
    if minute > 59 or not 0 <= 60 * hour + minute <= 24 * 60:
        raise Refusal(
            f"“{text.strip()[:30]}” is no time of day.", remedy="Write it like 7:30, 7:30am or 16:00."
        )
    return 60 * hour + minute


LONGEST_SHIFT = 14 * 60
"""Minutes that a stretch over midnight may last; a longer one was likely written the wrong way round."""


def read_stretches(text: str, *, over_midnight: bool = False) -> tuple[tuple[int, int], ...]:
    """Stretches of a day as (start, end) minutes since midnight, from "8-12 12:30-17:00", "8–12", "7:30am to 4pm"; empty text is a free day.

    "8-4" means from 8 in the morning to 4 in the afternoon, and "8-12 and 1-5" has its second stretch after noon. Refuses what ends before it starts or overlaps;
    with `over_midnight` the last one may end on the next day ("22-6"), up to `LONGEST_SHIFT` after it began: its end is then above 1440.
    """
    plain, place = written_plainly(text), 0
    found: list[tuple[int, int]] = []
    while place < len(plain):
        match = _STRETCH.match(plain, place)
        if match is None or match.end() == place:
            raise Refusal(
                f"“{plain[place : place + 30].strip()}” is no stretch of time.",
                remedy="Write it like 08:00-12:00.",
            )
        start, end = _ends(match[1], match[2])
        if found and end <= 12 * 60 and start < found[-1][1] <= start + 12 * 60:
            start, end = start + 12 * 60, end + 12 * 60
        last = match.end() == len(plain)
        if over_midnight and last and end <= start and end + 24 * 60 - start <= LONGEST_SHIFT:
            end += 24 * 60
        if not start < end:
            raise Refusal(
                f"“{match[0].strip(' ,;+&')}” does not end after it starts on the same day.",
                remedy="Write it like 08:00-12:00.",
            )
        if found and start < found[-1][1]:
            raise Refusal("The stretches overlap or are out of order.", remedy="Put the earlier one first.")
        found.append((start, end))
        place = match.end()
    return tuple(found)


def _ends(first: str, second: str) -> tuple[int, int]:
    """The two ends; "7-4" and "7-4pm" are one working day, "7am-4" too."""
    start, end = read_clock(first), read_clock(second)
    lengths = {len(part.strip()) for part in (first, second) if part.strip().isdecimal()}
    if min(lengths, default=4) < 3 <= max(lengths, default=0):
        raise Refusal(
            f"“{first.strip()}-{second.strip()}” is likely a slip: one end is an hour, the other an hour with minutes.",
            remedy="Write it like 9:00-17:00.",
        )
    said = [
        bool(re.search(r"[ap]\.?m|noon|midday|midnight", part, re.IGNORECASE)) for part in (first, second)
    ]
    if not said[1] and end < start < 12 * 60:
        end += 12 * 60
    if (
        said[1]
        and not said[0]
        and end > 12 * 60
        and start < 12 * 60
        and start + 12 * 60 < end
        and start < 6 * 60
    ):
        start += 12 * 60
    return start, end


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _significant(value: float, digits: int = 3) -> str:
    if value == 0:
        return "0"
    from math import floor, log10

    places = max(0, digits - 1 - floor(log10(abs(value))))
    return _plain(value, places)


def show_length(metres: float, units: Units | str = Units.METRIC) -> str:
    """ "0.9 m", "45 mm" or "35 7/16 in"."""
    if Units(units) is Units.METRIC:
        return f"{_significant(metres)} m" if abs(metres) >= 1 else f"{_significant(metres * 1000)} mm"
    sixteenths = round(metres / INCH * 16)
    whole, rest = divmod(sixteenths, 16)
    part = Fraction(rest, 16)
    words = " ".join(
        filter(
            None,
            [str(whole) if whole or not rest else "", f"{part.numerator}/{part.denominator}" if rest else ""],
        )
    )
    return f"{words} in"


def show_area(square_metres: float, units: Units | str = Units.METRIC) -> str:
    """ "1.25 m²" or "13.5 sq ft"."""
    if Units(units) is Units.METRIC:
        return f"{_significant(square_metres)} m²"
    return f"{_significant(square_metres / FOOT**2)} sq ft"


def show_volume(millilitres: float, units: Units | str = Units.METRIC) -> str:
    """ "850 mL", "1.1 L" or "12.5 fl oz", "1.16 qt"."""
    if Units(units) is Units.METRIC:
        return (
            f"{_significant(millilitres / 1000)} L"
            if abs(millilitres) >= 1000
            else f"{_significant(millilitres)} mL"
        )
    if abs(millilitres) >= US_QUART_ML:
        return f"{_significant(millilitres / US_QUART_ML)} qt"
    return f"{_significant(millilitres / US_FL_OZ_ML)} fl oz"


def show_film(micrometres: float, units: Units | str = Units.METRIC) -> str:
    """How thick a film is: "28 µm", or "1.1 mil"."""
    if Units(units) is Units.METRIC:
        return f"{_significant(micrometres)} µm"
    return f"{_significant(micrometres / MIL_UM)} mil"


def show_mass(grams: float, units: Units | str = Units.METRIC) -> str:
    """ "12.5 g", "1.2 kg"; in US units, "12.5 g" below a pound (the balance reads grams), else "2.65 lb"."""
    if Units(units) is Units.US and abs(grams) >= 16 * OUNCE_G:
        return f"{_significant(grams / (16 * OUNCE_G))} lb"
    return f"{_significant(grams / 1000)} kg" if abs(grams) >= 1000 else f"{_plain(grams, 1)} g"


def show_minutes(minutes: float) -> str:
    """ "45 min", "8 h", "7 h 59 min", to the whole minute; `read_duration` reads it back."""
    whole = round(minutes)
    hours, rest = divmod(whole, 60)
    if hours == 0:
        return f"{whole} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def plural(word: str) -> str:
    """A plain English word for more than one: snag → snags, glitch → glitches, query → queries."""
    if word.endswith(("s", "x", "z", "ch", "sh")):
        return f"{word}es"
    return f"{word[:-1]}ies" if word.endswith("y") and word[-2:-1] not in "aeiou" else f"{word}s"


def counted(number: int, one: str, many: str = "") -> str:
    """ "1 table", "2 tables"; `many` where an s does not do: counted(2, "entry", "entries")."""
    return f"{number} {one if number == 1 else many or one + 's'}"
