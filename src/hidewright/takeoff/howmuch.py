"""How much: litres of each product with odds.

A face wants area x coats x build / (volume solids x transfer). Area, build and transfer are uncertain, partly together (one tape, one hand, one gun) and
partly piece by piece (`yields`). The sum is closed form (`odds`): the same survey always gives the same forecast.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from hidewright.refusals import Refusal
from hidewright.survey import Material, Piece

from .coats import Assumptions, Stage
from .odds import Array, Spread, sigma_of
from .yields import Belief, JobModel, items_of, starting_belief

STRIPPER_SD, WASH_SD = 0.25, 0.20
"""Relative sd of what stripping and washing take by hand: common practice, no source."""
COLOUR = (Stage.WIPED, Stage.COLOUR)
"""The stages that take mixed colour."""


@dataclass(frozen=True, slots=True)
class Need:
    """What is needed of one thing, in mL.

    `spread` the whole with its odds; `lands` what stays on the faces, `lost` overspray and wiping loss, `left` what stays in guns, strainers and cups,
    `kept` what is kept back on purpose (all at the middle of the forecast).
    """

    name: str
    spread: Spread
    lands: float
    lost: float
    left: float
    kept: float

    def at(self, odds: float) -> float:
        """mL that suffice with these odds (0 < odds < 1)."""
        return self.spread.at(odds)

    @property
    def p50(self) -> float:
        """mL that suffice half of the time."""
        return self.at(0.5)

    @property
    def p90(self) -> float:
        """mL that suffice nine times in ten."""
        return self.at(0.9)

    def odds_of(self, millilitres: float) -> float:
        """The odds that this much suffices, 0..1."""
        return self.spread.odds_of(millilitres)

    def curve(self) -> tuple[Array, Array]:
        """mL and odds for a chart, both (n,)."""
        return self.spread.curve()


@dataclass(frozen=True, slots=True, eq=False)
class Takeoff:
    """The forecast of a whole job: `colour` mixed colour (wiped and sprayed), `clear` and the rest; areas in m²; `sessions` of spraying."""

    colour: Need
    clear: Need
    stripper: Need
    cleaner: Need
    solvent: Need
    primer: Need
    area: float
    stripped_area: float
    wiped_area: float
    sessions: int
    per_piece: Mapping[str, float]
    """Mixed colour each piece takes, in mL at the middle of the forecast, losses of the session left out."""
    assumed: Assumptions

    @property
    def needs(self) -> tuple[Need, ...]:
        """Everything that is needed, in the order it is used."""
        every = (self.stripper, self.cleaner, self.solvent, self.primer, self.colour, self.clear)
        return tuple(need for need in every if need.p50 > 0)


def take_off(
    pieces: Sequence[Piece],
    assumed: Assumptions | None = None,
    *,
    belief: Belief | None = None,
    by_hand_sd: Mapping[str, float] | None = None,
) -> Takeoff:
    """The forecast for all pieces; `belief` is what the shop has learned about its yield, `by_hand_sd` role → relative sd of what hands use, as learned.

    Refuses an empty survey.
    """
    if not pieces:
        raise Refusal("There is no piece to work it out for.", remedy="Enter the pieces first.")
    assumed = assumed or Assumptions()
    model = JobModel(items_of(pieces, assumed), assumed, belief or starting_belief(assumed))
    area = sum(p.area for p in pieces)
    stripped = sum(p.area for p in pieces if p.strip)
    primed = sum(p.area for p in pieces if p.material is not Material.LEATHER)
    sessions = assumed.sessions(area)
    sd = {"stripper": STRIPPER_SD, "cleaner": WASH_SD, "solvent": WASH_SD, "primer": assumed.build_sd}
    sd |= by_hand_sd or {}
    return Takeoff(
        _mixed("Mixed colour", model, COLOUR, sessions, assumed.keep_back),
        _mixed("Clear", model, (Stage.CLEAR,), sessions, 0.0),
        _flat("Stripper", stripped * assumed.strip_ml, assumed, sd["stripper"]),
        _flat("Cleaner", area * assumed.clean_ml, assumed, sd["cleaner"]),
        _flat("Wipe-down solvent", area * assumed.wipe_ml, assumed, sd["solvent"]),
        _flat("Primer", primed * assumed.prime_ml, assumed, sd["primer"]),
        area,
        stripped,
        sum(f.area for p in pieces for f in p.wiped_faces) if assumed.wiped else 0.0,
        sessions,
        _per_piece(model),
        assumed,
    )


def _mixed(name: str, model: JobModel, stages: Sequence[Stage], sessions: int, keep: float) -> Need:
    assumed = model.assumed
    spread = model.still(stages)
    if not spread.median:
        return Need(name, Spread(0.0, 0.0), 0.0, 0.0, 0.0, 0.0)
    base = {stage: sum(i.base for i in model.items if i.stage is stage) for stage in stages}
    landing = sum(base[s] * assumed.lands(s) for s in stages) / sum(base.values())
    left = sessions * assumed.cup_loss
    return Need(
        name, spread.plus(left + keep), spread.median * landing, spread.median * (1 - landing), left, keep
    )


def _per_piece(model: JobModel) -> dict[str, float]:
    found: dict[str, float] = {}
    for n, item in enumerate(model.items):
        if item.stage in COLOUR:
            found[item.piece] = found.get(item.piece, 0.0) + model.expected(n)
    return found


def _flat(name: str, millilitres: float, assumed: Assumptions, relative: float) -> Need:
    sigma = hypot(sigma_of(relative), sigma_of(assumed.area_sd)) if millilitres else 0.0
    return Need(name, Spread(millilitres, sigma), millilitres, 0.0, 0.0, 0.0)
