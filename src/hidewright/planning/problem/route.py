"""A route: the list of steps that the shop has for one kind of piece, and what makes such a list senseless.

Common practice, no source: the shipped routes are starting points. A route is written once for all pieces of its kind; each step says where it is done (only on
faces that are sat on, only where the old coat came off), so that one list serves a worn cushion and a stripped arm rest.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import product, zip_longest

from hidewright.refusals import Refusal, Refusals

from .model import COATS, NAMED, OWN, Kind


class Part(StrEnum):
    """When in the route a step comes: before any coat, on each side that is coated, or when all is dry (needs no table)."""

    PREP = "before coating"
    SIDE = "each side"
    END = "at the end"


class Where(StrEnum):
    """On which pieces or sides a step is done."""

    ALWAYS = "everywhere"
    SAT = "only where it is sat on"
    BARE = "only where the old coat came off"
    OLD_COAT = "only where the old coat stays"
    DAMAGED = "only on damaged pieces"
    EDGES = "only where edges are masked"


@dataclass(frozen=True, slots=True)
class RouteStep:
    """One step; `name` what the shop calls it where it is one of its own. `fixed` min a piece and `per_m2` min a m² of hands (None: the shop's own pace); `dry` min at 20 °C and 50 % (None: as the products say)."""

    part: Part
    kind: Kind
    where: Where = Where.ALWAYS
    fixed: float | None = None
    per_m2: float | None = None
    dry: float | None = None
    name: str = ""

    def __post_init__(self) -> None:
        if (self.kind in OWN) != bool(self.name.strip()):
            raise Refusal(
                "Only a step of the shop’s own has a name." if self.name else "What is this step called?",
                where=self.name or str(self.kind),
                remedy="Write what is done, in a few words.",
            )
        if "/" in self.name or NAMED.strip() in self.name or len(self.name) > 40:
            raise Refusal(
                "A name has no “/” or “·”, and 40 letters at most.",
                where=self.name[:40],
                remedy="Write it in plain words.",
            )
        if self.name and self.fixed is None:
            raise Refusal("How long does it take?", where=self.name, remedy="Enter its minutes a piece.")
        for name, value, most in (
            ("minutes a piece", self.fixed, 480),
            ("minutes a m²", self.per_m2, 2000),
            ("minutes of drying", self.dry, 14 * 24 * 60),
        ):
            if value is not None and not 0 <= value <= most:
                raise Refusal(
                    f"{value:g} {name} cannot be.", where=str(self.kind), remedy=f"Enter 0 to {most}."
                )
        if (self.fixed is None) != (self.per_m2 is None):
            raise Refusal(
                "It has minutes of its own both for a piece and for a m².",
                where=str(self.kind),
                remedy="Fill in both, or leave both empty for the shop’s own pace.",
            )
        if self.fixed is not None and self.fixed + (self.per_m2 or 0) <= 0:
            raise Refusal("A step takes some time.", where=str(self.kind), remedy="Enter a minute or more.")


@dataclass(frozen=True, slots=True)
class Route:
    """The steps for pieces of these `materials` (none: any), stripped or not (`strip` None: either) and in these `conditions` (none: any).

    `colour_coats`, `clear_coats` of its own; None takes as many as the recipe and the products need.
    """

    key: str
    name: str
    steps: tuple[RouteStep, ...]
    materials: frozenset[str] = frozenset()
    strip: bool | None = None
    conditions: frozenset[str] = frozenset()
    colour_coats: int | None = None
    clear_coats: int | None = None

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise Refusal("A route needs a name.", where="Name", remedy="Write what it is for.")
        for words, coats, most in (
            ("coats of colour", self.colour_coats, 12),
            ("coats of clear", self.clear_coats, 8),
        ):
            if coats is not None and not 0 <= coats <= most:
                raise Refusal(f"{coats} {words} cannot be.", where=self.name, remedy=f"Enter 0 to {most}.")

    def fits(self, material: str, condition: str, strip: bool) -> bool:
        """True when it is for such a piece."""
        return (
            (not self.materials or material in self.materials)
            and (not self.conditions or condition in self.conditions)
            and (self.strip is None or self.strip == strip)
        )

    def part(self, part: Part) -> tuple[RouteStep, ...]:
        """The steps of one part, in order."""
        return tuple(step for step in self.steps if step.part is part)

    def side_steps(self, colour: int, clear: int) -> tuple[RouteStep, ...]:
        """The steps of one side with so many sprayed coats of colour and of clear; the route's own numbers go before these.

        The steps between two coats (sand, tack …) belong to the coat that follows them: a coat left out takes them along, a further coat repeats them.
        """
        colour = colour if self.colour_coats is None else self.colour_coats
        clear = clear if self.clear_coats is None else self.clear_coats
        blocks = list(_blocks(self.part(Part.SIDE)))
        with_second = any(block[-1].kind is Kind.SECOND for block in blocks)
        found: list[RouteStep] = []
        for block in blocks:
            last = block[-1]
            if last.kind is Kind.SPRAY:
                found += block if colour else ()
                if not with_second:
                    found += [replace(last, kind=Kind.SECOND)] * (colour - 1)
            elif last.kind is Kind.SECOND:
                found += block * (colour - 1)
            elif last.kind is Kind.CLEAR:
                found += (*block, *[last] * (clear - 1)) if clear else ()
            else:
                found += block
        return tuple(found)


BETWEEN = frozenset({Kind.SAND, Kind.TACK})
"""What is done between two coats, for the sake of the second."""


def _blocks(steps: Sequence[RouteStep]) -> Iterator[tuple[RouteStep, ...]]:
    """Each coat with the steps between it and the coat before; other steps alone."""
    waiting: list[RouteStep] = []
    coated = False
    for step in steps:
        if step.kind in COATS:
            yield (*waiting, step)
            waiting, coated = [], True
        elif coated and step.kind in BETWEEN:
            waiting.append(step)
        else:
            yield from ((each,) for each in waiting)
            waiting = []
            yield (step,)
    yield from ((each,) for each in waiting)


PLACES: Mapping[Kind, tuple[Part, ...]] = {
    Kind.STRIP: (Part.PREP,),
    Kind.REPAIR: (Part.PREP,),
    Kind.CLEAN: (Part.PREP, Part.SIDE),
    Kind.SAND: (Part.PREP, Part.SIDE),
    Kind.TACK: (Part.SIDE,),
    Kind.MASK: (Part.SIDE,),
    Kind.TURN: (Part.SIDE,),
    Kind.WIPE_DOWN: (Part.SIDE,),
    Kind.WIPE_IN: (Part.SIDE,),
    Kind.PRIME: (Part.SIDE,),
    Kind.SPRAY: (Part.SIDE,),
    Kind.SECOND: (Part.SIDE,),
    Kind.CLEAR: (Part.SIDE,),
    Kind.UNMASK: (Part.END,),
    Kind.INSPECT: (Part.END,),
    **dict.fromkeys(sorted(OWN), tuple(Part)),
}
"""In which parts of a route a kind of work can stand."""

ORDER = {Kind.PRIME: 0, Kind.WIPE_IN: 1, Kind.SPRAY: 2, Kind.SECOND: 3, Kind.CLEAR: 4}
"""The coats in the order in which they go on."""


def faults_of(route: Route, cure: float = 0.0) -> tuple[Refusal, ...]:
    """What makes the route senseless, in its own order; empty when nothing does. `cure` min that the last coat of a side takes at the least before it is turned."""
    side = route.part(Part.SIDE)
    found = [
        *_misplaced(route),
        *_coats_in_order(side),
        *_prepared(side),
        *_turning(side, cure),
        *_masking(route),
        *_own(route),
    ]
    return tuple({str(fault): fault for fault in found}.values())


def check(route: Route, cure: float = 0.0) -> None:
    """Raise `Refusals` with all that makes the route senseless."""
    faults = faults_of(route, cure)
    if faults:
        raise Refusals(faults, what="This route makes no sense yet.")


def _misplaced(route: Route) -> Iterator[Refusal]:
    for step in route.steps:
        if step.part not in PLACES[step.kind]:
            yield Refusal(
                f"“{step.kind}” cannot come {_when(step.part)}.",
                remedy=f"It comes {' or '.join(_when(part) for part in PLACES[step.kind])}.",
            )


def _when(part: Part) -> str:
    return "on each side" if part is Part.SIDE else str(part)


def _coats_in_order(side: Sequence[RouteStep]) -> Iterator[Refusal]:
    coats = [step for step in side if step.kind in COATS]
    if not coats:
        yield Refusal(
            "Nothing is coated.", remedy="Add a coat, or take the pieces off the list if they get none."
        )
    for number, step in enumerate(coats):
        before = [each for each in coats[:number] if ORDER[each.kind] > ORDER[step.kind]]
        if before:
            yield Refusal(
                f"“{step.kind}” comes after “{before[-1].kind}”.", remedy=f"Move “{step.kind}” up before it."
            )
    for kind in (Kind.SPRAY, Kind.SECOND, Kind.WIPE_IN):
        if sum(step.kind is kind for step in coats) > 1:
            yield Refusal(
                f"“{kind}” is there twice.",
                remedy="Once is enough: further coats follow by themselves from their number.",
            )
    if any(s.kind is Kind.SECOND for s in coats) and not any(s.kind is Kind.SPRAY for s in coats):
        yield Refusal("A second coat needs a first one.", remedy="Add “spray colour” before it.")


def _prepared(side: Sequence[RouteStep]) -> Iterator[Refusal]:
    """A wipe-down and a tack are for the coat that follows at once, on whatever piece; grease and dust come off before a coat."""
    for sat, bare in product((True, False), repeat=2):
        steps = [step for step in side if done_where(step.where, sat=sat, bare=bare)]
        for step, after in zip_longest(steps, steps[1:]):
            if step.kind in (Kind.WIPE_DOWN, Kind.TACK) and (after is None or after.kind not in COATS):
                follows = f"“{after.kind}”" if after else "nothing"
                yield Refusal(
                    f"After “{step.kind}” comes {follows}, not a coat{_case(step, side, sat, bare)}.",
                    remedy="A coat follows it at once: move it down to just before one.",
                )
    for number, step in enumerate(side):
        if step.kind is Kind.CLEAN and any(s.kind in COATS for s in side[:number]):
            yield Refusal(
                "“clean” comes after a coat.", remedy="Move it up: what is greasy is cleaned before any coat."
            )


def _case(step: RouteStep, side: Sequence[RouteStep], sat: bool, bare: bool) -> str:
    """In which case a fault shows, where it depends on it."""
    wheres = {each.where for each in side}
    told = []
    if Where.SAT in wheres:
        told.append("sat on" if sat else "not sat on")
    if wheres & {Where.BARE, Where.OLD_COAT}:
        told.append("stripped" if bare else "not stripped")
    return f" (where it is {' and '.join(told)})" if told else ""


def done_where(where: Where, *, sat: bool, bare: bool, damaged: bool = True, edges: bool = True) -> bool:
    """Whether a step of that kind is done on a side that is sat on or not, of a piece whose old coat came off (`bare`) or stays."""
    return {
        Where.ALWAYS: True,
        Where.SAT: sat,
        Where.BARE: bare,
        Where.OLD_COAT: not bare,
        Where.DAMAGED: damaged,
        Where.EDGES: edges,
    }[where]


def _turning(side: Sequence[RouteStep], cure: float) -> Iterator[Refusal]:
    for number, step in enumerate(side):
        if step.kind is Kind.TURN and any(s.kind in COATS for s in side[:number]):
            yield Refusal(
                "It is turned before the coat has cured.",
                remedy="Move “turn” up to the first place of each side: it is done when the side before has cured.",
            )
        elif step.kind is Kind.TURN and number:
            yield Refusal(
                "“turn” is not the first step of its side.", remedy="Move it up to the first place."
            )
    if sum(step.kind is Kind.TURN for step in side) != 1:
        yield Refusal(
            "Pieces that are coated on both sides are turned once, between the sides.",
            remedy="“turn” comes once, in the first place of each side; pieces with one side skip it.",
        )
    last = next((step for step in reversed(side) if step.kind in COATS), None)
    if last is not None and last.dry is not None and last.dry < cure:
        yield Refusal(
            f"“{last.kind}” is turned or moved after {last.dry:g} min; it cures {cure:g} min.",
            remedy="Leave its drying empty. If it dries sooner in your room, note that under Drying: the plan learns it.",
        )


def _masking(route: Route) -> Iterator[Refusal]:
    side = route.part(Part.SIDE)
    for number, step in enumerate(side):
        if step.kind is Kind.MASK and any(s.kind in COATS for s in side[:number]):
            yield Refusal("It is masked after a coat.", remedy="Move “mask” up before the first coat.")
    masked = any(step.kind is Kind.MASK for step in route.steps)
    unmasked = any(step.kind is Kind.UNMASK for step in route.steps)
    if masked and not unmasked:
        yield Refusal("What is masked is never unmasked.", remedy="Add “unmask” at the end.")
    if unmasked and not masked:
        yield Refusal("“unmask” without “mask”.", remedy="Add “mask” before the first coat, or take it out.")
    end = route.part(Part.END)
    kinds = [step.kind for step in end]
    if (
        Kind.UNMASK in kinds
        and Kind.INSPECT in kinds
        and kinds.index(Kind.INSPECT) < kinds.index(Kind.UNMASK)
    ):
        yield Refusal("It is inspected before it is unmasked.", remedy="Move “unmask” up before “inspect”.")


def _own(route: Route) -> Iterator[Refusal]:
    """Steps of the shop's own on a side come before its last coat: what comes after it is done when all has cured, at the end."""
    side = route.part(Part.SIDE)
    last = max((n for n, step in enumerate(side) if step.kind in COATS), default=-1)
    for step in side[last + 1 :] if last >= 0 else ():
        if step.kind in OWN:
            yield Refusal(
                f"“{step.name}” comes on each side after its last coat, which still cures.",
                remedy="Move it down to the end, where all is dry, or up before the last coat.",
            )


def route_for(material: str, condition: str, strip: bool, routes: Iterable[Route]) -> Route:
    """The first of `routes` that is for such a piece; refuses when none is."""
    for route in routes:
        if route.fits(material, condition, strip):
            return route
    state = "stripped" if strip else "not stripped"
    raise Refusal(
        f"No route is for {material}, {condition}, {state}.",
        where="routes",
        remedy="Make one under Routes, or let another serve this too.",
    )
