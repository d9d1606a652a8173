"""Enough? How the colour in hand stands against the coats that are still to come, and what to mix: the one place that decides it.

Mixing for certainty at once leaves much over, since at first the yield is hardly known; mixing too little risks a re-match. So: mix to a little above
the middle at first, watch what the first pieces take, and mix the rest once it is known well. Each look at the odds is another chance to cry wolf, so
that a warning wants strong odds against while there are looks to come, and little more than even odds at the last look before half of the coats are on.
Thresholds are the tool's own, checked by simulation in tests/bench/bench_takeoff_odds.py.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, log
from statistics import NormalDist

from hidewright.survey import Piece

from .coats import Assumptions, Stage
from .howmuch import COLOUR
from .odds import Spread
from .yields import Belief, JobModel, Use, items_of, starting_belief

SURE = 0.975
"""Odds that a mix which is to be the last one is sized for."""
OVER = 1.12
"""The first mix goes no further above the middle of the forecast than this."""
KNOWN = 0.5
"""Share of the coats after which the rest is known well enough to mix it all."""
EARLY, LATE = 0.2, 0.7
"""“Short” is said below these odds of having enough: while there are looks to come before half of the coats are on, and from the last such look on."""
STEP = 10.0
"""What is mixed is rounded up to so many mL."""


class Status(StrEnum):
    """How it stands; while no colour was sprayed yet, what lacks is not short but still to be mixed."""

    TO_MIX = "to mix"
    ENOUGH = "enough"
    WATCH = "watch it"
    SHORT = "short"
    DONE = "done"


class Why(StrEnum):
    """What the amount to mix follows from."""

    DONE = "all coats are on"
    SURE = "what is in hand suffices"
    FIRST = "nothing is known of this job yet"
    NEXT = "what is in hand may not carry the next session"
    REST = "the rest is known well enough to mix all of it"
    WAIT = "what is in hand carries the next session"


@dataclass(frozen=True, slots=True)
class Standing:
    """How a job stands; all in mL.

    `used` gone so far; `still` what the rest will take, losses in gun and cup and what is kept back included; `in_hand` what is there; `odds` that it suffices;
    `share_done` of the work, 0..1; `mix` what to mix now (0: nothing), in whole `STEP`s, and `why`; `whole` what would make it sure at once.
    """

    used: float
    still: Spread
    in_hand: float
    odds: float
    share_done: float
    sessions_left: int
    status: Status
    mix: float
    whole: float
    why: Why

    @property
    def after(self) -> float:
        """The odds of having enough once `mix` is there, 0..1."""
        return self.still.odds_of(self.in_hand + self.mix)

    @property
    def short_by(self) -> float:
        """What will be lacking at the middle of the forecast; 0 when nothing will."""
        return max(0.0, self.still.at(0.5) - self.in_hand)

    @property
    def total(self) -> Spread:
        """What the whole job takes, as known now."""
        return self.still.plus(self.used)


def model_of(
    pieces: Sequence[Piece], assumed: Assumptions, belief: Belief | None = None, uses: Iterable[Use] = ()
) -> JobModel:
    """The job's model with everything seen so far."""
    model = JobModel(items_of(pieces, assumed), assumed, belief or starting_belief(assumed))
    for use in uses:
        model.see(use)
    return model


def rounded_up(millilitres: float) -> float:
    """What is mixed of it, in whole `STEP`s; nothing of what is below nothing."""
    return ceil(max(millilitres, 0.0) / STEP - 1e-9) * STEP


def first_mix(whole: Spread) -> float:
    """How much to mix at first: up to `OVER` times the middle, never beyond `SURE`."""
    if not whole.sigma:
        return whole.at(0.5)
    odds = min(SURE, NormalDist().cdf(log(OVER) / whole.sigma))
    return whole.at(max(odds, 0.5))


def standing(
    model: JobModel,
    areas: dict[str, float],
    in_hand: float,
    used: float = 0.0,
    stages: Sequence[Stage] = COLOUR,
) -> Standing:
    """How the work stands. `areas` m² by piece key; `used` mL so far."""
    assumed = model.assumed
    shares = {i.piece: min(1.0, float(d)) for i, d in zip(model.items, model.done, strict=True) if i.stage in stages and i.stage is not Stage.WIPED}  # fmt: skip
    area_left = sum(areas.get(piece, 0.0) * (1 - done) for piece, done in shares.items())
    sessions = ceil(area_left / assumed.session_area - 1e-9)
    keep = assumed.keep_back if Stage.COLOUR in stages else 0.0
    still = model.still(stages).plus(sessions * assumed.cup_loss + keep)
    done = _share_done(model, stages)
    odds = still.odds_of(in_hand)
    why, mix = _decide(model, still, stages, in_hand, odds, done, sessions)
    last_look = done > 0 and done + 1 / assumed.sessions(sum(areas.values())) > KNOWN - 1e-6
    return Standing(
        used,
        still,
        in_hand,
        odds,
        done,
        sessions,
        _status(why, odds, last_look=last_look, begun=done > 0 or used > 0),
        rounded_up(mix),
        max(0.0, still.at(SURE) - in_hand),
        why,
    )


def _share_done(model: JobModel, stages: Sequence[Stage]) -> float:
    base = [(i.base, float(d)) for i, d in zip(model.items, model.done, strict=True) if i.stage in stages]
    whole = sum(b for b, _ in base)
    return sum(b * d for b, d in base) / whole if whole else 1.0


def _status(why: Why, odds: float, *, last_look: bool, begun: bool) -> Status:
    if why is Why.DONE:
        return Status.DONE
    if why is Why.SURE:
        return Status.ENOUGH
    if odds >= (LATE if last_look else EARLY):
        return Status.WATCH
    return Status.SHORT if begun else Status.TO_MIX


def _decide(
    model: JobModel,
    still: Spread,
    stages: Sequence[Stage],
    in_hand: float,
    odds: float,
    done: float,
    sessions: int,
) -> tuple[Why, float]:
    """What to mix now, mL, and why."""
    if not model.still(stages).median:
        return Why.DONE, 0.0
    if odds >= SURE:
        return Why.SURE, 0.0
    if done >= KNOWN or still.sigma < log(OVER) / 2:
        return Why.REST, still.at(SURE) - in_hand
    reach = still.scaled(min(1.0, 1.5 / max(sessions, 1))).at(SURE)
    more = first_mix(still) - in_hand
    if in_hand >= reach or more <= 0:
        return Why.WAIT, 0.0
    return (Why.NEXT if in_hand > 0 or model.entries else Why.FIRST), more
