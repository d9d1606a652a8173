"""Yield: what a coat really takes against the forecast, learned job by job.

The logarithm of (used / forecast) of one stage on one piece is modelled as normal:

    shop + stage + class of piece + job + job's stage + piece's area + piece's stage

`shop`, `stage` and `class` stay with the shop and are learned (`Belief`); the rest is new in each job. Observed is what a set of pieces took together: the
log of a weighted sum of log-normal factors, taken to second order about the present estimate (the extended Kalman update with its mean correction:
Jazwinski 1970, "Stochastic Processes and Filtering Theory", ch. 9). Starting spreads are the assumptions' own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal
from hidewright.survey import SHAPES, Piece

from .coats import Assumptions, Stage, coats_of
from .odds import Spread, sigma_of, sum_of

Array = NDArray[np.float64]

CLASS_SD = 0.06
"""Relative sd of one class of piece (cushion, roll …) against the others in what it takes: a guess to start with, learned from."""
JOB_SD = 0.05
"""Relative sd of a job's sprayer, gun set-up and weather against the shop's own middle: a guess."""
READ_SD = 0.02
"""Relative sd of a reading of what was used."""
READ_ML = 4.0
"""sd in mL of a reading of what was used: a mark on a cup."""

NAMES = ("shop", *(f"stage {s.value}" for s in Stage), *(f"class {key}" for key in SHAPES))
"""What stays with the shop, in the order of `Belief.mean`."""


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """What the shop has learned: `mean` (n,) and `covariance` (n, n) of the lasting log factors `NAMES`; from so many `jobs` and `entries`."""

    mean: Array
    covariance: Array
    jobs: int = 0
    entries: int = 0

    def factor(self, stage: Stage, shape: str) -> Spread:
        """What a coat takes against the starting values, as a factor with its spread."""
        row = _lasting(stage, shape)
        return sum_of(np.array([1.0]), np.array([row @ self.mean]), np.array([[row @ self.covariance @ row]]))

    def to_data(self) -> dict[str, object]:
        """As plain data; `belief_from_data` takes it back."""
        return {
            "names": list(NAMES),
            "mean": self.mean.tolist(),
            "covariance": self.covariance.tolist(),
            "jobs": self.jobs,
            "entries": self.entries,
        }


def belief_from_data(data: Mapping[str, object]) -> Belief:
    """The belief that `Belief.to_data` gave; refuses one of other names."""
    if data.get("names") != list(NAMES):
        raise Refusal(
            "What was learned belongs to another version.", remedy="Work it out again from the log."
        )
    mean, covariance = np.array(data["mean"], np.float64), np.array(data["covariance"], np.float64)
    return Belief(mean, covariance, int(str(data["jobs"])), int(str(data["entries"])))


def starting_belief(assumed: Assumptions | None = None) -> Belief:
    """The belief of a new shop: the spreads of the assumptions, half of the build's variance common to all stages."""
    assumed = assumed or Assumptions()
    build, transfer = sigma_of(assumed.build_sd) ** 2, sigma_of(assumed.transfer_sd) ** 2
    variances = [
        build / 2,
        *([build / 2 + transfer] * len(Stage)),
        *([sigma_of(CLASS_SD) ** 2] * len(SHAPES)),
    ]
    return Belief(np.zeros(len(NAMES)), np.diag(np.array(variances)))


def _lasting(stage: Stage, shape: str) -> Array:
    row = np.zeros(len(NAMES))
    row[0] = 1.0
    row[NAMES.index(f"stage {stage.value}")] = 1.0
    row[NAMES.index(f"class {shape}")] = 1.0
    return row


@dataclass(frozen=True, slots=True)
class Use:
    """What a set of pieces took in one stage: `millilitres` gone from the jar, `loss` mL of them left in gun, strainer and cup.

    `done` says how much of the stage each piece got: 1 for all its coats, 0.5 for one of two.
    """

    stage: Stage
    done: Mapping[str, float]
    millilitres: float
    loss: float = 25.0

    def __post_init__(self) -> None:
        if not self.done:
            raise Refusal("Say which pieces it went on.", where="pieces", remedy="Choose at least one.")
        if not all(0 < share <= 1 for share in self.done.values()):
            raise Refusal("A piece gets none to all of its coats.", where="pieces")
        if not 0 < self.millilitres < 1e6:
            raise Refusal(
                f"{self.millilitres:g} mL cannot have gone on.",
                where="used",
                remedy="Write what left the jar.",
            )
        if not 0 <= self.loss < 1e6:
            raise Refusal("What stays in gun and cup is not below nothing.", where="loss")


@dataclass(frozen=True, slots=True)
class Item:
    """One stage on one piece: `base` mL by the starting values."""

    piece: str
    shape: str
    stage: Stage
    base: float
    own_sd: float
    """Relative sd of the piece's area."""


def items_of(pieces: Sequence[Piece], assumed: Assumptions) -> tuple[Item, ...]:
    """Every stage on every piece, in the order of the pieces."""
    made = []
    for piece in pieces:
        coats = list(coats_of(piece, assumed))
        for stage in Stage:
            base = sum(coat.millilitres(assumed) for coat in coats if coat.stage is stage)
            if base:
                made.append(Item(piece.key, piece.shape, stage, base, piece.area_sd / piece.area))
    return tuple(made)


@dataclass(slots=True, eq=False)
class JobModel:
    """All items of one job and what has been seen of them; state: the lasting factors, then one factor an item."""

    items: tuple[Item, ...]
    assumed: Assumptions
    belief: Belief
    mean: Array = field(init=False)
    covariance: Array = field(init=False)
    done: Array = field(init=False)
    """Share of each item that is done, (items,)."""
    entries: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        rows = np.array([_lasting(i.stage, i.shape) for i in self.items]).reshape(len(self.items), len(NAMES))
        lasting = self.belief.covariance
        cross = rows @ lasting
        own = cross @ rows.T + self._own_covariance()
        self.mean = np.concatenate([self.belief.mean, rows @ self.belief.mean])
        self.covariance = np.block([[lasting, cross.T], [cross, own]])
        self.done = np.zeros(len(self.items))

    def _own_covariance(self) -> Array:
        """What is new in this job: shared by all, by a stage, by a piece, and of the item alone."""
        stages = np.array([list(Stage).index(i.stage) for i in self.items])
        names = {key: n for n, key in enumerate(dict.fromkeys(i.piece for i in self.items))}
        places = np.array([names[i.piece] for i in self.items])
        areas = np.array([sigma_of(i.own_sd) for i in self.items])
        made: Array = (
            sigma_of(self.assumed.area_sd) ** 2
            + sigma_of(JOB_SD) ** 2 * (stages[:, None] == stages)
            + np.outer(areas, areas) * (places[:, None] == places)
            + sigma_of(self.assumed.piece_sd) ** 2 * np.eye(len(self.items))
        )
        return made

    def see(self, use: Use) -> None:
        """Take in what a set of pieces took; refuses pieces that are not there or that have had all their coats."""
        shares = self._shares(use)
        weights = np.array([item.base for item in self.items]) * shares
        net = use.millilitres - use.loss
        if net < 0.05 * weights.sum():
            raise Refusal(
                f"{use.millilitres:.0f} mL is hardly more than what stays in gun and cup.",
                where="used",
                remedy="Check the figure and the pieces.",
            )
        self._update(weights, net)
        self.done = np.minimum(self.done + shares, 1.0)
        self.entries += 1

    def _shares(self, use: Use) -> Array:
        shares = np.array([use.done.get(i.piece, 0.0) if i.stage is use.stage else 0.0 for i in self.items])
        known = {i.piece for i in self.items if i.stage is use.stage}
        strange = [key for key in use.done if key not in known]
        if strange:
            raise Refusal(
                f"{', '.join(strange[:3])} get{'s' if len(strange) == 1 else ''} no {use.stage.value} in this job.",
                where="pieces",
            )
        over = [
            i.piece
            for i, have, more in zip(self.items, self.done, shares, strict=True)
            if have + more > 1.001
        ]
        if over:
            raise Refusal(
                f"{', '.join(over[:3])} would get more {use.stage.value} than the coats that are counted on.",
                where="pieces",
                remedy="Take them out, or raise the number of coats first.",
            )
        return shares

    def _update(self, weights: Array, net: float) -> None:
        start = len(NAMES)
        noise = READ_SD**2 + (READ_ML / net) ** 2
        prior_mean, prior = self.mean, self.covariance
        mean = prior_mean
        for _ in range(3):
            eta = mean[start:]
            sizes = weights * np.exp(eta)
            grad = sizes / sizes.sum()
            row = np.concatenate([np.zeros(start), grad])
            spread = prior[start:, start:]
            bend = 0.5 * (grad @ np.diag(spread) - grad @ spread @ grad)
            expected = np.log(sizes.sum()) + grad @ (prior_mean[start:] - eta) + bend
            lean = prior @ row
            total = float(row @ lean) + noise
            mean = prior_mean + lean * ((np.log(net) - expected) / total)
        self.mean = mean
        self.covariance = prior - np.outer(lean, lean) / total
        self.covariance = (self.covariance + self.covariance.T) / 2

    def expected(self, number: int) -> float:
        """mL that item `number` takes in all its coats, at the middle of what is known."""
        return float(self.items[number].base * np.exp(self.mean[len(NAMES) + number]))

    def still(self, stages: Sequence[Stage]) -> Spread:
        """What the coats of these stages that are not done yet will take, losses in gun and cup left out."""
        start = len(NAMES)
        wanted = np.array([i.stage in stages for i in self.items])
        sizes = np.array([i.base for i in self.items]) * (1 - self.done) * wanted
        return sum_of(sizes, self.mean[start:], self.covariance[start:, start:])

    def learned(self) -> Belief:
        """What stays with the shop after this job."""
        n = len(NAMES)
        jobs = self.belief.jobs + (1 if self.entries else 0)
        return Belief(
            self.mean[:n].copy(), self.covariance[:n, :n].copy(), jobs, self.belief.entries + self.entries
        )
