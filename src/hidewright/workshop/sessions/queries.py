"""Today's spraying as gun loads: what the day's list still wants of crosslinked colour, session by session."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from hidewright.mixing.portions import Load, Session, crosslink_now, gun_loads
from hidewright.planning.problem.model import Kind
from hidewright.refusals import Refusal
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.products import Product, Role
from hidewright.workshop.days import queries as days
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.room.queries import gun
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.vessel_queries import VesselState
from hidewright.workshop.shop.models import Job

GAP = timedelta(minutes=45)
"""A pause between sprayed coats that is longer than this ends a session (a convention of this tool)."""
SPRAYED = (str(Kind.SPRAY), str(Kind.SECOND))
"""Kinds of work that take mixed colour through the gun, as the plan writes them."""


@dataclass(frozen=True, slots=True)
class SprayAct:
    """One coat on one side of a piece that is still to be sprayed: mL of colour it takes at the middle of the forecast."""

    piece: str
    start: datetime
    end: datetime
    colour: float

    @property
    def minutes(self) -> float:
        """Planned minutes."""
        return (self.end - self.start).total_seconds() / 60


@dataclass(frozen=True, slots=True, eq=False)
class SprayView:
    """A session: its pieces, mL of colour it still wants with what stays in gun and cup, its loads, or why it cannot be."""

    name: str
    pieces: tuple[str, ...]
    colour: float
    minutes: float
    loads: tuple[Load, ...]
    linker: Product | None
    refusal: Refusal | None

    @property
    def first(self) -> Load | None:
        """The load to draw off next."""
        return self.loads[0] if self.loads and not self.refusal else None

    @property
    def more(self) -> int:
        """Loads after the first one."""
        return max(0, len(self.loads) - 1)


def spray_acts(job: Job, number: int = 0) -> tuple[str, list[SprayAct]]:
    """The day that is shown, in words, and what of one of the job's colours is still to be sprayed on it; without a plan, nothing."""
    plan = days.plan_in_force(job)
    found = quantities.quantities(job, 0.0, number)
    if plan is None or found is None:
        return "", []
    day = days.day_to_show(plan, timezone.localdate())
    listed = days.day_list(job, plan, day)
    each, left = _per_coat(found), quantities.still_sprayed(found)
    acts = []
    for line in (line for person in listed.people for line in person.lines if not line.standing.done):
        piece, _, rest = line.act.key.partition("/")
        pass_key, _, kind = rest.partition("/")
        takes = min(each.get((piece, pass_key), 0.0), left.get(piece, 0.0))
        if kind.startswith(SPRAYED) and takes > 0.01:
            left[piece] -= takes
            acts.append(SprayAct(piece, line.act.start, line.act.end, takes))
    return f"{day:%A} {day.day} {day:%B}", sorted(acts, key=lambda act: act.start)


def _per_coat(found: quantities.Quantities) -> dict[tuple[str, str], float]:
    """(piece, pass) → mL of sprayed colour that one coat on that side or zone takes."""
    pieces = {p.key: p for p in found.pieces}
    coats = max(found.sourced.assumed.colour_coats, 1)
    each = {}
    for n, item in enumerate(found.model.items):
        if item.stage is not Stage.COLOUR:
            continue
        piece = pieces[item.piece]
        for pass_key in piece.passes:
            each[item.piece, pass_key] = found.model.expected(n) / coats * piece.pass_share(pass_key)
    return each


def split_sessions(acts: Sequence[SprayAct]) -> list[list[SprayAct]]:
    """Acts in order of time, parted where nobody sprays for a while."""
    found: list[list[SprayAct]] = []
    until = datetime.min
    for act in acts:
        if not found or act.start - until > GAP:
            found.append([])
        found[-1].append(act)
        until = max(until, act.end)
    return found


def sessions(
    job: Job, states: Iterable[VesselState], in_hand: float, number: int = 0
) -> tuple[str, list[SprayView]]:
    """The day in words and one colour's sessions with their gun loads; what stands in gun loads already is taken off the first ones."""
    day, acts = spray_acts(job, number)
    assumed = quantities.assumptions(job, number)
    loads = [s for s in states if s.row.kind == MixVessel.Kind.PORTION and s.row.colour_number == number]
    drawn = sum(s.volume for s in loads if s.counts())
    left = drawn
    wanted: list[tuple[list[SprayAct], float]] = []
    for session in split_sessions(acts):
        want = sum(act.colour for act in session) + assumed.cup_loss
        taken = min(left, want)
        left -= taken
        wanted.append((session, want - taken))
    values = [Session(_name(session), want) for session, want in wanted]
    linker = products.first_of(Role.CROSSLINKER)
    found, held = [], in_hand - drawn
    for number, (session, want) in enumerate(wanted):
        if want < 1:
            continue
        found.append(_view(session, values, number, held, assumed.keep_back, linker))
        held -= want
    return day, found


def _name(session: Sequence[SprayAct]) -> str:
    return f"{session[0].start:%H:%M} to {max(act.end for act in session):%H:%M}"


def _view(
    session: Sequence[SprayAct],
    values: Sequence[Session],
    number: int,
    held: float,
    keep_back: float,
    linker: Product | None,
) -> SprayView:
    minutes = max(sum(act.minutes for act in session), 1.0)
    setup = gun()
    pace = setup.per_minute or sum(act.colour for act in session) / minutes
    loads: tuple[Load, ...] = ()
    refusal = None
    want = values[number].colour
    try:
        loads = gun_loads(
            want,
            gun_cup=setup.cup,
            ml_per_minute=pace,
            ratio=linker.ratio if linker else 0.0,
            pot_life=linker.pot_life if linker else None,
        )
        crosslink_now(values, number, max(held, 0.0), keep_back)
    except Refusal as why:
        refusal = why
    pieces = tuple(dict.fromkeys(act.piece for act in session))
    return SprayView(values[number].name, pieces, want, minutes, loads, linker, refusal)
