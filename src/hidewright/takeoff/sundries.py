"""Sundries: strainers, wipes, abrasives, tape, paper, gloves and filters, from the work itself.

Each rule says how much of a thing goes with a unit of work. The amounts are common practice without a source: starting values that the shop edits. Tape is
told by width: the tighter an edge bends, the narrower the tape that follows it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil

from hidewright.refusals import Refusal
from hidewright.survey import CURVES, Piece
from hidewright.survey.zones import shares
from hidewright.units import FOOT, Units

from .howmuch import Takeoff

WORK = {
    "session": "spray session",
    "load": "gun cup",
    "coated": "m² coated",
    "sprayed": "m² sprayed, each coat",
    "stripped": "m² stripped",
    "straight": "m of straight edge",
    "gentle": "m of gently bent edge",
    "tight": "m of tightly bent edge",
    "edge": "m of edge",
    "covered": "m² covered while a zone is coated",
    "border": "m of border between zones",
}
"""What a rule may hang on, in words."""
GUN_CUP = 600.0
"""mL that a gun holds, where nothing else is said."""


@dataclass(frozen=True, slots=True)
class Rule:
    """`amount` of `unit` of a thing with each unit of `per` (a key of `WORK`); sold in packs of `pack` for `price`."""

    key: str
    what: str
    per: str
    amount: float
    unit: str
    pack: float
    price: Decimal

    def __post_init__(self) -> None:
        if self.per not in WORK:
            raise Refusal(
                f"“{self.per}” is no kind of work.", where=self.what, remedy=f"Use one of {', '.join(WORK)}."
            )
        if not 0 <= self.amount <= 1000:
            raise Refusal(
                f"{self.amount:g} {self.unit} a {WORK[self.per]} cannot be.",
                where=self.key,
                remedy="It lies from 0 to 1000.",
            )
        if self.pack <= 0 or self.price < 0:
            raise Refusal("A pack holds something and costs nothing less than nothing.", where=self.key)

    @property
    def words(self) -> str:
        """The rule in words, without its amount."""
        return self.words_in(Units.METRIC)

    def words_in(self, units: Units | str) -> str:
        """The rule in words, without its amount, in the shop's units."""
        work = WORK[self.per]
        if Units(units) is Units.US:
            work = work.replace("m² ", "sq ft ").replace("m of", "ft of")
        return f"{self.unit_in(units)} for each {work}"

    def unit_in(self, units: Units | str) -> str:
        """What an amount counts, in the shop's units: ft instead of m."""
        return "ft" if self.unit == "m" and Units(units) is Units.US else self.unit

    def scale_in(self, units: Units | str) -> float:
        """What an amount is multiplied by to be shown in the shop's units; m of something for each m stays, m for each m² are ft for each sq ft."""
        if Units(units) is Units.METRIC:
            return 1.0
        if self.unit == "m":
            return FOOT if "m²" in WORK[self.per] else 1.0
        return FOOT**2 if "m²" in WORK[self.per] else 1.0


RULES = (
    Rule("strainers", "Strainers", "load", 1.0, "pieces", 50, Decimal("9.00")),
    Rule("cups", "Mixing cups", "session", 2.0, "pieces", 50, Decimal("24.00")),
    Rule("wipes", "Lint-free wipes", "coated", 1.5, "pieces", 100, Decimal("18.00")),
    Rule("strip-pads", "Scrubbing pads for stripping", "stripped", 0.6, "pieces", 10, Decimal("12.00")),
    Rule("fine-paper", "Fine abrasive sheets between coats", "sprayed", 0.25, "sheets", 50, Decimal("26.00")),
    Rule("tack", "Tack cloths", "session", 2.0, "pieces", 12, Decimal("14.00")),
    Rule("tape-36", "Masking tape, wide", "straight", 0.5, "m", 50, Decimal("5.20")),
    Rule("tape-18", "Masking tape, narrow", "gentle", 0.5, "m", 50, Decimal("3.40")),
    Rule("tape-6", "Fine-line tape", "tight", 0.6, "m", 33, Decimal("6.90")),
    Rule("paper", "Masking paper", "edge", 0.3, "m", 50, Decimal("8.50")),
    Rule("film", "Masking film, wide", "covered", 1.2, "m", 33, Decimal("7.80")),
    Rule("tape-zone", "Masking tape, narrow, between zones", "border", 1.1, "m", 50, Decimal("3.40")),
    Rule("gloves", "Gloves", "session", 3.0, "pairs", 50, Decimal("16.00")),
    Rule("filters", "Filters for breathing masks", "session", 0.25, "pairs", 1, Decimal("19.00")),
)
"""Starting rules; half of an edge counts as masked, and what is masked for a zone as all the rest of its piece. Prices are invented. A mask's maker says when its filters are spent: that rules."""


@dataclass(frozen=True, slots=True)
class SundryLine:
    """How much of a thing the job takes, in packs and money."""

    rule: Rule
    quantity: float
    packs: int
    price: Decimal


def work_of(pieces: Sequence[Piece], takeoff: Takeoff, gun_cup: float = GUN_CUP) -> dict[str, float]:
    """How much of each kind of work a job is, by the keys of `WORK`."""
    assumed = takeoff.assumed
    mixed = takeoff.colour.at(0.5) + takeoff.clear.at(0.5)
    bends = {curve: sum(f.edge for p in pieces for f in p.faces if f.curve == curve) for curve in CURVES}
    zones = [_covered(p) for p in pieces]
    return {
        "session": float(takeoff.sessions),
        "load": float(max(ceil(mixed / gun_cup), takeoff.sessions)),
        "coated": takeoff.area,
        "sprayed": takeoff.area * (assumed.colour_coats + assumed.clear_coats),
        "stripped": takeoff.stripped_area,
        **bends,
        "edge": sum(bends.values()),
        "covered": sum(covered for covered, _ in zones),
        "border": sum(border for _, border in zones),
    }


def _covered(piece: Piece) -> tuple[float, float]:
    """(m² covered, m of border taped off), over all zones of a piece for which something is masked: the rest of it, along a border as long as three sides of a square of the smaller of the two."""
    covered = border = 0.0
    for zone, share in zip(piece.zones, shares(piece.zones) if piece.zones else (), strict=True):
        if zone.masked:
            rest = (1 - share) * piece.area
            covered += rest
            border += 3 * min(rest, piece.area - rest) ** 0.5
    return covered, border


def rules_with(amounts: Mapping[str, float]) -> tuple[Rule, ...]:
    """The starting rules with the shop's own amounts by key; refuses keys that no rule has."""
    strange = set(amounts) - {rule.key for rule in RULES}
    if strange:
        raise Refusal(f"No rule is called {sorted(strange)[0]}.", where="sundries")
    return tuple(replace(rule, amount=amounts.get(rule.key, rule.amount)) for rule in RULES)


def sundries(work: Mapping[str, float], rules: Sequence[Rule] = RULES) -> tuple[SundryLine, ...]:
    """What the work takes by the rules, in whole packs; what is not needed is left out."""
    lines = []
    for rule in rules:
        quantity = rule.amount * work[rule.per]
        if quantity > 0:
            packs = ceil(quantity / rule.pack - 1e-9)
            lines.append(SundryLine(rule, quantity, packs, rule.price * packs))
    return tuple(lines)
