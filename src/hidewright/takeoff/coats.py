"""Coats: what goes on each face, in what order, and how thick.

Common practice, no source: faces that are sat on get a coat wiped in by hand first, so that colour sits in the grain; then colour is sprayed until the
old colour is hidden; then clear. 20-40 g/m² wet a pass at 15-30 % solids are from memory: starting values that the shop edits.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import ceil

from hidewright.defaults import CLEAR_COATS, COLOUR_COATS, WIPED_IN
from hidewright.refusals import Refusal
from hidewright.survey import Face, Piece

from .build import ml_per_m2


class Stage(StrEnum):
    """What a coat is."""

    WIPED = "wiped-in colour"
    COLOUR = "sprayed colour"
    CLEAR = "clear"


@dataclass(frozen=True, slots=True)
class Assumptions:
    """What the forecast stands on; every figure is the shop's to edit.

    `colour_coats`, `clear_coats` sprayed; `colour_um`, `clear_um`, `wiped_um` dry µm a coat; `solids_colour`, `solids_clear` volume solids of what is
    sprayed; `transfer` share of the spray that lands on the face, `wiped_transfer` of the wiped coat; spreads are relative sd: `area_sd` shared by all pieces
    of a job (one tape, one hand), `build_sd` and `transfer_sd` of the shop against the starting values, `piece_sd` of one piece against the others;
    `cup_loss` mL left in gun, strainer and cup each session, `session_area` m² coated a session; `keep_back` mL of colour kept for touching up.
    `strip_ml`, `clean_ml`, `wipe_ml` mL/m² of stripper, cleaner and wipe-down solvent; `prime_ml` mL/m² of primer on what is not leather.
    """

    colour_coats: int = COLOUR_COATS
    clear_coats: int = CLEAR_COATS
    wiped: bool = WIPED_IN
    colour_um: float = 7.5
    clear_um: float = 6.0
    wiped_um: float = 4.0
    solids_colour: float = 0.277
    solids_clear: float = 0.22
    transfer: float = 0.65
    wiped_transfer: float = 0.85
    area_sd: float = 0.05
    build_sd: float = 0.20
    transfer_sd: float = 0.10
    piece_sd: float = 0.15
    cup_loss: float = 25.0
    session_area: float = 6.0
    keep_back: float = 120.0
    strip_ml: float = 220.0
    clean_ml: float = 60.0
    wipe_ml: float = 30.0
    prime_ml: float = 0.0

    def __post_init__(self) -> None:
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise Refusal(
                    f"{value:g} cannot be right.", where=name, remedy=f"It lies from {low:g} to {high:g}."
                )

    def solids(self, stage: Stage) -> float:
        """Volume solids of what is applied in `stage`."""
        return self.solids_clear if stage is Stage.CLEAR else self.solids_colour

    def lands(self, stage: Stage) -> float:
        """Share that lands on the face in `stage`."""
        return self.wiped_transfer if stage is Stage.WIPED else self.transfer

    def sessions(self, area: float) -> int:
        """Spray sessions for so many m²: at least one."""
        return max(1, ceil(area / self.session_area - 1e-9))


LIMITS = {
    "colour_coats": (0, 12),
    "clear_coats": (0, 8),
    "colour_um": (0.5, 200),
    "clear_um": (0.5, 200),
    "wiped_um": (0.5, 200),
    "solids_colour": (0.02, 1),
    "solids_clear": (0.02, 1),
    "transfer": (0.05, 1),
    "wiped_transfer": (0.05, 1),
    "area_sd": (0, 1),
    "build_sd": (0, 1),
    "transfer_sd": (0, 1),
    "piece_sd": (0, 1),
    "cup_loss": (0, 2000),
    "session_area": (0.1, 1000),
    "keep_back": (0, 100000),
    "strip_ml": (0, 5000),
    "clean_ml": (0, 5000),
    "wipe_ml": (0, 5000),
    "prime_ml": (0, 5000),
}
"""Lowest and highest value of each figure."""


@dataclass(frozen=True, slots=True)
class Coat:
    """One kind of coat on one face: `times` passes, `microns` dry each."""

    piece: str
    face: Face
    stage: Stage
    times: int
    microns: float

    def millilitres(self, assumed: Assumptions) -> float:
        """mL of mix that all its passes take, losses on the way to the face included."""
        wet = ml_per_m2(self.microns, assumed.solids(self.stage), assumed.lands(self.stage))
        return self.face.area * self.times * wet


def coats_of(piece: Piece, assumed: Assumptions) -> Iterator[Coat]:
    """The coats of a piece, in the order they go on: wiped in where people sit, sprayed colour, clear."""
    wiped = {face.name: face for face in piece.wiped_faces} if assumed.wiped else {}
    for face in piece.faces:
        if face.name in wiped:
            yield Coat(piece.key, wiped[face.name], Stage.WIPED, 1, assumed.wiped_um)
        if assumed.colour_coats:
            yield Coat(piece.key, face, Stage.COLOUR, assumed.colour_coats, assumed.colour_um)
        if assumed.clear_coats:
            yield Coat(piece.key, face, Stage.CLEAR, assumed.clear_coats, assumed.clear_um)
