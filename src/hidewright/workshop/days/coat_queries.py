"""The coats that the days' acts put on: which stage, on which side, and what share of a piece's coats that is."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from hidewright.charts.sessions import kind_of
from hidewright.planning.problem.model import COATS, Kind, piece_of
from hidewright.survey import Piece
from hidewright.takeoff.coats import Assumptions, Stage
from hidewright.workshop.days.models import Redo
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.days.request_queries import redos
from hidewright.workshop.pieces.colour_queries import job_colours
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.pieces.zone_queries import says_begun
from hidewright.workshop.quantities.coat_sources import Shares, says_coats
from hidewright.workshop.quantities.queries import assumptions
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

STAGE_OF: Mapping[Kind, Stage] = {
    Kind.WIPE_IN: Stage.WIPED,
    Kind.SPRAY: Stage.COLOUR,
    Kind.SECOND: Stage.COLOUR,
    Kind.CLEAR: Stage.CLEAR,
}
"""The stage of the litres that each kind of work is a coat of."""


@dataclass(frozen=True, slots=True)
class CoatAct:
    """An act that puts a coat on: `share` 0..1 of the stage's coats on its piece; `number` of the piece's colour; `again` a coat beyond the usual ones."""

    key: str
    piece: str
    number: int
    stage: Stage
    share: float
    again: bool


@remembered
def _coated(job: Job) -> dict[str, tuple[Piece, int, Assumptions]]:
    """Piece → its shape, the number of its colour, and the figures that colour stands on."""
    return {
        piece.key: (piece, colour.number, assumed)
        for colour in job_colours(job)
        for assumed in [assumptions(job, colour.number)]
        for piece in pieces(job, colour.number)
    }


def coat_acts(job: Job, keys: Iterable[str]) -> list[CoatAct]:
    """Those of these acts that put colour or clear on a piece of the job, in the given order."""
    known = _coated(job)
    found = []
    for key in keys:
        kind = kind_of(key)
        stage = STAGE_OF.get(kind) if kind is not None else None
        one = known.get(piece_of(key))
        if stage is None or one is None:
            continue
        piece, number, assumed = one
        pass_key = key.rsplit("/", 2)[1]
        again = pass_key.startswith("redo")
        share = _share(piece, _coated_in(piece, pass_key), stage, assumed)
        if share > 0:
            found.append(CoatAct(key, piece.key, number, stage, share, again))
    return found


def _coated_in(piece: Piece, pass_key: str) -> str:
    """The pass of the side or zone that is coated; what is done again is done on the one that was coated last."""
    return piece.passes[-1] if pass_key.startswith("redo") else pass_key


def _share(piece: Piece, pass_key: str, stage: Stage, assumed: Assumptions) -> float:
    """The share of a stage's coats that one of them on one side or zone is, by area."""
    coats = {Stage.COLOUR: assumed.colour_coats, Stage.CLEAR: assumed.clear_coats, Stage.WIPED: 1}[stage]
    return piece.pass_share(pass_key, sat_on=stage is Stage.WIPED) / max(coats, 1)


@says_coats
def coats_by_taps(job: Job) -> Shares | None:
    """(piece, stage) → share of its coats that is on by the taps; None for a job on which no work was tapped.

    What is to be done again and is not done yet is taken off: it is still to come.
    """
    stands = standings(job)
    done = [key for key, standing in stands.items() if standing.done]
    if not done:
        return None
    found: dict[tuple[str, str], float] = {}
    for act in coat_acts(job, done):
        if not act.again:
            mark = (act.piece, act.stage.value)
            found[mark] = min(1.0, found.get(mark, 0.0) + act.share)
    for (piece, stage), share in list(found.items()):
        if stage == Stage.COLOUR.value and share > 0.999:
            found[piece, stage] = 1.0
            found[piece, Stage.WIPED.value] = 1.0
    for act in coat_acts(job, pending_again(redos(job), set(done))):
        mark = (act.piece, act.stage.value)
        found[mark] = found.get(mark, 0.0) - act.share
    return found


@says_begun
def coated_pieces(job: Job) -> frozenset[str]:
    """The pieces on which a coat is tapped done."""
    done = (key for key, standing in standings(job).items() if standing.done)
    return frozenset(piece_of(key) for key in done if kind_of(key) in COATS)


def pending_again(asked: Iterable[Redo], done: set[str]) -> list[str]:
    """The keys of the acts that pieces go through again and that are not done yet, as the planner will name them."""
    times: dict[str, int] = {}
    found = []
    for row in asked:
        times[row.piece] = times.get(row.piece, 0) + 1
        keys = [f"{row.piece}/redo{times[row.piece]}/{kind}" for kind in row.kinds]
        found += [key for key in keys if key not in done]
    return found
