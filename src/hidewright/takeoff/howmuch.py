"""How much: litres of each product with odds.

A face wants area x coats x build / (volume solids x transfer). Area, build and transfer are uncertain, partly together (one tape, one hand, one gun) and
partly piece by piece. The total is simulated with log-normal factors, seeded, so that the same survey gives the same forecast.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil, log, sqrt

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal
from hidewright.survey import Piece

from .coats import Assumptions, Stage, coats_of, wet_ml_per_m2

Array = NDArray[np.float64]
DRAWS = 4000


@dataclass(frozen=True, slots=True, eq=False)
class Need:
    """What is needed of one thing, in mL.

    `draws` (n,) simulated totals; `lands` what stays on the faces, `lost` overspray and wiping loss, `left` what stays in guns, strainers and cups,
    `kept` what is kept back on purpose (all at the middle of the forecast).
    """

    name: str
    draws: Array
    lands: float
    lost: float
    left: float
    kept: float

    def at(self, odds: float) -> float:
        """mL that suffice with these odds (0 < odds < 1)."""
        if not 0 < odds < 1:
            raise Refusal("Odds lie between 0 and 1.", where="odds", remedy="Write 0.95 for 95 %.")
        return float(np.quantile(self.draws, odds))

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
        return float(np.mean(self.draws <= millilitres))


@dataclass(frozen=True, slots=True, eq=False)
class Takeoff:
    """The forecast of a whole job: `colour` mixed colour (wiped and sprayed), `clear`, `stripper`, `cleaner`; areas in m²; `sessions` of spraying."""

    colour: Need
    clear: Need
    stripper: Need
    cleaner: Need
    area: float
    stripped_area: float
    sessions: int
    per_piece: Mapping[str, float]
    """Mixed colour each piece takes, in mL at the middle of the forecast, losses of the session left out."""

    @property
    def needs(self) -> tuple[Need, ...]:
        """Everything, in the order it is used."""
        return (self.stripper, self.cleaner, self.colour, self.clear)


def _sigma(relative: float) -> float:
    return sqrt(log(1.0 + relative * relative))


def _factor(rng: np.random.Generator, relative: float, shape: tuple[int, ...]) -> Array:
    """Log-normal factors with median 1 and the given relative sd."""
    return np.exp(rng.normal(0.0, 1.0, shape) * _sigma(relative))


def take_off(pieces: Sequence[Piece], assumed: Assumptions | None = None, *, seed: int = 1) -> Takeoff:
    """The forecast for all pieces; refuses an empty survey."""
    if not pieces:
        raise Refusal("There is no piece to work it out for.", remedy="Enter the pieces first.")
    assumed = assumed or Assumptions()
    rng = np.random.default_rng(seed)
    areas = _factor(rng, assumed.area_sd, (DRAWS, 1))
    builds = _factor(rng, assumed.build_sd, (DRAWS, 1))
    lands = (
        np.minimum(assumed.transfer * _factor(rng, assumed.transfer_sd, (DRAWS, 1)), 0.98) / assumed.transfer
    )
    spread = np.array([[sqrt((p.area_sd / p.area) ** 2 + assumed.piece_sd**2) for p in pieces]])
    each = np.exp(rng.normal(0.0, 1.0, (DRAWS, len(pieces))) * np.vectorize(_sigma)(spread))
    sprayed, wiped, clear = (
        _per_piece(pieces, assumed, stage) for stage in (Stage.COLOUR, Stage.WIPED, Stage.CLEAR)
    )
    sessions = ceil(sum(p.area for p in pieces) / assumed.session_area)
    cup = assumed.cup_loss * sessions
    colour_draws = (areas * builds * each * (sprayed / lands + wiped)).sum(axis=1) + cup + assumed.keep_back
    clear_draws = (areas * builds * each * clear / lands).sum(axis=1) + (cup if clear.any() else 0.0)
    on_faces = float(sprayed.sum() * assumed.transfer + wiped.sum() * assumed.wiped_transfer)
    used = float(sprayed.sum() + wiped.sum())
    stripped = sum(p.area for p in pieces if p.strip)
    area = sum(p.area for p in pieces)
    return Takeoff(
        Need("Mixed colour", colour_draws, on_faces, used - on_faces, cup, assumed.keep_back),
        Need(
            "Clear",
            clear_draws,
            float(clear.sum()) * assumed.transfer,
            float(clear.sum()) * (1 - assumed.transfer),
            cup if clear.any() else 0.0,
            0.0,
        ),
        _flat("Stripper", stripped * assumed.strip_ml, areas, _factor(rng, 0.25, (DRAWS, 1))),
        _flat("Cleaner", area * assumed.clean_ml, areas, _factor(rng, 0.20, (DRAWS, 1))),
        area,
        stripped,
        sessions,
        {p.key: float(a + b) for p, a, b in zip(pieces, sprayed[0], wiped[0], strict=True)},
    )


def _per_piece(pieces: Sequence[Piece], assumed: Assumptions, stage: Stage) -> Array:
    solids = assumed.solids_clear if stage is Stage.CLEAR else assumed.solids_colour
    transfer = assumed.wiped_transfer if stage is Stage.WIPED else assumed.transfer
    return np.array(
        [
            [
                sum(
                    coat.face.area * coat.times * wet_ml_per_m2(coat.microns, solids, transfer)
                    for coat in coats_of(piece, assumed)
                    if coat.stage is stage
                )
                for piece in pieces
            ]
        ]
    )


def _flat(name: str, millilitres: float, areas: Array, use: Array) -> Need:
    return Need(name, (millilitres * areas * use)[:, 0], millilitres, 0.0, 0.0, 0.0)
