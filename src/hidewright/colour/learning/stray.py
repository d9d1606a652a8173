"""How far a shop's bottles stray from their drawdowns: the scale of the prior, fitted to the shop's own cups.

The log likelihood of a prior is built up from how it forecast each cup before that cup was taken in (prediction errors; A. C. Harvey, Forecasting, Structural Time Series Models and the Kalman Filter, 1989, §3.4). Its
largest value over ln strength and ln shape, held to the usual ones by a normal prior of their own (sd `DOUBT`), is looked for by Nelder and Mead's simplex (J. A. Nelder, R. Mead, Comput. J. 7 (1965) 308): few cups leave
the prior where it was, many move it as far as they tell, to any value between and beyond "usual" and "rough".
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .cup import Cup
from .cupmodel import CupModel, noise_of, stacked
from .learn import Knowledge, values_of, with_pours
from .lots import USUAL, Prior, Stock

Array = NDArray[np.float64]
SET_ASIDE = 1000.0
"""What a cup with a reading that had to be set aside takes off the log likelihood of a prior."""
DOUBT = 0.7
"""sd of ln strength and of ln shape about the usual ones, before any cup was read: a factor of two either way (convention of this tool)."""
LEAST, MOST = 0.25, 8.0
"""How many times less and more than usual bottles are taken to stray at the most (convention of this tool)."""
WIDER = 1.25
"""By how much the likeliest scales are widened: a dozen bottles leave them in doubt by about a quarter, and too narrow costs more than too wide (convention of this tool)."""
TRIES = 26
"""How many priors are tried."""


def evidence(stock: Stock, cups: Iterable[Cup]) -> float:
    """How well a stock's prior forecast the cups, as a log likelihood (the sum over cups of that of their readings before they were taken in)."""
    known, total = Knowledge.fresh(stock), 0.0
    for cup in cups:
        sights = [s for s in cup.sights if not s.struck]
        opened = known.open(cup)
        aside = {o.sight for o in opened.odd if o.aside}
        chosen = [s for i, s in enumerate(cup.sights) if not s.struck and i not in aside]
        if chosen and len(chosen) == len(sights):
            model = CupModel(stock, cup.pours)
            mean, covariance = with_pours(known, len(cup.pours))
            told, slopes = stacked(model, mean, chosen, mean.size)
            spread = slopes @ covariance @ slopes.T + noise_of(stock, chosen, [1.0] * len(chosen))
            off = values_of(chosen) - told
            sign, volume = np.linalg.slogdet(2.0 * np.pi * spread)
            total -= 0.5 * (float(off @ np.linalg.solve(spread, off)) + float(sign * volume))
        elif sights:
            total -= SET_ASIDE
        known = opened.close()
    return total


def fitted_prior(
    stock: Stock, cups: Sequence[Cup], on_progress: Callable[[float, str], None] | None = None
) -> Prior:
    """The prior that these cups speak for, with the usual one's other spreads; the usual one when there are no cups."""
    if not cups:
        return USUAL
    from scipy.optimize import minimize

    count = 0

    def prior_at(z: Array) -> Prior:
        strength, shape = np.clip(np.exp(z), LEAST, MOST)
        return replace(
            stock.prior,
            strength=min(USUAL.strength * float(strength), 1.9),
            shape=min(USUAL.shape * float(shape), 1.9),
        )

    def cost(z: Array) -> float:
        nonlocal count
        count += 1
        if on_progress:
            on_progress(min(1.0, count / TRIES), "Asking the cups how far bottles stray")
        return 0.5 * float(z @ z) / DOUBT**2 - evidence(replace(stock, prior=prior_at(z)), cups)

    simplex = np.array([[0.0, 0.0], [0.7, 0.0], [0.0, 0.7]])
    found = minimize(
        cost,
        np.zeros(2),
        method="Nelder-Mead",
        options={"initial_simplex": simplex, "maxfev": TRIES, "xatol": 0.03, "fatol": 0.05},
    )
    return prior_at(np.asarray(found.x, dtype=float) + np.log(WIDER))


def stray_words(prior: Prior) -> str:
    """How far bottles are taken to stray, in words: "by 15 % in strength and 6 % in shade, more than usual"."""
    size = np.sqrt(prior.strength * prior.shape / (USUAL.strength * USUAL.shape))
    beside = "as usual" if 0.6 <= size <= 1.7 else ("more than usual" if size > 1 else "less than usual")
    return f"by {prior.strength:.0%} in strength and {prior.shape:.0%} in shade, {beside}"
