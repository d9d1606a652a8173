"""Drying as values: what the products say, what was seen in the shop, and what the next plan reckons with."""

from dataclasses import dataclass, fields, replace
from math import log

from django.utils import timezone

from hidewright.planning.problem.drying import Seen, Warm, drying_in, drying_of, learn_from, warm_of
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.pace import Learned
from hidewright.planning.problem.routes import Drying
from hidewright.safety.damp import Air, drying_factor
from hidewright.takeoff.products import Product, Role
from hidewright.workshop.room.models import AirReading, DryingSeen
from hidewright.workshop.room.queries import room_rules
from hidewright.workshop.shelf.queries import first_of
from hidewright.workshop.shop.page_cache import remembered

DRYING_WORDS = {
    "strip": "The crust dries after stripping",
    "clean": "After cleaning",
    "repair": "A repair sets",
    "prime": "Primer dries",
    "wiped": "Wiped-in colour dries",
    "colour": "Sprayed colour dries between coats",
    "cure": "The last coat cures before it is turned or moved",
    "window": "Coat at the latest after the wipe-down",
}
"""Name of a drying time → what it is, in words."""

DRIES = {
    "strip": Role.STRIPPER,
    "clean": Role.CLEANER,
    "repair": Role.FILLER,
    "prime": Role.PRIMER,
    "wiped": Role.BASE,
    "colour": Role.BASE,
    "cure": Role.CLEAR,
}
"""Drying time → the role of the product that dries."""

AFTER = {
    Kind.STRIP: "strip",
    Kind.CLEAN: "clean",
    Kind.REPAIR: "repair",
    Kind.WIPE_IN: "wiped",
    Kind.PRIME: "prime",
    Kind.SPRAY: "colour",
    Kind.SECOND: "colour",
    Kind.CLEAR: "colour",
}
"""Kind of work → what dries after it, where it is not the last coat of a side."""


def product_of(name: str) -> Product | None:
    """The product that dries, where the shop has one."""
    return first_of(DRIES[name]) if name in DRIES else None


def usual_drying() -> Drying:
    """Minutes of drying as the data sheets of the products in use say, else as is common practice."""
    return drying_of(_in_use())


def _in_use() -> dict[str, Product]:
    return {found.key: found for role in Role if (found := first_of(role))}


def warm() -> Warm | None:
    """What the data sheet of the clear in use says of a warm cure; None where it says nothing."""
    return warm_of(_in_use())


def drying_names() -> list[tuple[str, str, int]]:
    """(name, words, usual minutes) of each drying time that the planner knows."""
    usual = usual_drying()
    names = [field.name for field in fields(Drying) if field.name != "factor"]
    return [(name, DRYING_WORDS.get(name, name.capitalize()), int(getattr(usual, name))) for name in names]


def starting_drying() -> Drying:
    """Minutes at 20 °C and 50 % before anything was seen: the usual ones, with the shop's own where it entered them."""
    known = {field.name for field in fields(Drying)}
    return replace(usual_drying(), **{k: v for k, v in room_rules().drying.items() if k in known})


def value(row: DryingSeen) -> Seen:
    """An entry as the planner takes it."""
    return Seen(row.what, row.minutes, Air(row.celsius, row.humidity))


@remembered
def counting() -> list[DryingSeen]:
    """The entries from which is learned: not struck out, and about the product that is used now."""
    now = {name: product.key for name in DRYING_WORDS if (product := product_of(name))}
    rows = DryingSeen.objects.filter(strikes=None, struck_by=None)
    return [row for row in rows if not row.product or row.product == now.get(row.what, row.product)]


def learned_drying() -> tuple[Drying, dict[str, Learned]]:
    """Minutes at 20 °C and 50 % with what was seen taken in, and what was learned of each."""
    return learn_from([value(row) for row in counting()], starting_drying(), warm=warm())


def room_air() -> Air:
    """The air of the room as it is expected to be."""
    rules = room_rules()
    return Air(rules.celsius, rules.humidity)


def planning_drying(air: Air | None = None) -> Drying:
    """Minutes of drying as the next plan takes them: learned, in the air of the room (or in `air`), and in the damp week that the shop may have told of."""
    return drying_in(starting_drying(), air or room_air(), [value(row) for row in counting()], warm())


def stretched_by_air() -> float:
    """How many times as long things dry in the air of the room as at 20 °C and 50 %, as the next plan takes it: of the time that differs most."""
    here, there = planning_drying(), planning_drying(Air())
    names = [name for name in DRIES if getattr(there, name)]
    return max(
        (here.minutes(name) / there.minutes(name) for name in names), key=lambda ratio: abs(log(ratio))
    )


def drying_in_force() -> list[tuple[str, str, int]]:
    """(name, words, minutes) of each drying time as the next plan takes it."""
    now = planning_drying()
    return [(name, words, round(now.minutes(name))) for name, words, _ in drying_names()]


@dataclass(frozen=True, slots=True)
class Line:
    """One drying time: where it starts from, what was learned, and what the next plan takes; minutes."""

    name: str
    words: str
    start: float
    source: str
    learned: Learned
    planned: float

    @property
    def low(self) -> float:
        """The shop's own median is above this with 95 % odds, at 20 °C and 50 %."""
        return self.start * self.learned.low

    @property
    def high(self) -> float:
        """The shop's own median is below this with 95 % odds, at 20 °C and 50 %."""
        return self.start * self.learned.high

    @property
    def next_low(self) -> float:
        """The next single time lies above this with 95 % odds, at 20 °C and 50 %."""
        return self.start * self.learned.next_low

    @property
    def next_high(self) -> float:
        """The next single time lies below this with 95 % odds, at 20 °C and 50 %."""
        return self.start * self.learned.next_high


def lines() -> list[Line]:
    """Every drying time that can be learned."""
    start, (_, found), now = starting_drying(), learned_drying(), planning_drying()
    shown = []
    for name, learned in found.items():
        shown.append(
            Line(
                name,
                DRYING_WORDS[name],
                getattr(start, name),
                _source(name),
                learned,
                now.minutes(name),
            )
        )
    return shown


def _source(name: str) -> str:
    """Where a starting time comes from."""
    if name in room_rules().drying:
        return "set by the shop"
    usual = getattr(usual_drying(), name)
    for role in (DRIES[name], Role.CLEAR):
        product = first_of(role)
        if product is not None and usual in (product.touch_dry, product.cure):
            return f"data sheet of {product.name}"
    return "common practice, no source"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as it is shown: minutes seen and at 20 °C and 50 %; whether it counts, and if not, why."""

    row: DryingSeen
    words: str
    at_reference: float
    why_not: str


def entries(most: int = 100) -> list[Entry]:
    """What was seen, newest first; counter-entries are told by what they strike out."""
    counted, start, line = {row.pk for row in counting()}, starting_drying(), warm()
    rows = DryingSeen.objects.filter(strikes=None).select_related("person", "job", "struck_by")[:most]
    shown = []
    for row in rows:
        if hasattr(row, "struck_by"):
            why_not = f"struck out: {row.struck_by.note}"
        else:
            why_not = "" if row.pk in counted else "about another product"
        seen = value(row)
        if not why_not and not seen.says(getattr(start, row.what), line):
            why_not = "it sets: how long at 20 °C and 50 % cannot be known from warm or dry air"
        shown.append(Entry(row, DRYING_WORDS[row.what], seen.at_reference(line), why_not))
    return shown


def air_now() -> Air:
    """The air as it was last read today, else as it is expected to be."""
    read = AirReading.objects.filter(struck=None, made__date=timezone.localdate()).first()
    return Air(read.celsius, read.humidity) if read else room_air()


def air_factor() -> float:
    """How many times as long drying takes in the air of the room as at 20 °C and 50 %."""
    return drying_factor(room_air())
