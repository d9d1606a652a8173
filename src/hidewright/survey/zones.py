"""Zones: a piece that stays assembled is coated part by part, while the rest is masked or held up.

Common practice, no source: what cannot be taken apart or laid flat, such as a seat on its frame, is coated in two or three goes; a zone is masked over only when it has
cured, so each costs a night. A part that shows only when the piece is turned or set up otherwise is a zone of its own.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from hidewright.refusals import Refusal

MOST_ZONES = 8
"""More zones of one piece are a slip."""
SUM_SLACK = 0.02
"""By so much the shares of the zones may miss the whole, from rounding: 33 % three times."""
_MARKS = ";%"


@dataclass(frozen=True, slots=True)
class Zone:
    """One zone: its `name` (up to 40 letters) and `share` 0..1 of the piece's coated area.

    `masked`: what is masked or held up meanwhile (up to 120 letters), and `masking` the minutes of that (1 to 480; None: at the shop's pace for masking), with taking off what was masked for
    the zone before. `moved`: the piece is turned or set up otherwise before it; else it stays on its spot of the table. `sat_on`: people sit or lean on it, where they do on the piece.
    """

    name: str
    share: float
    masked: str = ""
    masking: int | None = None
    moved: bool = False
    sat_on: bool = True

    def __post_init__(self) -> None:
        if not self.name.strip() or len(self.name) > 40:
            raise Refusal(
                "A zone needs a name of up to 40 letters.",
                where="zones",
                remedy="Write what is coated in it, such as back and face.",
            )
        if any(mark in self.name + self.masked for mark in _MARKS):
            raise Refusal("A zone is named without “;” and “%”.", where="zones", remedy="Use commas.")
        if not 0 < self.share <= 1:
            raise Refusal(
                f"“{self.name}” cannot be {100 * self.share:g} % of a piece.",
                where="zones",
                remedy="Write how much of the coated area it is, in per cent.",
            )
        if len(self.masked) > 120:
            raise Refusal("What is masked is said in up to 120 letters.", where="zones", remedy="Say less.")
        if self.masking is not None and not 1 <= self.masking <= 480:
            raise Refusal(
                f"{self.masking} min of masking cannot be.",
                where="zones",
                remedy="Write 1 to 480, or nothing.",
            )
        if self.masking is not None and not self.masked:
            raise Refusal(
                f"What is masked in the {self.masking} min before “{self.name}”?",
                where="zones",
                remedy="Say what is masked or held up, or leave the minutes out.",
            )


def checked_zones(zones: Sequence[Zone]) -> tuple[Zone, ...]:
    """The zones of one piece; empty where it is coated in one go. Refuses a single one, too many, two of one name, shares that do not come to the whole."""
    if not zones:
        return ()
    if not 2 <= len(zones) <= MOST_ZONES:
        raise Refusal(
            f"A piece is coated in 2 to {MOST_ZONES} zones.",
            where="zones",
            remedy="Leave the zones out where it is coated in one go.",
        )
    names = [zone.name.casefold() for zone in zones]
    if len(set(names)) != len(names):
        raise Refusal("Two zones have the same name.", where="zones", remedy="Name each by what it covers.")
    total = sum(zone.share for zone in zones)
    if abs(total - 1) > SUM_SLACK:
        raise Refusal(
            f"The zones come to {100 * total:.3g} % of the piece.",
            where="zones",
            remedy="Give shares that come to 100 %.",
        )
    if zones[0].moved:
        raise Refusal(
            f"“{zones[0].name}” comes first: the piece is laid down for it, not turned.",
            where="zones",
            remedy="Say of a later zone that the piece is turned before it.",
        )
    return tuple(zones)


def shares(zones: Sequence[Zone], *, sat_on: bool = False) -> tuple[float, ...]:
    """What share of the coated area each zone has; of what is `sat_on`, where some zone is. They come to 1 whatever was rounded."""
    counted = [zone.share if zone.sat_on or not sat_on else 0.0 for zone in zones]
    whole = sum(counted)
    return tuple(each / whole for each in counted) if whole else shares(zones)


def zone_keys(zones: Sequence[Zone]) -> tuple[str, ...]:
    """The names of their passes: zone1, zone2 …"""
    return tuple(f"zone{number}" for number in range(1, len(zones) + 1))


_ZONE = re.compile(r"^(?P<name>.*?)[\s,:]*(?P<share>\d+(?:[.,]\d+)?)\s*%(?P<rest>.*)$", re.DOTALL)
_MINUTES = re.compile(r"^(\d+)\s*min(?:utes)?\.?$", re.IGNORECASE)
_MASK = re.compile(r"^(?:mask(?:ed)?|held up|hold up)\b[:\s]*", re.IGNORECASE)
EXAMPLE = "flap, sides, arms and recesses 45 %, not sat on; back and face 55 %, mask arms and frame, 10 min"
"""Zones in a cell of a list."""


def zones_of_text(text: str) -> tuple[Zone, ...]:
    """Zones out of a cell, parted by “;”: the name, its share in per cent, then after commas “turned”, “not sat on”, “mask …”, “10 min”; as in `EXAMPLE`."""
    return checked_zones([_zone(part.strip()) for part in text.split(";") if part.strip()])


def _zone(text: str) -> Zone:
    found = _ZONE.match(text)
    if found is None:
        raise Refusal(
            f"How much of the piece is “{text[:40]}”?", where="zones", remedy=f"Write it so: {EXAMPLE}."
        )
    moved, sat_on, masked, masking = False, True, "", None
    for part in (each.strip() for each in found["rest"].split(",")):
        minutes = _MINUTES.match(part)
        if part.casefold() in ("turned", "moved"):
            moved = True
        elif part.casefold() == "not sat on":
            sat_on = False
        elif minutes:
            masking = int(minutes[1])
        elif _MASK.match(part):
            masked = _MASK.sub("", part)
        elif part and masked:
            masked = f"{masked}, {part}"
        elif part:
            raise Refusal(
                f"“{part[:40]}” says nothing of a zone.", where="zones", remedy=f"Write it so: {EXAMPLE}."
            )
    share = float(found["share"].replace(",", ".")) / 100
    return Zone(found["name"].strip(), share, masked, masking, moved, sat_on)


def zones_as_text(zones: Sequence[Zone]) -> str:
    """The zones as `zones_of_text` takes them back."""
    return "; ".join(_as_text(zone) for zone in zones)


def _as_text(zone: Zone) -> str:
    return ", ".join(
        filter(
            None,
            (
                f"{zone.name} {100 * zone.share:.6g} %",
                "turned" if zone.moved else "",
                "" if zone.sat_on else "not sat on",
                f"mask {zone.masked}" if zone.masked else "",
                f"{zone.masking} min" if zone.masking is not None else "",
            ),
        )
    )


USUAL_ZONES = (
    (
        "seat on its frame",
        (
            Zone("flap, sides, arms and recesses", 0.45, "back and face"),
            Zone("back and face", 0.55, "flap, sides and arms"),
        ),
    ),
    ("front, then back turned", (Zone("front", 0.5), Zone("back", 0.5, "front", moved=True))),
    ("top, then what shows when it is tipped", (Zone("top and sides", 0.8), Zone("underside and rims", 0.2, "top and sides", moved=True))),
)  # fmt: skip
"""Zones to begin with, by what they are for. Common practice, no source; the shares are middle values to be put right."""


def usual_zones(shape: str) -> tuple[Zone, ...]:
    """Zones to begin with for a piece of that shape."""
    number = {"cushion": 0, "shell": 0}.get(shape, 2 if shape in ("arm", "box") else 1)
    return USUAL_ZONES[number][1]
