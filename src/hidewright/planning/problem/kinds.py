"""The kinds of work, and which of them coat, spray, use a mix or may be broken off."""

from enum import StrEnum


class Kind(StrEnum):
    """What is done to a piece."""

    STRIP = "strip"
    CLEAN = "clean"
    REPAIR = "repair"
    MASK = "mask"
    TURN = "turn"
    WIPE_DOWN = "wipe down"
    WIPE_IN = "wipe in colour"
    PRIME = "prime"
    SPRAY = "spray colour"
    SAND = "sand"
    TACK = "tack"
    SECOND = "spray second coat"
    CLEAR = "spray clear"
    UNMASK = "unmask"
    INSPECT = "inspect"
    OWN_PREP = "other preparation"
    OWN_MASK = "other masking"
    OWN_COLOUR = "other colour work"
    OWN_CLEAR = "other work at the clear"
    OWN_TURN = "other turning"
    OWN_FINISH = "other finishing"


OWN = frozenset(
    {Kind.OWN_PREP, Kind.OWN_MASK, Kind.OWN_COLOUR, Kind.OWN_CLEAR, Kind.OWN_TURN, Kind.OWN_FINISH}
)
"""Work that the shop names itself, one kind for each family: what it is called stands in its name."""

COATS = frozenset({Kind.WIPE_IN, Kind.PRIME, Kind.SPRAY, Kind.SECOND, Kind.CLEAR})
SPRAYED = frozenset({Kind.PRIME, Kind.SPRAY, Kind.SECOND, Kind.CLEAR})
MIXED = {Kind.WIPE_IN: "colour", Kind.SPRAY: "colour", Kind.SECOND: "colour", Kind.CLEAR: "clear"}
"""Kind → what is crosslinked for it, and so has a pot life."""
BREAKABLE = frozenset(
    {Kind.STRIP, Kind.CLEAN, Kind.REPAIR, Kind.MASK, Kind.SAND, Kind.UNMASK, Kind.INSPECT, *OWN}
)
"""Work that may stop for a break or a night and go on after it."""


def product_of(kind: Kind, colour: str = "") -> str | None:
    """What is on the cloth or in the gun: primer, colour (each colour its own) or clear; None for work without."""
    if kind is Kind.PRIME:
        return "primer"
    mixed = MIXED.get(kind)
    return f"colour {colour}" if mixed == "colour" and colour else mixed
