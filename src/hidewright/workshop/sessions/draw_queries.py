"""What a session takes out of which pot: litres by the forecast of the coats it puts on, and the vessels they can come from."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone

from hidewright.mixing.portions import Clock
from hidewright.takeoff.coats import Stage
from hidewright.workshop.days.coat_queries import CoatAct, coat_acts
from hidewright.workshop.pieces.colour_queries import colour_numbered, several
from hidewright.workshop.quantities.queries import Quantities, quantities
from hidewright.workshop.sessions.models import SessionDone
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.vessel_queries import VesselState, job_vessels, states_of
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

CLEAR = "clear"
"""The pot that clear comes from: the can on the shelf."""


@dataclass(frozen=True, slots=True)
class Part:
    """One stage of a draw: piece → share of its coats, mL by the forecast."""

    stage: Stage
    shares: dict[str, float]
    millilitres: float


@dataclass(frozen=True, slots=True)
class Draw:
    """What a session takes of one pot: a colour of the job (`number`), or clear (None). `loss` mL stay in gun and cup; `vessels` it can come from, the likeliest first."""

    pot: str
    label: str
    number: int | None
    parts: tuple[Part, ...]
    loss: float
    vessels: tuple[VesselState, ...]

    @property
    def millilitres(self) -> float:
        """What it takes by the forecast, what stays in gun and cup included."""
        return sum(part.millilitres for part in self.parts) + self.loss


def pot_of(act: CoatAct) -> str:
    """The name of the pot that an act draws on."""
    return CLEAR if act.stage is Stage.CLEAR else f"colour {act.number}"


@remembered
def draws(job: Job, keys: tuple[str, ...], of: int | None = None) -> tuple[Draw, ...]:
    """What these acts take together, pot by pot; nothing for work that puts no coat on. `of` the event that asks: it is not its own forerunner."""
    acts: dict[str, list[CoatAct]] = {}
    for act in coat_acts(job, keys):
        acts.setdefault(pot_of(act), []).append(act)
    return tuple(_draw(job, pot, listed, of) for pot, listed in acts.items())


def _draw(job: Job, pot: str, acts: Sequence[CoatAct], of: int | None) -> Draw:
    found = {number: quantities(job, 0.0, number) for number in {act.number for act in acts}}
    each = {number: _expected(one) for number, one in found.items() if one is not None}
    parts = []
    for stage in Stage:
        shares: dict[str, float] = {}
        amount = 0.0
        for act in acts:
            takes = each.get(act.number, {}).get((act.piece, stage))
            if act.stage is stage and takes is not None:
                shares[act.piece] = min(1.0, shares.get(act.piece, 0.0) + act.share)
                amount += takes * act.share
        if shares:
            parts.append(Part(stage, shares, amount))
    number = None if pot == CLEAR else acts[0].number
    first = next((one for one in found.values() if one is not None), None)
    loss = first.sourced.assumed.cup_loss if first and not _rinsed_today(job, pot, of) else 0.0
    if number is None:
        return Draw(pot, "clear", None, tuple(parts), loss, ())
    label = colour_numbered(job, number).label if several(job) else "colour"
    return Draw(pot, label, number, tuple(parts), loss, vessels_for(job, number))


def _expected(found: Quantities) -> dict[tuple[str, Stage], float]:
    """(piece, stage) → mL of all its coats, at the middle of what is known."""
    return {(item.piece, item.stage): found.model.expected(n) for n, item in enumerate(found.model.items)}


@remembered
def _today(job: Job) -> tuple[SessionDone, ...]:
    return tuple(
        SessionDone.objects.filter(job=job, withdrawn=None, kind="done", at__date=timezone.localdate())
    )


def _rinsed_today(job: Job, pot: str, of: int | None) -> bool:
    """Whether what stays in gun and cup of this pot was counted today already."""
    others = (one for one in _today(job) if one.pk != of)
    return any(pot_of(act) == pot for one in others for act in coat_acts(job, one.keys))


@remembered
def vessels_for(job: Job, number: int) -> tuple[VesselState, ...]:
    """The vessels from which one of the job's colours can be sprayed: crosslinked loads first, then other loads, then the fullest cup."""
    now = timezone.now()
    states = [
        state
        for state in states_of(job_vessels(job, number))
        if state.volume and state.finished and state.row.kind != MixVessel.Kind.JAR
        if state.clock(now) is not Clock.OVER
    ]
    return tuple(
        sorted(
            states,
            key=lambda s: (not s.crosslinked, s.row.kind != MixVessel.Kind.PORTION, -s.volume, s.row.pk),
        )
    )
