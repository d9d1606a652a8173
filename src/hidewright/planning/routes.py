"""Routes: what a piece goes through, with the minutes it takes and how long it dries.

Common practice, no source, all of it: starting values for the shop to edit and to learn from its own log. Sides that are sat on get colour wiped in first; a turned
piece lies one side up until the coat has cured, then the other; wet coats dry through the night.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import ceil

from hidewright.refusals import Refusal

from .calendar import Calendar, Person
from .problem import BREAKABLE, Job, Kind, Operation, Problem, Table
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
}
"""Minutes of hands. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Drying:
    """Minutes that must pass after each kind of wet work at 20 °C and 50 % humidity; `factor` stretches them (a damp or cold week is above 1).

    `strip` until the crust is dry; `clean`; `repair`; `wiped`; `colour` between sprayed coats; `cure` before a finished side is turned or moved; `window` within which the
    coat follows the wipe-down or the tack.
    """

    strip: float = 180
    clean: float = 20
    repair: float = 240
    wiped: float = 30
    prime: float = 40
    colour: float = 40
    cure: float = 840
    window: int = 60
    factor: float = 1.0

    def __post_init__(self) -> None:
        for name in ("strip", "clean", "repair", "wiped", "prime", "colour", "cure", "window"):
            if not 0 <= getattr(self, name) <= 14 * 24 * 60:
                raise Refusal(f"{getattr(self, name):g} min of drying cannot be.", where=name)
        if not 0.1 <= self.factor <= 10:
            raise Refusal(f"Drying {self.factor:g} times as long cannot be.", where="factor")

    def after(self, kind: Kind) -> tuple[int, int]:
        """(dry, wet) whole minutes after work of this kind."""
        dry, wet = {
            Kind.STRIP: (self.strip, 60.0),
            Kind.CLEAN: (self.clean, self.clean),
            Kind.REPAIR: (self.repair, 0.0),
            Kind.WIPE_IN: (self.wiped, self.wiped),
            Kind.PRIME: (self.prime, self.prime),
            Kind.SPRAY: (self.colour, self.colour),
            Kind.SECOND: (self.colour, self.colour),
            Kind.CLEAR: (self.cure, self.colour),
        }.get(kind, (0.0, 0.0))
        whole = ceil(dry * self.factor)
        return whole, min(whole, ceil(wet * self.factor))


Step = tuple[str, Kind]


def route_of(piece: WorkPiece) -> tuple[Step, ...]:
    """The steps of a piece as (pass, kind) pairs; passes are prep, front, back, and end for what needs no table."""
    if piece.route is not None:
        return tuple((key, Kind(kind)) for key, kind in piece.route)
    steps: list[Step] = []
    if piece.strip:
        steps += [("prep", Kind.STRIP), ("prep", Kind.CLEAN)]
    if piece.repair:
        steps.append(("prep", Kind.REPAIR))
    for side, area, sat in (
        ("front", piece.front, piece.front_sat),
        ("back", piece.back, piece.back_sat),
    ):
        if area > 0:
            steps += [(side, kind) for kind in _coats(piece, side, sat)]
    if piece.mask:
        steps.append(("end", Kind.UNMASK))
    return (*steps, ("end", Kind.INSPECT))


def _coats(piece: WorkPiece, side: str, sat: bool) -> Iterable[Kind]:
    if side == "back" and piece.front > 0:
        yield Kind.TURN
    elif piece.mask:
        yield Kind.MASK
    if not piece.strip:
        yield Kind.CLEAN
    yield Kind.WIPE_DOWN
    if piece.prime:
        yield from (Kind.PRIME, Kind.SAND, Kind.TACK)
    elif sat and piece.material in ("leather", "vinyl"):
        yield Kind.WIPE_IN
    yield from (Kind.SPRAY, Kind.SAND, Kind.TACK, Kind.SECOND, Kind.CLEAR)


MOST_AT_ONCE = 150
"""Minutes after which work that may be broken off is given in parts."""


def job_of(piece: WorkPiece, pace: Mapping[Kind, Pace], drying: Drying, calendar: Calendar, most: int) -> Job:
    """The piece with its operations. Breakable work longer than `most` min comes in parts."""
    operations: list[Operation] = []
    seen: dict[Step, int] = {}
    waits = {hold.before: calendar.minutes_of(hold.until) for hold in piece.holds}
    for step in route_of(piece):
        pass_key, kind = step
        seen[step] = seen.get(step, 0) + 1
        number = f" {seen[step]}" if seen[step] > 1 else ""
        key = f"{piece.key}/{pass_key}/{kind}{number}"
        release = waits.pop(str(kind), 0)
        operations += _parts(key, kind, pass_key, _area(piece, pass_key), pace, drying, release, most)
    if waits:
        raise Refusal(
            f"It is to wait before “{next(iter(waits))}”, which is not on its route.",
            where=piece.key,
            remedy="Let it wait before one of its own steps.",
        )
    return Job(piece.key, piece.name, piece.material, piece.length, piece.depth, tuple(operations), piece.due)


def _area(piece: WorkPiece, pass_key: str) -> float:
    return {"front": piece.front, "back": piece.back}.get(pass_key, piece.area)


def _parts(
    key: str,
    kind: Kind,
    pass_key: str,
    area: float,
    pace: Mapping[Kind, Pace],
    drying: Drying,
    release: int,
    most: int,
) -> list[Operation]:
    minutes = pace[kind].minutes(area)
    dry, wet = drying.after(kind)
    window = drying.window if kind in (Kind.WIPE_DOWN, Kind.TACK) else None
    side = "back" if pass_key == "back" else "front"
    count = ceil(minutes / most) if kind in BREAKABLE else 1
    if count == 1:
        return [Operation(key, kind, side, pass_key, minutes, dry, wet, window, release)]
    sizes = [minutes // count + (i < minutes % count) for i in range(count)]
    parts = [
        Operation(f"{key}, part {i}", kind, side, pass_key, size, 0, 0, None, release)
        for i, size in enumerate(sizes[:-1], start=1)
    ]
    return [
        *parts,
        Operation(f"{key}, part {count}", kind, side, pass_key, sizes[-1], dry, wet, window, release),
    ]


def build_problem(
    pieces: Sequence[WorkPiece],
    people: Sequence[Person],
    tables: Sequence[Table],
    calendar: Calendar,
    *,
    guns: int = 1,
    drying: Drying | None = None,
    pace: Mapping[Kind, Pace] | None = None,
    promised: date | None = None,
    pot_life: Mapping[str, int] | None = None,
    most_mixes: int = 3,
    fan_off: bool = False,
) -> Problem:
    """The problem of planning these pieces; refuses at once what no plan can do, naming the rule, the piece and the smallest change."""
    from .possible import refuse_impossible

    paces = {**PACE, **(pace or {})}
    most = min(MOST_AT_ONCE, *(person.week.longest for person in people)) if people else MOST_AT_ONCE
    jobs = tuple(job_of(piece, paces, drying or Drying(), calendar, most) for piece in pieces)
    problem = Problem(
        jobs,
        tuple(people),
        tuple(tables),
        calendar,
        guns,
        promised,
        dict(pot_life or {}),
        most_mixes,
        fan_off,
    )
    refuse_impossible(problem)
    return problem
