"""Real paint: 13 watercolours characterised from measured films, the other measured mixtures forecast blind; residual off and on.

Data: `mixtures` (143 films of one paint, 780 of two, on one white paper; carried by a package under Apache-2.0). Baseline in the same run: a plain film fit, each band by itself by SciPy's least squares with
all bands and films weighed alike, which shares no code with the engine but the film's formula. Leather paint is another thing than watercolour on paper: these rows tell how the
engine does where its film fits badly. `python tests/bench/bench_colour_real.py 3` draws three splits.
"""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.mixtures import MICRONS, READ, amounts, found, held, mixtures, off, shares_of
from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.film import below, film, seen

BEFORE = {52: 4.60, 143: 6.94}
"""Mean ΔE00 of the engine with its noise held constant (split 0, as it was before this bench), by films of one paint."""


def plain_fit(drawn: Sequence[Drawdown], films: Sequence[Drawdown]) -> np.ndarray:
    """ΔE00 of films from a plain least-squares film fit of others."""
    keys = sorted({key for d in drawn for key in d.shares})
    c, wanted = shares_of(drawn, keys), np.array([d.over_white for d in drawn])
    ground = below(drawn[0].white, READ)
    theta = np.zeros((31, 2 * len(keys)))
    start = np.concatenate([np.full(len(keys), -4.0), np.full(len(keys), -5.0)])
    for b in range(31):

        def miss(z: np.ndarray, b: int = b) -> np.ndarray:
            k, s = c @ np.exp(z[: len(keys)]), c @ np.exp(z[len(keys) :])
            return seen(film(k, s, MICRONS, ground[b]), READ) - wanted[:, b]

        theta[b] = least_squares(miss, start, bounds=(-16.0, 4.0), max_nfev=60).x
        start = theta[b]
    c = shares_of(films, keys)
    k, s = c @ np.exp(theta[:, : len(keys)].T), c @ np.exp(theta[:, len(keys) :].T)
    told = seen(film(k, s, MICRONS, ground), READ)
    return delta_e00(lab(told), lab(np.array([f.over_white for f in films])))


def row(name: str, value: float, goal: str, holds: bool | None, baseline: str) -> dict[str, object]:
    """One row of the bench."""
    return {
        "stage": "colour",
        "name": f"real paint: {name}",
        "value": round(float(value), 3),
        "unit": "ΔE00",
        "goal": goal,
        "holds": holds,
        "baseline": baseline,
    }


def split(seed: int, count: int) -> tuple[list[Drawdown], list[Drawdown]]:
    """So many mixtures to characterise from, and the rest."""
    every = mixtures().mixed
    order = np.random.default_rng(seed).permutation(len(every))
    return [every[i] for i in order[:count]], [every[i] for i in order[count:]]


def told(off: np.ndarray) -> str:
    """Mean, median and 95th percentile."""
    return f"mean {off.mean():.2f}, median {np.median(off):.2f}, p95 {np.quantile(off, 0.95):.2f}"


def few(seed: int) -> Iterator[dict[str, object]]:
    """24 mixtures, with four amounts of each paint and with all eleven."""
    mixed, rest = split(seed, 24)
    means = {}
    alone = mixtures().alone
    for films in (amounts(alone, 0.01, 0.03, 0.06, 0.12), list(alone)):
        drawn = [*films, *mixed]
        joint = found(drawn)
        bare, with_residual = off(joint, rest), off(joint, rest, drawn)
        theirs = plain_fit(drawn, rest)
        means[len(films)] = float(bare.mean())
        contradict = sum(doubt > 6.0 for doubt in joint.doubt.values())
        name = f"24 mixtures and {len(films)} films of one paint, split {seed}, {len(rest)} others forecast"
        yield row(
            f"{name}: residual off, mean",
            bare.mean(),
            "≤ the plain film fit",
            bool(bare.mean() <= theirs.mean()),
            f"{told(bare)}; plain film fit: {told(theirs)}; constant noise, split 0: {BEFORE[len(films)]:.2f}; {contradict} of {len(drawn)} films contradict. {joint.scales.words}",
        )
        yield row(
            f"{name}: residual on, mean",
            with_residual.mean(),
            "≤ residual off",
            bool(with_residual.mean() <= bare.mean()),
            f"{told(with_residual)}; its 90 % intervals hold {held(joint, rest[:200], drawn):.2f}",
        )
    yield row(
        f"more films never hurt, split {seed}: with 143 films of one paint over with 52",
        means[143] - means[52],
        "≤ 0.1",
        means[143] <= means[52] + 0.1,
        "with constant noise: 2.34 more",
    )


def many(seed: int) -> Iterator[dict[str, object]]:
    """Half of all mixtures."""
    mixed, rest = split(seed, 390)
    drawn = [*mixtures().alone, *mixed]
    joint = found(drawn)
    bare, with_residual = off(joint, rest), off(joint, rest, drawn)
    name = f"390 mixtures and 143 films of one paint, split {seed}, 390 others forecast"
    contradict = sum(doubt > 6.0 for doubt in joint.doubt.values())
    yield row(
        f"{name}: residual off, mean",
        bare.mean(),
        "",
        None,
        f"{told(bare)}; {contradict} of {len(drawn)} films contradict. {joint.scales.words}",
    )
    yield row(
        f"{name}: residual on, mean",
        with_residual.mean(),
        "≤ residual off",
        bool(with_residual.mean() <= bare.mean()),
        f"{told(with_residual)}; its 90 % intervals hold {held(joint, rest[:200], drawn):.2f}",
    )


def sections(splits: int = 1) -> Iterator[dict[str, object]]:
    """The rows, as they are ready."""
    for seed in range(splits):
        yield from few(seed)
    yield from many(0)


def run(splits: int = 1) -> list[dict[str, object]]:
    """All rows of this bench."""
    return list(sections(splits))


if __name__ == "__main__":
    for line in sections(int(sys.argv[1]) if len(sys.argv) > 1 else 1):
        print({k: line[k] for k in ("name", "value", "goal", "holds", "baseline")}, flush=True)
