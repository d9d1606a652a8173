"""Routes: what a piece goes through, with the minutes it takes and how long it dries.

Common practice, no source, all of it: starting values for the shop to edit and to learn from its own log. Sides that are sat on get colour wiped in first; a turned
piece lies one side up until the coat has cured, then the other; wet coats dry through the night.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from math import ceil

from hidewright.defaults import CURE, TOUCH_DRY
from hidewright.refusals import Refusal
from hidewright.survey.zones import zone_keys

from .calendar import Calendar
from .model import BREAKABLE, COATS, NAMED, OWN, Job, Kind, Operation
from .route import Part, Route, RouteStep, done_where, route_for
from .shipped_routes import SHIPPED
from .work import WorkPiece


@dataclass(frozen=True, slots=True)
class Pace:
    """Minutes of hands for one kind of work: `fixed` for each piece and `per_m2` for each m² of it."""

    fixed: float
    per_m2: float

    def __post_init__(self) -> None:
        if not (0 <= self.fixed <= 480 and 0 <= self.per_m2 <= 2000) or self.fixed + self.per_m2 <= 0:
            raise Refusal("A pace lies from 0 to 480 min a piece and 0 to 2000 min a m².", where="pace")

    def minutes(self, area: float) -> int:
        """Whole minutes for one piece with `area` m², at least 1."""
        return max(1, round(self.fixed + self.per_m2 * area))


PACE: Mapping[Kind, Pace] = {
    Kind.STRIP: Pace(4, 42),
    Kind.CLEAN: Pace(2, 8),
    Kind.REPAIR: Pace(30, 0),
    Kind.MASK: Pace(4, 6),
    Kind.TURN: Pace(1, 0),
    Kind.WIPE_DOWN: Pace(1, 4),
    Kind.WIPE_IN: Pace(2, 12),
    Kind.PRIME: Pace(1.5, 5),
    Kind.SPRAY: Pace(1.5, 5),
    Kind.SAND: Pace(1.5, 6),
    Kind.TACK: Pace(1, 2),
    Kind.SECOND: Pace(1.5, 5),
    Kind.CLEAR: Pace(1.5, 6),
    Kind.UNMASK: Pace(1.5, 2),
    Kind.INSPECT: Pace(2, 2),
    **dict.fromkeys(sorted(OWN), Pace(5, 0)),
}
"""Minutes of hands. Common practice, no source."""


SETS = frozenset({"repair", "cure"})
"""What forms a film or crosslinks: it takes its time when the water is gone. No air and no factor shortens it."""


@dataclass(frozen=True, slots=True)
class Drying:
    """Minutes that must pass after each kind of wet work at 20 °C and 50 % humidity; `factor` stretches them (a damp or cold week is above 1).

    `strip` until the crust is dry; `clean`; `repair`; `wiped`; `colour` between sprayed coats; `cure` before a finished side is turned or moved; `window` within which the
    coat follows the wipe-down or the tack. A factor below 1 (0.1 to 10) shortens what only dries, never what sets (`SETS`).
    """

    strip: float = 180
    clean: float = 20
    repair: float = 240
    wiped: float = TOUCH_DRY
    prime: float = TOUCH_DRY
    colour: float = TOUCH_DRY
    cure: float = CURE
    window: int = 60
    factor: float = 1.0

    def __post_init__(self) -> None:
        for name in ("strip", "clean", "repair", "wiped", "prime", "colour", "cure", "window"):
            if not 0 <= getattr(self, name) <= 14 * 24 * 60:
                raise Refusal(f"{getattr(self, name):g} min of drying cannot be.", where=name)
        if not 0.1 <= self.factor <= 10:
            raise Refusal(f"Drying {self.factor:g} times as long cannot be.", where="factor")

    def stretch(self, name: str) -> float:
        """By what the time of that `name` (a field, or "" for a step's own) is multiplied: the factor, for what sets or is not known at least 1; 1 for the window."""
        if name == "window":
            return 1.0
        return max(1.0, self.factor) if name in SETS or not name else self.factor

    def minutes(self, name: str) -> float:
        """Minutes of the time of that `name`, stretched."""
        return float(getattr(self, name)) * self.stretch(name)

    def after(self, kind: Kind) -> tuple[int, int]:
        """(dry, wet) whole minutes after work of this kind."""
        dry, wet = {
            Kind.STRIP: ("strip", 60.0),
            Kind.CLEAN: ("clean", self.clean),
            Kind.REPAIR: ("repair", 0.0),
            Kind.WIPE_IN: ("wiped", self.wiped),
            Kind.PRIME: ("prime", self.prime),
            Kind.SPRAY: ("colour", self.colour),
            Kind.SECOND: ("colour", self.colour),
            Kind.CLEAR: ("cure", self.colour),
        }.get(kind, ("", 0.0))
        whole = ceil(self.minutes(dry)) if dry else 0
        return whole, min(whole, ceil(wet * self.factor))

    def between(self, kind: Kind) -> tuple[int, int]:
        """(dry, wet) whole minutes when another coat follows on the same side."""
        return self.after(Kind.SECOND if kind is Kind.CLEAR else kind)

    def last(self, kind: Kind) -> tuple[int, int]:
        """(dry, wet) whole minutes after the last coat of a side, whatever it is: it cures before it is turned or moved."""
        wet = self.after(kind)[1]
        return max(self.after(Kind.CLEAR)[0], wet), wet


Placed = tuple[str, RouteStep]
"""A step with the pass in which it is done."""


def placed_steps(piece: WorkPiece, routes: Iterable[Route] = SHIPPED) -> tuple[Placed, ...]:
    """The steps of a piece with the passes in which they are done: by its own route, else by the first of `routes` that is for it."""
    route = piece.route or route_for(piece.material, piece.condition, piece.strip, routes)
    found = [("prep", step) for step in route.part(Part.PREP) if _done(step, piece, piece.front_sat)]
    side_steps = route.side_steps(piece.colour_coats, piece.clear_coats)
    end = [step for step in route.part(Part.END) if _done(step, piece, piece.front_sat)]
    if piece.zones:
        found += in_zones(piece, side_steps)
        if any(zone.masked for zone in piece.zones) and not any(step.kind is Kind.UNMASK for step in end):
            end.insert(0, RouteStep(Part.END, Kind.UNMASK))
        return (*found, *(("end", step) for step in end))
    for side, area, sat in (
        ("front", piece.front, piece.front_sat),
        ("back", piece.back, piece.back_sat),
    ):
        if area > 0:
            second = side == "back" and piece.front > 0
            found += [(side, step) for step in _on_side(side_steps, piece, sat and piece.wiped, second)]
    return (*found, *(("end", step) for step in end))


def _done(step: RouteStep, piece: WorkPiece, sat: bool) -> bool:
    return done_where(step.where, sat=sat, bare=piece.strip, damaged=piece.repair, edges=piece.mask)


def _on_side(steps: Sequence[RouteStep], piece: WorkPiece, sat: bool, second: bool) -> list[RouteStep]:
    """What is done on one side: turned only before the second side, masked only before the first, and nothing wiped down that gets no coat."""
    left_out = {Kind.MASK} if second else {Kind.TURN}
    return _followed([step for step in steps if step.kind not in left_out and _done(step, piece, sat)])


def _followed(steps: Sequence[RouteStep]) -> list[RouteStep]:
    """The steps without a wipe-down or a tack that no coat follows."""
    return [
        step
        for step, after in zip_longest(steps, steps[1:])
        if step.kind not in (Kind.WIPE_DOWN, Kind.TACK) or (after is not None and after.kind in COATS)
    ]


def in_zones(piece: WorkPiece, steps: Sequence[RouteStep]) -> list[Placed]:
    """What is done in each zone: turned only where the piece is moved for it, masked where something is masked for it, and in the first as any piece."""
    found: list[Placed] = []

    def own(kind: Kind) -> RouteStep:
        """The step as the route has it, or the shop's plain one."""
        return next((step for step in steps if step.kind is kind), RouteStep(Part.SIDE, kind))

    for number, (key, zone) in enumerate(zip(zone_keys(piece.zones), piece.zones, strict=True)):
        ready = [own(Kind.TURN)] if zone.moved else []
        mask = own(Kind.MASK)
        if zone.masking is not None:
            mask = replace(mask, fixed=float(zone.masking), per_m2=0.0)
        if zone.masked or (not number and mask in steps and _done(mask, piece, piece.front_sat)):
            ready.append(mask)
        sat = (piece.front_sat or piece.back_sat) and zone.sat_on and piece.wiped
        others = [s for s in steps if s.kind not in (Kind.TURN, Kind.MASK) and _done(s, piece, sat)]
        found += ((key, step) for step in (*ready, *_followed(others)))
    return found


MOST_AT_ONCE = 150
"""Minutes after which work that may be broken off is given in parts."""


@dataclass(frozen=True, slots=True)
class Times:
    """How long work and drying take in this shop: paces, drying, and the minutes after which breakable work comes in parts."""

    pace: Mapping[Kind, Pace]
    drying: Drying
    most: int = MOST_AT_ONCE
    named: Mapping[str, float] = field(default_factory=dict)

    def minutes(self, step: RouteStep, area: float) -> int:
        """Whole minutes of hands for `area` m². A step's own minutes are stretched by what the shop's log has taught of its kind, or of its name (`named`) where it has one."""
        if step.name:
            own = (step.fixed or 0) + (step.per_m2 or 0) * area
            return max(1, round(self.named.get(step.name, 1.0) * own))
        pace = self.pace[step.kind]
        if step.fixed is None or step.per_m2 is None:
            return pace.minutes(area)
        start = PACE[step.kind]
        learned = (pace.fixed + pace.per_m2) / (start.fixed + start.per_m2)
        return max(1, round(learned * (step.fixed + step.per_m2 * area)))

    def dries(self, step: RouteStep, *, last_coat: bool, coat_follows: bool) -> tuple[int, int]:
        """(dry, wet) whole minutes after a step."""
        if last_coat:
            dry, wet = self.drying.last(step.kind)
        elif coat_follows:
            dry, wet = self.drying.between(step.kind)
        else:
            dry, wet = self.drying.after(step.kind)
        if step.dry is not None:
            dry = ceil(step.dry * self.drying.stretch(""))
        return dry, min(dry, wet)


def job_of(piece: WorkPiece, times: Times, calendar: Calendar, routes: Iterable[Route] = SHIPPED) -> Job:
    """The piece with its operations. Breakable work longer than `times.most` min comes in parts."""
    operations: list[Operation] = []
    seen: dict[tuple[str, str], int] = {}
    waits = _waits(piece, calendar)
    placed = placed_steps(piece, routes)
    last_coats = {key: n for n, (key, step) in enumerate(placed) if step.kind in COATS}
    for number, (pass_key, step) in enumerate(placed):
        words = f"{step.name}{NAMED}{step.kind}" if step.name else str(step.kind)
        seen[(pass_key, words)] = count = seen.get((pass_key, words), 0) + 1
        tail = f"{pass_key}/{words}" + (f" {count}" if count > 1 else "")
        release = max(waits.pop(str(step.kind), 0), waits.pop(tail, 0))
        last = last_coats.get(pass_key, -1)
        dries = times.dries(step, last_coat=number == last, coat_follows=number < last)
        area = piece.area_in(pass_key)
        whole = Operation(
            f"{piece.key}/{tail}",
            step.kind,
            "back" if pass_key == "back" else "front",
            pass_key,
            times.minutes(step, area),
            *dries,
            times.drying.window if step.kind in (Kind.WIPE_DOWN, Kind.TACK) else None,
            release,
            step.name,
        )
        operations += in_parts(whole, times.most)
    if waits:
        raise Refusal(
            f"It is to wait before “{next(iter(waits))}”, which is not on its route.",
            where=piece.key,
            remedy="Let it wait before one of its own steps.",
        )
    return Job(
        piece.key,
        piece.name,
        piece.material,
        piece.length,
        piece.depth,
        tuple(operations),
        piece.due,
        piece.colour,
        piece.rank,
        piece.zones,
    )


def _waits(piece: WorkPiece, calendar: Calendar) -> dict[str, int]:
    """Step → the minute before which it does not start."""
    waits: dict[str, int] = {}
    for hold in piece.holds:
        waits[hold.before] = max(waits.get(hold.before, 0), calendar.minutes_of(hold.until))
    return waits


def held(job: Job, done: Collection[str], release: int) -> Job:
    """The job with whatever comes next on it not before minute `release`; `done` are the keys of what is done. A job that is all done stays as it is."""
    last = max((n for n, o in enumerate(job.operations) if o.key in done), default=-1)
    if last + 1 == len(job.operations):
        return job
    coming = job.operations[last + 1]
    waits = replace(coming, release=max(coming.release, release))
    return replace(job, operations=(*job.operations[: last + 1], waits, *job.operations[last + 2 :]))


def in_parts(whole: Operation, most: int) -> list[Operation]:
    """An operation, in parts where it is long and may be broken off; only the last part dries."""
    count = ceil(whole.minutes / most) if whole.kind in BREAKABLE else 1
    if count == 1:
        return [whole]
    sizes = [whole.minutes // count + (i < whole.minutes % count) for i in range(count)]
    parts = [
        replace(whole, key=f"{whole.key}, part {i}", minutes=size, dry=0, wet=0, window=None)
        for i, size in enumerate(sizes[:-1], start=1)
    ]
    return [*parts, replace(whole, key=f"{whole.key}, part {count}", minutes=sizes[-1])]
