"""The rules of the room: which tables share their air, what makes dust, what a gun carries, and the minutes that go into getting ready.

Common practice, no source, all of it: starting values for the shop to edit. They are in the planner, in its score and in the audit alike.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from hidewright.refusals import Refusal

from .kinds import Kind

FAMILIES: Mapping[Kind, str] = MappingProxyType(
    {
        Kind.STRIP: "prep",
        Kind.CLEAN: "prep",
        Kind.REPAIR: "prep",
        Kind.MASK: "mask",
        Kind.TURN: "turn",
        Kind.WIPE_DOWN: "colour",
        Kind.WIPE_IN: "colour",
        Kind.PRIME: "colour",
        Kind.SPRAY: "colour",
        Kind.SAND: "colour",
        Kind.TACK: "colour",
        Kind.SECOND: "colour",
        Kind.CLEAR: "clear",
        Kind.UNMASK: "finish",
        Kind.INSPECT: "finish",
        Kind.OWN_PREP: "prep",
        Kind.OWN_MASK: "mask",
        Kind.OWN_COLOUR: "colour",
        Kind.OWN_CLEAR: "clear",
        Kind.OWN_TURN: "turn",
        Kind.OWN_FINISH: "finish",
    }
)
"""The family of work to which each kind belongs; a shop may name its own."""

DUSTY = frozenset({Kind.STRIP, Kind.SAND})
"""Work that makes dust: none of it in the air of a wet coat."""


@dataclass(frozen=True, slots=True)
class RoomRules:
    """How the room works.

    `air` table key → the name of its air (tables left out share one); `dusty` kinds of work that nobody does in the air of a wet coat; `changes` of product a gun
    and day at most; minutes `flush` to rinse a gun between two products, `load` to mix, crosslink and strain one, `change` from one family of work to another, `suit` to suit up for
    spraying; `least` min of work for which a session is worth beginning; `families` kind → family of work.
    """

    air: Mapping[str, str] = field(default_factory=dict)
    dusty: frozenset[Kind] = DUSTY
    changes: int = 2
    flush: int = 8
    load: int = 12
    change: int = 3
    suit: int = 5
    least: int = 15
    families: Mapping[Kind, str] = field(default_factory=lambda: FAMILIES)

    def __post_init__(self) -> None:
        for words, minutes in (
            ("to flush a gun", self.flush),
            ("to mix a gun cup", self.load),
            ("to change work", self.change),
            ("to suit up", self.suit),
            ("as the least length of a session", self.least),
        ):
            if not 0 <= minutes <= 120:
                raise Refusal(
                    f"{minutes} min {words} cannot be.", where="rules of the room", remedy="Enter 0 to 120."
                )
        if not 1 <= self.changes <= 1000:
            raise Refusal(
                f"{self.changes} changes of a gun a day cannot be.",
                where="rules of the room",
                remedy="Enter 1 or more: colour and clear on one day need one.",
            )
        missing = [str(kind) for kind in Kind if not self.families.get(kind, "").strip()]
        if missing:
            raise Refusal(
                f"“{missing[0]}” belongs to no family of work.",
                where="rules of the room",
                remedy="Give every kind of work a family.",
            )

    def family(self, kind: Kind) -> str:
        """The family of a kind of work."""
        return self.families[kind]

    def air_of(self, table: str) -> str:
        """The name of the air over a table; empty for the one that all others share."""
        return self.air.get(table, "")


FREE_ROOM = RoomRules(dusty=frozenset(), changes=1000, flush=0, load=0, change=0, suit=0, least=0)
"""A room without any rule: bare operations, as in the published job shops."""
