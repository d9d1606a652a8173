"""Correcting a cup and learning across jobs, on seeded simulated shops, against the plain way of correcting.

Enough shops to tell: 200 first jobs for corrections (a hundredth of them is two), six shops of 80 jobs for what memory does. Some minutes;
`python tests/bench/bench_colour_learn.py 2` runs twice as many shops.
"""

import sys
from collections.abc import Iterator

import numpy as np

from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.simulate import SCENARIOS, JobResult, run_shop
from hidewright.demo.make_colours import pigments

GOALS = {"usual": (0.6, 1.0, 0.04), "rough": (1.0, 2.0, 0.12)}
FIRST_JOBS, PLAIN_JOBS, SHOPS = 200, 60, 6
"""First jobs with our corrections, of which so many with plain ones too; shops with a memory."""


def row(name: str, value: float, unit: str, goal: str, holds: bool, baseline: str = "") -> dict[str, object]:
    """One row of the bench."""
    return {
        "stage": "colour",
        "name": name,
        "value": round(float(value), 4),
        "unit": unit,
        "goal": goal,
        "holds": bool(holds),
        "baseline": baseline,
    }


def corrections(
    scenario: str, library: list[Pigment], shops: int
) -> tuple[list[dict[str, object]], list[JobResult]]:
    """One job in each of many shops, nothing learned before: corrections until the true ΔE00 is below 1."""
    ours: list[JobResult] = []
    plain: list[JobResult] = []
    for seed in range(shops):
        ours += run_shop(SCENARIOS[scenario], library, 1, 1000 + seed)[0]
        if seed < PLAIN_JOBS:
            plain += run_shop(SCENARIOS[scenario], library, 1, 1000 + seed, plain=True)[0]
    mean, top, growth = GOALS[scenario]
    counts = np.array([r.corrections for r in ours])
    others = np.array([r.corrections for r in plain])
    failed, grown = np.mean([r.failed for r in ours]), np.mean([r.growth for r in ours])
    same = np.mean([r.corrections for r in ours[: len(plain)]])
    against = f"ours in the same {len(plain)} shops {same:.2f}; {np.mean(counts > 0):.2f} of all first cups need any; plain: mean {others.mean():.2f}, p90 {np.quantile(others, 0.9):.0f}, growth {np.mean([r.growth for r in plain]):.1%}, failed {np.mean([r.failed for r in plain]):.1%}"
    name = f"adjust, {scenario}, {shops} shops"
    rows = [
        row(
            f"{name}: corrections, mean",
            counts.mean(),
            "pours of one reading",
            f"≤ {mean}",
            counts.mean() <= mean,
            against,
        ),
        row(
            f"{name}: corrections, p90",
            np.quantile(counts, 0.9),
            "",
            f"≤ {top:.0f}",
            np.quantile(counts, 0.9) <= top,
        ),
        row(f"{name}: growth of the cup, mean", grown, "share", f"≤ {growth}", grown <= growth),
        row(f"{name}: not good after eight", failed, "share", "< 0.01", failed < 0.01),
    ]
    return rows, ours


def memory(
    scenario: str, library: list[Pigment], shops: int
) -> tuple[list[dict[str, object]], list[JobResult]]:
    """First cups of jobs 61 to 80 in shops that keep all cups."""
    late: list[JobResult] = []
    early: list[JobResult] = []
    for seed in range(shops):
        results, _ = run_shop(SCENARIOS[scenario], library, 80, 2000 + seed)
        early += results[:1]
        late += results[60:]
    first = np.array([r.first for r in late])
    share = float(np.mean(first < 1.0))
    name = f"memory, {scenario}, {shops} shops, after 60 jobs"
    was = f"first job ΔE00 {np.mean([r.first for r in early]):.2f}"
    return [
        row(f"{name}: first cup, mean true ΔE00", first.mean(), "ΔE00", "≤ 0.35", first.mean() <= 0.35, was),
        row(
            f"{name}: first cups below 1.0",
            share,
            "share",
            "≥ 0.97",
            share >= 0.97,
            f"largest {first.max():.2f}",
        ),
    ], late


def held(name: str, results: list[JobResult], jobs: int) -> dict[str, object]:
    """How often the first forecast's 90 % intervals of L*, a*, b* held the truth; results come by shop, so many jobs of each.

    One shop's intervals hang together (its surface, its white), so that a single shop lies anywhere from .85 to 1: only several shops tell.
    """
    by_shop = np.array([r.held for r in results]).reshape(-1, jobs).mean(axis=1) / 3
    share, error = float(by_shop.mean()), float(by_shop.std(ddof=1) / np.sqrt(by_shop.size))
    told = f"{3 * len(results)} intervals in {by_shop.size} shops, standard error {error:.3f}"
    if jobs > 1:
        told += f"; single shops {by_shop.min():.2f} to {by_shop.max():.2f}"
    return row(name, share, "share", "0.85 to 0.95", 0.85 <= share <= 0.95, told)


def sections(times: int = 1) -> Iterator[list[dict[str, object]]]:
    """The rows, as they are ready."""
    library = list(pigments().values())
    for scenario in SCENARIOS:
        rows, before = corrections(scenario, library, FIRST_JOBS * times)
        yield [*rows, held(f"honest spread, {scenario}, before learning", before, 1)]
    for scenario in SCENARIOS:
        rows, after = memory(scenario, library, SHOPS * times)
        yield [*rows, held(f"honest spread, {scenario}, after 60 jobs", after, 20)]


def run(times: int = 1) -> list[dict[str, object]]:
    """All rows of this bench."""
    return [line for rows in sections(times) for line in rows]


if __name__ == "__main__":
    for some in sections(int(sys.argv[1]) if len(sys.argv) > 1 else 1):
        for line in some:
            print({k: line[k] for k in ("name", "value", "goal", "holds", "baseline")}, flush=True)
