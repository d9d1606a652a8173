"""A shop without an instrument over twenty jobs: what bottles and eye that are kept are worth in jobs 16 to 20. The world of `bench_colour_by_eye`, other sealed seeds (6000 onward)."""

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.bench_colour_by_eye import Goal, makers, measured, rows
from bench.eye_jobs import Maker, Result, Way, long_run
from bench.eye_rivals import plain_joint
from bench.eye_today import today

FIRST, JOBS, LATE = 6000, 20, 15
GOALS: tuple[Goal, ...] = (("within 2 to 2", "≥", 0.80), ("final p90", "≤", 0.9), ("stuck", "≤", 0.10))
PHOTO: tuple[Goal, ...] = (("within 2 to 2", "≥", 0.95), ("final p90", "≤", 0.9), ("stuck", "≤", 0.10))


def late(runs: list[list[Result]]) -> list[Result]:
    """Jobs 16 to 20 of every shop."""
    return [result for run in runs for result in run[LATE:]]


def honest(name: str, runs: list[list[Result]], *, bound: bool) -> dict[str, object]:
    """Root mean square of the told sd of the target against that of its true error, all jobs."""
    every = [result for run in runs for result in run]
    share = measured(every)["told sd"]
    by_shop = [measured(run)["told sd"] for run in runs]
    return {
        "stage": "colour",
        "name": f"memory by eye: {name}: told sd of the target over its true error, all jobs",
        "value": round(share, 3),
        "unit": "times",
        "goal": "0.9 to 1.2",
        "holds": 0.9 <= share <= 1.2 if bound else None,
        "baseline": f"single shops {min(by_shop):.2f} to {max(by_shop):.2f}; jobs 16-20 {measured(late(runs))['told sd']:.2f}",
    }


def told(
    name: str, runs: list[list[Result]], goals: tuple[Goal, ...], *, bound: bool
) -> list[dict[str, object]]:
    """The rows of one way: jobs 16 to 20, with job 1 beside them."""
    first = measured([run[0] for run in runs])
    found = rows(f"{name}, jobs 16-20", late(runs), goals, bound=bound)
    for line in found:
        line["name"] = str(line["name"]).replace("by eye", "memory by eye", 1)
        line["baseline"] = (
            f"{line['baseline']}; within 2 to ΔE00 2 in jobs 1: {first['within 2 to 2']:.2f}; first cups ΔE00 "
            f"{np.median([run[0].path[0] for run in runs]):.1f}, jobs 16-20 {np.median([r.path[0] for r in late(runs)]):.1f}"
        )
    return [*found, honest(name, runs, bound=bound)]


def sections(shops: int = 8) -> Iterator[list[dict[str, object]]]:
    """The rows, as they are ready."""
    maker, who, bound = makers()
    words, stick = Way("words"), Way("words and stick photo", photo=True)
    few: tuple[tuple[str, Way, Maker, int], ...] = (
        ("rival: the bench's own plain joint estimate, words", words, plain_joint, 3),
        ("rival: the way before, words", words, today, 2),
    )
    for way, goals in ((words, GOALS), (stick, PHOTO)):
        runs = long_run(way, maker, range(FIRST, FIRST + shops), JOBS)
        yield told(f"{who}, {way.name}", runs, goals, bound=bound)
    for name, way, rival, count in few:
        runs = long_run(way, rival, range(FIRST, FIRST + min(count, shops)), JOBS)
        yield told(name, runs, (("within 2 to 2", "", 0.0),), bound=False)


def run(shops: int = 8) -> list[dict[str, object]]:
    """All rows of this bench."""
    return [line for some in sections(shops) for line in some]


if __name__ == "__main__":
    for some in sections(int(sys.argv[1]) if len(sys.argv) > 1 else 8):
        for line in some:
            print({k: line[k] for k in ("name", "value", "goal", "holds", "baseline")}, flush=True)
