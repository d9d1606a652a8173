"""A first cup, or one made afresh: the recipe whose expected squared distance from the target is least, by all that is known of the bottles."""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cup import BASE
from hidewright.colour.light.cie import delta_e00, weights, white
from hidewright.colour.light.local import metric
from hidewright.colour.recipes.search import Batch, Sheet, View
from hidewright.refusals import Refusal

from .estimate import Estimate
from .pours import BOTTLE, DOUBT, Table

Array = NDArray[np.float64]
MOST = 4
"""Bottles in a fresh cup at most."""
JUDGED = 120
"""How many sets are judged in full."""
LEAN = 0.4
"""A first cup holds this share of the least pigment that the window asks for: what is poured can only be added to, and a lean cup takes corrections without more base. `to_window` fills it up."""
LEAN_WET = 0.6
"""The same where looks are made wet: the leaner the cup, the more of the base's milk it shows beside the piece."""
TRACE = -7.0
"""ln share of the largest below which a bottle does next to nothing: its smaller set is there too."""


@dataclass(frozen=True, slots=True, eq=False)
class FreshCup:
    """A recipe for a cup: `grams` by bottle, base last; `mean` ΔE00 of the expected colour from the target, `spread` ΔE00 of (cup − target) about it, `load` its pigment share."""

    grams: Mapping[str, float]
    mean: float
    spread: float
    load: float

    @property
    def expected(self) -> float:
        """Root mean square ΔE00 expected."""
        return float(np.hypot(self.mean, self.spread))


def fresh_cup(estimate: Estimate, grams: float, table: Table | None = None) -> FreshCup:
    """The best recipe for a cup of so many grams (base included), leaner than the load window, in whole steps (see `LEAN`)."""
    if not 0.5 <= grams <= 1e6:
        raise Refusal(f"A cup of {grams} g cannot be.", where="cup", remedy="Choose 0.5 g to a tonne.")
    table = table or Table()
    stock = estimate.memory.knowledge.stock
    keys = [lot.key for lot in stock.lots]
    usable = [i for i, key in enumerate(keys) if key not in table.must_not_use]
    if not usable:
        raise Refusal("No bottle may be used.", where="bottles", remedy="Allow at least one.")
    relative = _solved(estimate, usable)
    amounts = _on_steps(estimate, relative, grams, table)
    labs, slopes = estimate.slopes_of(None, amounts)
    m = metric(estimate.target)
    turn = (m @ (slopes - estimate.target_slopes())).reshape(-1, slopes.shape[-1])
    trace = ((turn @ estimate.covariance) * turn).sum(axis=1).reshape(-1, 3).sum(axis=1)
    mean = delta_e00(labs, estimate.target)
    score = mean**2 + DOUBT * trace + 2 * BOTTLE * (amounts > 0).sum(axis=1)
    best = int(np.argmin(score))
    density = np.array([lot.pigment.density for lot in stock.lots])
    chosen = amounts[best]
    parts = {
        keys[i]: round(float(chosen[i] * density[i]), 4)
        for i in sorted(np.flatnonzero(chosen), key=lambda i: -chosen[i])
    }
    rest = grams - sum(parts.values())
    step = table.step(BASE)
    if rest > step / 2:
        parts[BASE] = round(round(rest / step) * step, 4)
    share = np.array([lot.pigment.load for lot in stock.lots])
    volume = float(chosen.sum()) + parts.get(BASE, 0.0) / stock.base.density
    return FreshCup(parts, float(mean[best]), float(np.sqrt(trace[best])), float(chosen @ share) / volume)


def _solved(estimate: Estimate, usable: list[int]) -> Array:
    """Relative mL (n, lots) of the sets whose expected colour comes nearest."""
    known = estimate.knowledge.pigments()
    target = estimate.target - estimate.film
    view = View(weights("D65"), white("D65"), target[None], metric(target)[None])
    sheet = Sheet(estimate.palette.surface)
    found, off = [], []
    most = MOST if len(usable) <= 16 else 3
    for size in range(1, min(most, len(usable)) + 1):
        sets = np.array(list(itertools.combinations(usable, size)), dtype=np.intp)
        batch = Batch([[known[i] for i in row] for row in sets], view, sheet)
        z, cost = batch.solve(np.zeros(sets.shape), 10)
        useful = z.min(axis=1) - z.max(axis=1) > TRACE
        wide = np.zeros((len(sets), len(known)))
        np.put_along_axis(wide, sets, np.exp(z), axis=1)
        found.append(wide[useful])
        off.append(cost[useful])
    every, cost = np.concatenate(found), np.concatenate(off)
    return np.asarray(every[np.argsort(cost)[:JUDGED]])


def _on_steps(estimate: Estimate, relative: Array, grams: float, table: Table) -> Array:
    """mL (n, lots) in whole steps of cups of so many grams."""
    stock = estimate.memory.knowledge.stock
    density = np.array([lot.pigment.density for lot in stock.lots])
    share = np.array([lot.pigment.load for lot in stock.lots])
    step = np.array([table.step(lot.key) for lot in stock.lots])
    load = table.load[0] * (LEAN_WET if table.wet else LEAN)
    pigment, whole = relative @ share, relative.sum(axis=1)
    # a mL of cup holds `load` of pigment; the rest is base
    volume = np.maximum(pigment / load, whole)
    mass = relative @ density + (volume - whole) * stock.base.density
    exact = relative * density * (grams / mass)[:, None]
    steps = np.where(exact > 0, np.maximum(np.round(exact / step), 1.0), 0.0)
    return np.asarray(steps * step / density)
