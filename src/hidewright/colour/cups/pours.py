"""What to pour next, by the expected squared distance of the cup from the target.

Every set of one to three bottles is solved side by side for the mean (Levenberg-Marquardt in the logarithms of the amounts, exact slopes); the best go on, whole and in part, on
the grid of drops or balance steps; and each is judged by

    (mean ΔE00)² + .6 × trace of the covariance of (cup − target) + 2 × growth + .05 a bottle

so that what cup and target have in common cancels, and a dose of a bottle that is hardly known is held back. The numbers are conventions of this tool that worked in simulated shops.
"""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cup import BASE, Cup
from hidewright.colour.light.cie import delta_e00
from hidewright.colour.light.local import metric
from hidewright.refusals import Refusal

from .estimate import Estimate

Array = NDArray[np.float64]
DOUBT = 0.6
"""What the trace of the covariance counts beside the squared mean."""
GROWTH = 2.0
"""What doubling the cup counts, in squared ΔE00."""
BOTTLE, NEW_BOTTLE = 0.05, 0.05
"""What each bottle to pour counts, and what one that is not in the cup yet counts beside."""
DOSES = (1.0, 0.85, 0.7, 0.55, 0.4)
"""Shares of the solved amounts that are judged."""
SMALL = 3e-3
"""Share of the cup at which the search for amounts starts."""
SETS, JUDGED = 40, 64
"""How many sets go on to the grid, and how many amounts of each share in `DOSES` are judged in full."""


ANY_VESSEL = 1e6
"""mL that a vessel holds of which nothing is said."""


@dataclass(frozen=True, slots=True)
class Table:
    """What the person works with: grams of a step of the balance or of a drop (`step_g`, or by bottle in `steps`), the load window, the vessel's mL, and bottles to leave alone."""

    step_g: float = 0.05
    steps: Mapping[str, float] = field(default_factory=dict)
    load: tuple[float, float] = (0.16, 0.20)
    vessel_ml: float = ANY_VESSEL
    must_not_use: frozenset[str] = frozenset()
    most: int = 3
    wet: bool = False
    """Looks are made wet: a first cup is then less lean, since a lean one shows more of the base's milk."""

    def __post_init__(self) -> None:
        if not all(1e-4 <= step <= 1000.0 for step in (self.step_g, *self.steps.values())):
            raise Refusal("A step of the balance or a drop is 0.0001 to 1000 g.", where="steps")
        if len(self.load) != 2 or not 0.0 < self.load[0] <= self.load[1] < 1.0:
            raise Refusal(
                "The window of pigment cannot be.", where="load", remedy="Write it like 16 % to 20 %."
            )
        if not 0.1 <= self.vessel_ml <= 1e9:
            raise Refusal("A vessel holds 0.1 mL or more.", where="vessel")
        if not 1 <= self.most <= 3:
            raise Refusal("One to three bottles can be poured at once.", where="additions")

    def step(self, key: str) -> float:
        """Grams of one step of a bottle (or of the base, under its key)."""
        return self.steps.get(key, self.step_g)


@dataclass(frozen=True, slots=True, eq=False)
class NextPour:
    """One way to go on: `grams` by bottle in the order to pour, base last; what is expected of it.

    `mean` ΔE00 of the expected colour from the target; `spread` ΔE00 (root mean square) of (cup − target) about that; `growth` the share by which the cup grows; `load` its pigment share
    after; `score` what it was chosen by; `whole` False when the dose is held back.
    """

    grams: Mapping[str, float]
    mean: float
    spread: float
    growth: float
    load: float
    score: float
    whole: bool = True

    @property
    def expected(self) -> float:
        """Root mean square ΔE00 expected after it."""
        return float(np.hypot(self.mean, self.spread))


class Pourer:
    """The cup at hand and what each bottle would bring; amounts are mL by column of the stock's lots."""

    def __init__(self, estimate: Estimate, cup: Cup, table: Table, thrift: float = 1.0) -> None:
        self.growth_price, self.bottle_price, self.new_price = (
            thrift * GROWTH,
            thrift * BOTTLE,
            thrift * NEW_BOTTLE,
        )
        self.estimate, self.cup, self.table = estimate, cup, table
        stock = estimate.memory.knowledge.stock
        self.base = stock.base
        self.lots = [lot.key for lot in stock.lots]
        pigments = [lot.pigment for lot in stock.lots]
        self.density = np.array([p.density for p in pigments])
        self.share = np.array([p.load for p in pigments])
        self.step = np.array([table.step(key) for key in self.lots]) / self.density
        self.usable = [i for i, key in enumerate(self.lots) if key not in table.must_not_use]
        if not self.usable:
            raise Refusal("Nothing may be added.", where="additions", remedy="Allow at least one bottle.")
        self.held, self.base_ml = estimate.amounts(cup)
        self.total = float(self.held.sum()) + self.base_ml
        self.aim = estimate.target
        self.plain = self.aim - estimate.film
        self.metric = metric(self.aim)
        first = [stock.where(number).start for number in range(len(self.lots))]
        own = np.array([stock.spread_of(number)[0] for number in range(len(self.lots))])
        self.strength = own**2 * np.diag(estimate.covariance)[first]

    def base_for(self, amounts: Array) -> Array:
        """mL of base to add, (n,), so that the pigment share does not leave the window at its upper end."""
        pigment = (self.held + amounts) @ self.share
        upper = max(self.table.load[1], float(self.held @ self.share) / self.total)
        return np.maximum(pigment / upper - self.total - amounts.sum(axis=1), 0.0)

    def growth(self, amounts: Array) -> Array:
        """The share by which the cup grows, base included, (n,)."""
        return np.asarray((amounts.sum(axis=1) + self.base_for(amounts)) / self.total)

    def solved(self, sets: NDArray[np.intp], pull: float, rounds: int = 10) -> Array:
        """Amounts (n, size) for sets of columns (n, size) that bring the expected colour nearest; `pull` is the price of volume in squared ΔE00 a cup."""
        z = np.full(sets.shape, np.log(SMALL * self.total))
        damp = np.full(len(sets), 1e-2)
        miss, jac = self._linearised(z, sets, pull)
        cost = (miss**2).sum(axis=1)
        eye = np.eye(sets.shape[1])
        for _ in range(rounds):
            turned = np.swapaxes(jac, 1, 2)
            normal = turned @ jac
            level = np.einsum("nii->n", normal)[:, None, None] + 1e-6
            slope = (turned @ miss[..., None])[..., 0]
            step = np.linalg.solve(normal + damp[:, None, None] * level * eye, slope[..., None])[..., 0]
            trial = np.clip(
                z - np.clip(step, -2.0, 2.0), -14.0 + np.log(self.total), 1.0 + np.log(self.total)
            )
            new_miss, new_jac = self._linearised(trial, sets, pull)
            new = (new_miss**2).sum(axis=1)
            better = new < cost
            z = np.where(better[:, None], trial, z)
            miss = np.where(better[:, None], new_miss, miss)
            jac = np.where(better[:, None, None], new_jac, jac)
            cost = np.where(better, new, cost)
            damp = np.clip(np.where(better, damp * 0.25, damp * 5), 1e-8, 1e4)
        return np.exp(z)

    def _linearised(self, z: Array, sets: NDArray[np.intp], pull: float) -> tuple[Array, Array]:
        own = np.exp(z)
        amounts = self._wide(own, sets) + self.held
        labs, by_amount = self.estimate.palette.by_amount(amounts)
        turned = np.take_along_axis(by_amount, sets[:, None, :], axis=2) * own[:, None, :]
        root = np.sqrt(pull * own / self.total)
        miss = np.concatenate([(labs - self.plain) @ self.metric.T, root], axis=1)
        jac = np.concatenate([self.metric @ turned, 0.5 * root[:, :, None] * np.eye(z.shape[1])], axis=1)
        return miss, jac

    def _wide(self, own: Array, sets: NDArray[np.intp]) -> Array:
        out = np.zeros((len(sets), len(self.lots)))
        np.put_along_axis(out, sets, own, axis=1)
        return out

    def candidates(self) -> tuple[Array, Array]:
        """Amounts (n, lots) on the grid that are worth judging, and which share of its dose each is (n,)."""
        found: list[tuple[Array, float]] = []
        for size in range(1, min(self.table.most, len(self.usable)) + 1):
            sets = np.array(list(itertools.combinations(self.usable, size)), dtype=np.intp)
            own = self.solved(sets, self.growth_price)
            wide = self._wide(own, sets)
            best = np.argsort(self._rough(wide))[: SETS if size > 1 else len(sets)]
            for dose in DOSES:
                found.append((self._on_grid(own[best] * dose, sets[best]), dose))
        amounts = np.concatenate([a for a, _ in found])
        share = np.concatenate([np.full(len(a), dose) for a, dose in found])
        amounts, first = np.unique(amounts, axis=0, return_index=True)
        share = share[first]
        fits = (amounts.sum(axis=1) > 0) & (self.total * (1 + self.growth(amounts)) <= self.table.vessel_ml)
        return amounts[fits], share[fits]

    def _on_grid(self, own: Array, sets: NDArray[np.intp]) -> Array:
        """Every neighbour (n × corners, lots) of these amounts on the grid of steps."""
        step = self.step[sets]
        down = np.floor(own / step)
        corners = np.array(list(itertools.product((0.0, 1.0), repeat=sets.shape[1])))
        grid = ((down[:, None, :] + corners) * step[:, None, :]).reshape(-1, sets.shape[1])
        return self._wide(grid, np.repeat(sets, len(corners), axis=0))

    def _bottles(self, amounts: Array) -> Array:
        """What the number of bottles counts, (n,)."""
        used = amounts > 0
        new = used & (self.held <= 0)
        return np.asarray(self.bottle_price * used.sum(axis=1) + self.new_price * new.sum(axis=1))

    def _rough(self, amounts: Array) -> Array:
        """The score (n,) without what the cup's own covariance adds: of the spread only that of each dose by its bottle's strength."""
        labs, by_amount = self.estimate.palette.by_amount(self.held + amounts)
        shift = np.square(self.metric @ by_amount).sum(axis=1) * np.square(amounts)
        prices = self.growth_price * self.growth(amounts) + self._bottles(amounts)
        return np.asarray(delta_e00(labs, self.plain) ** 2 + DOUBT * shift @ self.strength + prices)

    def judged(self, amounts: Array) -> tuple[Array, Array, Array]:
        """Mean ΔE00 (n,), trace of the covariance of (cup − target) in squared ΔE00 (n,), and the score (n,)."""
        labs, slopes = self.estimate.slopes_of(self.cup, self.held + amounts)
        turn = self.metric @ (slopes - self.estimate.target_slopes())
        flat = turn.reshape(-1, turn.shape[-1])
        trace = ((flat @ self.estimate.covariance) * flat).sum(axis=1).reshape(-1, 3).sum(axis=1)
        mean = delta_e00(labs, self.aim)
        score = mean**2 + DOUBT * trace + self.growth_price * self.growth(amounts) + self._bottles(amounts)
        return mean, trace, score

    def options(self, keep: int = 3, allowed: "Allowed | None" = None) -> tuple[NextPour, ...]:
        """The best ways to go on, best first, each with another set of bottles."""
        amounts, share = self.candidates()
        if allowed is not None:
            fits = np.array(
                [allowed(row > 0, bool(dose == 1.0)) for row, dose in zip(amounts, share, strict=True)],
                dtype=bool,
            )
            amounts, share = amounts[fits], share[fits]
        if not len(amounts):
            return ()
        # a held-back dose loses on the mean and wins on the spread: each share is judged among its own
        order = np.argsort(self._rough(amounts))
        some = np.concatenate([order[share[order] == dose][:JUDGED] for dose in DOSES])
        amounts, whole = amounts[some], share[some] == 1.0
        mean, trace, score = self.judged(amounts)
        chosen: dict[frozenset[int], NextPour] = {}
        for i in np.argsort(score):
            key = frozenset(np.flatnonzero(amounts[i]).tolist())
            if key not in chosen:
                chosen[key] = self._told(
                    amounts[i], float(mean[i]), float(trace[i]), float(score[i]), bool(whole[i])
                )
            if len(chosen) == keep:
                break
        return tuple(chosen.values())

    def now(self) -> NextPour:
        """The cup as it is."""
        mean, trace, score = self.judged(np.zeros((1, len(self.lots))))
        return NextPour(
            {},
            float(mean[0]),
            float(np.sqrt(trace[0])),
            0.0,
            float(self.held @ self.share) / self.total,
            float(score[0]),
        )

    def _told(self, amounts: Array, mean: float, trace: float, score: float, whole: bool) -> NextPour:
        used = sorted(np.flatnonzero(amounts), key=lambda i: -amounts[i])
        grams = {self.lots[i]: round(float(amounts[i] * self.density[i]), 4) for i in used}
        base = float(self.base_for(amounts[None])[0])
        if base > 0:
            step = self.table.step(BASE)
            grams[BASE] = round(float(np.ceil(base * self.base.density / step) * step), 4)
            base = grams[BASE] / self.base.density
        added = float(amounts.sum()) + base
        load = float((self.held + amounts) @ self.share) / (self.total + added)
        return NextPour(grams, mean, float(np.sqrt(trace)), added / self.total, load, score, whole)


class Allowed:
    """Which additions may be advised: never a full dose of three new bottles on vague words alone."""

    def __init__(self, held: Array, *, vague: bool) -> None:
        self.held, self.vague = held, vague

    def __call__(self, used: NDArray[np.bool_], whole: bool) -> bool:
        """True where the addition may be advised."""
        new = int(np.count_nonzero(used & (self.held <= 0)))
        return not (self.vague and whole and new >= 3)


def next_pours(
    estimate: Estimate, cup: Cup, table: Table | None = None, keep: int = 3, *, vague: bool = False
) -> tuple[NextPour, ...]:
    """The best ways to go on with a cup, best first; empty when nothing fits the vessel."""
    pourer = Pourer(estimate, cup, table or Table())
    return pourer.options(keep, Allowed(pourer.held, vague=vague))
