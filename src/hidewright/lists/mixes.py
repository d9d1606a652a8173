"""What a shop writes down of a film that it draws: what went into the mix, and how thick it was laid. As text and as values, there and back.

A mix is “PW6 12.4 g; base 60 g”, “PW6 18 % by weight” (the rest is base) or “PW6=0.55” (volume in a unit volume of dry film, as a laboratory says it). A film
is “wet 100 µm” (read on a gauge), “gap 200 µm” (of a bar), “wire 20” (a wire-wound bar: its wire in thousandths of an inch) or “dry 40 µm”.
"""

import re
from dataclasses import dataclass, field
from enum import StrEnum

from hidewright.refusals import Refusal
from hidewright.units import LENGTHS, MASSES, VOLUMES

GRAMS = {name: MASSES[name] for name in ("g", "gram", "grams", "kg", "mg", "oz", "lb", "lbs")}
MILLILITRES = {name: VOLUMES[name] for name in ("ml", "l", "fl oz", "cc")}
THICK = {
    name: LENGTHS[name] * 1e6 for name in ("µm", "\u03bcm", "um", "micron", "microns", "mil", "mils", "mm")
}
THINNEST, THICKEST = 5.0, 1000.0
"""µm that a wet film can be."""
MOST_PARTS = 12


class Of(StrEnum):
    """What a per cent is of: of the weight of the mix, of its volume, or of the volume of the dry film."""

    WEIGHT = "by weight"
    VOLUME = "by volume"
    DRY = "of the dry film"


class Laid(StrEnum):
    """How thick a film is, as it is known."""

    WET = "wet"
    GAP = "gap"
    WIRE = "wire"
    DRY = "dry"


PERCENT = {
    **dict.fromkeys(("% by weight", "% w/w", "wt%", "wt.%", "wt %", "% wt", "% weight", "weight %", "% by mass", "gew.%", "gew %"), Of.WEIGHT),
    **dict.fromkeys(("% by volume", "% v/v", "vol%", "vol.%", "vol %", "% vol", "% volume", "volume %"), Of.VOLUME),
    **dict.fromkeys(("% of the dry film", "% of dry film", "% dry", "dry %", "% dry film"), Of.DRY),
}  # fmt: skip
"""How a per cent is written that says what it is of."""
_UNITS = sorted({*GRAMS, *MILLILITRES, *PERCENT, "%"}, key=len, reverse=True)
_UNIT = "|".join(re.escape(name).replace(r"\ ", r"\s*") for name in _UNITS)
_NUMBER = r"\d+(?:[.,]\d+)?|[.,]\d+"
_PART = re.compile(
    rf"[\s;+,]*(?P<key>[^=;+@%\s][^=;+@%]*?)(?:\s*=\s*(?P<set>{_NUMBER})\s*(?P<set_unit>(?:{_UNIT})(?![\w%]))?"
    rf"|\s+(?P<number>{_NUMBER})\s*(?P<unit>{_UNIT})(?![\w%]))\s*(?:@\s*(?P<density>{_NUMBER})(?:\s*g/ml)?)?(?=[\s;+,]|$)",
    re.IGNORECASE,
)
_FIRST = re.compile(
    rf"^\s*(?P<number>{_NUMBER})\s*(?P<unit>{_UNIT})(?![\w%])\s+(?P<key>[^\d=;+@%\s][^=;+@%]*?)\s*(?:@\s*(?P<density>{_NUMBER}))?\s*$",
    re.IGNORECASE,
)
_FILM = re.compile(rf"(wet|gap|dry)\s+({_NUMBER})\s*({'|'.join(map(re.escape, THICK))})|(wire)\s+({_NUMBER})")


@dataclass(frozen=True, slots=True)
class Part:
    """One thing of a mix: its `key`, the `number` as it was written (with a point), its `unit` (g, oz, mL …, or one of `Of`), and its density in g/mL where that was written too."""

    key: str
    number: str
    unit: str
    density: float | None = None

    def __post_init__(self) -> None:
        if not self.key or not re.fullmatch(r"\d*\.?\d+", self.number):
            raise Refusal(f"“{self.key} {self.number}” is no amount of anything.", where="mix")
        if not 0.0 < self.amount < 1e6:
            raise Refusal(
                f"Nothing, or far too much, of {self.key} is in it.",
                where="mix",
                remedy="Write it like 12.4 g.",
            )
        if self.density is not None and not 0.5 <= self.density <= 6.0:
            raise Refusal(
                f"{self.key} cannot weigh {self.density:g} g/mL.",
                where="mix",
                remedy="A paste or a base weighs 0.5 to 6 g/mL: look on its data sheet.",
            )

    @property
    def amount(self) -> float:
        """The number."""
        return float(self.number)

    @property
    def grams(self) -> float | None:
        """g, where it was weighed."""
        return self.amount * GRAMS[self.unit] if self.unit in GRAMS else None

    @property
    def millilitres(self) -> float | None:
        """mL, where its volume was measured."""
        return self.amount * MILLILITRES[self.unit] if self.unit in MILLILITRES else None

    @property
    def step(self) -> float:
        """How fine it was read, as a share of it: its last digit, no coarser than a tenth of its unit (a usual balance; convention of this tool)."""
        digits = len(self.number.partition(".")[2])
        return 10.0 ** -max(digits, 1) / self.amount

    def __str__(self) -> str:
        if self.unit == Of.DRY:
            amount = f"{self.key}={self.amount:.12g}"
        elif self.unit in tuple(Of):
            amount = f"{self.key} {self.number} % {self.unit}"
        else:
            amount = f"{self.key} {self.number} {self.unit}"
        return amount if self.density is None else f"{amount} @ {self.density:g}"


@dataclass(frozen=True, slots=True)
class Mix:
    """What is in a mix: all of it weighed or measured, or all of it in shares of one kind, of which the rest is base."""

    parts: tuple[Part, ...]

    def __post_init__(self) -> None:
        if not self.parts:
            raise Refusal(
                "Nothing says what is in this film.",
                where="mix",
                remedy="Write it like PW6 12.4 g; base 60 g.",
            )
        keys = [part.key for part in self.parts]
        twice = next((key for key in keys if keys.count(key) > 1), "")
        if twice:
            raise Refusal(f"{twice} is in it twice.", where="mix", remedy="Add both up.")
        if len(keys) > MOST_PARTS:
            raise Refusal("A mix has up to twelve things in it.", where="mix")
        kinds = {part.unit if part.unit in tuple(Of) else "" for part in self.parts}
        if len(kinds) > 1:
            raise Refusal(
                "Some of it is weighed and some in per cent.",
                where="mix",
                remedy="Write all of it in grams, or all of it in per cent of the same.",
            )
        if (
            self.of is not None
            and self.of is not Of.DRY
            and sum(part.amount for part in self.parts) > 100.0 + 1e-9
        ):
            raise Refusal(
                "It adds up to more than 100 %.",
                where="mix",
                remedy="Write per cent of the whole mix; the rest is base.",
            )

    @property
    def of(self) -> Of | None:
        """What its per cents are of; None where it was weighed or measured."""
        return Of(self.parts[0].unit) if self.parts[0].unit in tuple(Of) else None

    def __str__(self) -> str:
        return (" " if self.of is Of.DRY else "; ").join(map(str, self.parts))


@dataclass(frozen=True, slots=True)
class Film:
    """How thick a film is, as it is known: `how`, and µm (for a wire-wound bar its number)."""

    how: Laid
    value: float
    written: str = field(default="", compare=False)
    """The figure as it was written, with its unit."""

    def __post_init__(self) -> None:
        if self.how is Laid.WIRE:
            if not 2.0 <= self.value <= 150.0:
                raise Refusal(
                    f"No wire-wound bar has the number {self.value:g}.",
                    where="wire",
                    remedy="It is the wire in thousandths of an inch, 2 to 150. Where your bars are numbered otherwise, write the wet film that is printed for them.",
                )
        elif self.how is Laid.DRY:
            if not 1.0 <= self.value <= 1000.0:
                raise Refusal(
                    "A dry film is from 1 to 1000 µm thick.", where="microns", remedy="Write it like 40 µm."
                )
        elif not THINNEST <= self.value <= THICKEST * (2.0 if self.how is Laid.GAP else 1.0):
            what = "The gap of a bar" if self.how is Laid.GAP else "A wet film"
            most = "2 mm" if self.how is Laid.GAP else "1 mm"
            raise Refusal(
                f"{what} of {self.value:g} µm cannot be.",
                where=str(self.how),
                remedy=f"It lies from 5 µm to {most} (0.2 to {'80' if self.how is Laid.GAP else '40'} mil).",
            )

    def __str__(self) -> str:
        return f"{self.how} {self.written or self._figure}"

    @property
    def _figure(self) -> str:
        return f"{self.value:.12g}" if self.how is Laid.WIRE else f"{self.value:.12g} µm"


@dataclass(frozen=True, slots=True)
class Entry:
    """A film as the shop wrote it down."""

    mix: Mix
    film: Film

    @property
    def as_lab(self) -> bool:
        """Whether it is all said as the engine takes it: shares of the dry film, and the dry film."""
        return self.mix.of is Of.DRY and self.film.how is Laid.DRY


def _unit(text: str, of: str) -> str:
    """The unit's own name: g, mL, or what a per cent is of (`of` where it does not say)."""
    name = " ".join(text.lower().split())
    for known, means in PERCENT.items():
        if name.replace(" ", "") == known.replace(" ", ""):
            return means
    if name == "%":
        if not of:
            raise Refusal(
                "Nothing says whether this per cent is by weight or by volume.",
                where="mix",
                remedy="Write it like 18 % by weight, or 18 % by volume.",
            )
        return Of(of)
    return name


def _part(key: str, number: str, unit: str | None, density: str | None, of: str) -> Part:
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", number):
        raise Refusal(
            f"“{number}” can mean {number.replace(',', '')} or {number.replace(',', '.')}.",
            where="mix",
            remedy="Write it without the comma, or with a point before the decimals.",
        )
    plain = number.replace(",", ".")
    if unit is None:
        return Part(key, plain, Of.DRY)
    name = _unit(unit, of)
    if name == Of.DRY:
        plain = f"{float(plain) / 100:.12g}"
    return Part(key.strip(), plain, name, float(density.replace(",", ".")) if density else None)


def read_mix(text: str, of: str = "") -> Mix:
    """A mix from “PW6 12.4 g; base 60 g”, “12.4 g PW6 + 60 g base”, “PW6=18 % by weight” or “PW6=0.55 PBk7=0.03”; `of`: what a bare per cent is of. Refuses the rest."""
    pieces = [piece for piece in re.split(r"[;+\n]|,(?=\s|$)", text) if piece.strip()]
    if pieces and all(_FIRST.match(piece) for piece in pieces):
        found = [match for piece in pieces if (match := _FIRST.match(piece))]
        return Mix(tuple(_part(m["key"], m["number"], m["unit"], m["density"], of) for m in found))
    parts, place = [], 0
    while place < len(text.rstrip(" ;+,\n")):
        match = _PART.match(text, place)
        if match is None:
            raise Refusal(
                f"“{text[place : place + 30].strip()}” is no pigment with its amount.",
                where="mix",
                remedy="Write it like PW6 12.4 g; base 60 g, or PW6 18 % by weight.",
            )
        number, unit = match["set"] or match["number"], match["set_unit"] or match["unit"]
        parts.append(_part(match["key"], number, unit, match["density"], of))
        place = match.end()
    return Mix(tuple(parts))


def says_of(text: str) -> bool:
    """Whether every per cent in a text says what it is of, or there is none."""
    try:
        read_mix(text)
    except Refusal as refusal:
        return "by weight or by volume" not in refusal.what
    return True


def read_film(text: str) -> Film:
    """A film from “wet 100 µm”, “gap 8 mil”, “wire 20” or “dry 40 µm”."""
    match = _FILM.fullmatch(" ".join(text.split()))
    if match is None:
        raise Refusal(
            f"“{text[:30]}” is no film.",
            where="film",
            remedy="Write it like wet 100 µm, gap 8 mil, wire 20 or dry 40 µm.",
        )
    if match[4]:
        return Film(Laid.WIRE, float(match[5].replace(",", ".")))
    value = float(match[2].replace(",", "."))
    return Film(Laid(match[1]), value * THICK[match[3]], f"{value:.12g} {match[3]}")
