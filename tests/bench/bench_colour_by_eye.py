"""A cup by eye against an unknown target: 60 targets in 60 shops whose bottles are off by a factor of two (sd), judged by an eye, a camera and a physics that the estimator does not know.

Truth, eye and camera: `eye_world`, `eye_observer`; what counts: `eye_jobs`; rivals in the same run: `eye_rivals` (a craftsperson who knows these very bottles; a plain joint
estimate) and `eye_today` (the way before). Seeds are sealed: shops 5000 onward are for this bench, and nothing is tuned on them. `python tests/bench/bench_colour_by_eye.py 20` runs
20 shops a row; the rivals run on the first 24 at most.
"""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bench.eye_adapter import product
from bench.eye_jobs import Maker, Result, Way, first_jobs, started
from bench.eye_rivals import craftsperson, plain_joint
from bench.eye_today import today, today_characterised
from bench.eye_world import CHARACTERISED, Shop
from hidewright.colour.light.cie import delta_e00

FIRST, RIVALS = 5000, 24
Goal = tuple[str, str, float]
"""What is measured (a key of `measured`), "≥" or "≤", and the bound."""
WAYS: tuple[tuple[Way, tuple[Goal, ...]], ...] = (
    (
        Way("words, dry, target off a photo"),
        (("within 3", "≥", 0.70), ("within 8", "≥", 0.97), ("final p90", "≤", 0.9), ("stuck", "≤", 0.07)),
    ),
    (Way("words, dry, target guessed", start="swatch"), (("within 3", "≥", 0.58),)),
    (Way("words and stick photo, dry", photo=True), (("within 3", "≥", 0.88),)),
    (Way("words, wet then dry", wet=True), (("within 8", "≥", 0.93), ("dry looks p90", "≤", 3.0))),
    (Way("eye twice as noisy, dry", noisier=2.0), (("within 8", "≥", 0.93),)),
    (
        Way("words, dry, bottles characterised", far=CHARACTERISED),
        (("within 3", "≥", 0.85), ("stuck", "≤", 0.05)),
    ),
)
GROWTH: tuple[Goal, ...] = (("growth median", "≤", 0.3), ("growth p90", "≤", 1.2))


def measured(results: Sequence[Result]) -> dict[str, float]:
    """All that is told of many jobs."""
    final, growth = np.array([r.final for r in results]), np.array([r.growth for r in results])
    error = np.mean([r.target_error**2 for r in results])
    return {
        "within 3": float(np.mean([r.within(3) for r in results])),
        "within 8": float(np.mean([r.within(8) for r in results])),
        "within 2 to 2": float(np.mean([r.within(2, 2.0) for r in results])),
        "within 2": float(np.mean([r.within(2) for r in results])),
        "final median": float(np.median(final)),
        "final p90": float(np.quantile(final, 0.9)),
        "stuck": float(np.mean([r.stuck for r in results])),
        "growth median": float(np.median(growth)),
        "growth p90": float(np.quantile(growth, 0.9)),
        "looks": float(np.mean([r.looks for r in results])),
        "dry looks p90": float(np.quantile([r.dry_looks for r in results], 0.9)),
        "told sd": float(np.sqrt(np.mean([r.target_sd**2 for r in results]) / error)),
    }


def sentence(of: dict[str, float]) -> str:
    """The usual figures in a row."""
    return (
        f"within 3 / 8 {of['within 3']:.2f} / {of['within 8']:.2f}, final median / p90 {of['final median']:.2f} / {of['final p90']:.2f}, stuck {of['stuck']:.2f}, growth "
        f"{of['growth median']:.2f} / {of['growth p90']:.2f}, looks {of['looks']:.1f}, dry p90 {of['dry looks p90']:.0f}, told sd / error {of['told sd']:.2f}"
    )


def rows(
    name: str, results: Sequence[Result], goals: Sequence[Goal], *, bound: bool
) -> list[dict[str, object]]:
    """One row a goal; without goals, or where they do not bind (a rival), rows without a verdict."""
    of = measured(results)
    found: list[dict[str, object]] = []
    for key, way, edge in goals or (("within 3", "", 0.0),):
        holds = (of[key] >= edge if way == "≥" else of[key] <= edge) if way and bound else None
        found.append(
            {
                "stage": "colour",
                "name": f"by eye: {name}: {key}",
                "value": round(of[key], 3),
                "unit": f"of {len(results)} jobs",
                "goal": f"{way} {edge}" if way else "",
                "holds": holds,
                "baseline": sentence(of),
            }
        )
    return found


def starts(shops: Sequence[int]) -> list[dict[str, object]]:
    """How far off the targets are to begin with."""
    found: list[dict[str, object]] = []
    for kind, goal in (("photo", "3.9 to 4.7"), ("swatch", "")):
        off = []
        for seed in shops:
            aim = Shop(seed).unknown().dry()
            off.append(
                delta_e00(started(Way("", start=kind), aim, np.random.default_rng([7, seed])).lab, aim)
            )
        mean = float(np.mean(off))
        found.append(
            {
                "stage": "colour",
                "name": f"by eye: the yardstick's own target off a {kind}, mean",
                "value": round(mean, 2),
                "unit": "ΔE00",
                "goal": goal,
                "holds": 3.9 <= mean <= 4.7 if goal else None,
                "baseline": f"p90 {np.quantile(off, 0.9):.1f}",
            }
        )
    return found


def makers() -> tuple[Maker, str, bool]:
    """Whom the goals bind: the product, or, while there is none, the bench's own plain estimate without a verdict."""
    own = product()
    return (
        (own, "the tool", True)
        if own is not None
        else (plain_joint, "plain joint estimate in its place", False)
    )


def sections(count: int = 60) -> Iterator[list[dict[str, object]]]:
    """The rows, as they are ready."""
    shops = range(FIRST, FIRST + count)
    few = shops[:RIVALS]
    maker, who, bound = makers()
    yield starts(range(FIRST, FIRST + 60))
    for way, goals in WAYS:
        goals = goals if way.far is CHARACTERISED or way.noisier > 1.0 else (*goals, *GROWTH)
        yield rows(f"{who}, {way.name}", first_jobs(way, maker, shops), goals, bound=bound)
    plain, wet, stick = WAYS[0][0], WAYS[3][0], WAYS[2][0]
    read = Way("spectrophotometer", start="instrument", instrument=True)
    rivals: tuple[tuple[str, Way, Maker], ...] = (
        ("a craftsperson who knows these very bottles, dry", plain, craftsperson),
        ("the way before, dry", plain, today),
        ("the way before, wet", wet, today),
        ("the way before, dry, bottles characterised", plain, today_characterised),
        ("the engine with a spectrophotometer, bottles characterised", read, today_characterised),
        ("the bench's own plain joint estimate, dry", plain, plain_joint),
        ("the bench's own plain joint estimate, with a stick photo", stick, plain_joint),
    )
    for name, way, rival in rivals:
        yield rows(f"rival: {name}", first_jobs(way, rival, few), (), bound=False)


def run(count: int = 60) -> list[dict[str, object]]:
    """All rows of this bench."""
    return [line for some in sections(count) for line in some]


if __name__ == "__main__":
    for some in sections(int(sys.argv[1]) if len(sys.argv) > 1 else 60):
        for line in some:
            print({k: line[k] for k in ("name", "value", "goal", "holds", "baseline")}, flush=True)
