"""The match engine against SciPy's SLSQP run over every set of pigments, and its growth with the number of pigments.

Pigments are the demonstration's invented ones and made-up neighbours of them; targets are seeded mixes of four with a smooth distortion, so that most
cannot be reached exactly. `python tests/bench/bench_colour_match.py 20` runs all twenty targets (an hour or more of processor time); `make bench` runs one.
"""

import itertools
import json
import sys
import time

import numpy as np
from scipy.optimize import minimize

from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab, lab_from_xyz, weights, white
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.recipes.match import MatchProblem, nearest
from hidewright.demo.make_colours import pigments as demo_pigments

LIGHTS = ("D65", "A", "FL11", "LED-B3")


def family(count: int) -> list[Pigment]:
    """`count` pigments: the demonstration's twelve, then shifted neighbours of them."""
    first = list(demo_pigments().values())
    rng = np.random.default_rng(7)
    made = list(first)
    while len(made) < count:
        source = first[1 + (len(made) * 5) % 11]
        shift = float(rng.uniform(-25, 25))
        k = np.interp(WAVELENGTHS + shift, WAVELENGTHS, source.k) * float(rng.uniform(0.7, 1.4))
        s = source.s * float(rng.uniform(0.7, 1.4))
        made.append(Pigment(f"X{len(made)}", f"Neighbour {len(made)}", "", k, s))
    return made[:count]


def targets(count: int, pigments: list[Pigment]) -> list[np.ndarray]:
    """Seeded targets: mixes of four pigments, smoothly distorted by up to 6 %."""
    rng = np.random.default_rng(20)
    found = []
    for number in range(count):
        chosen = rng.choice(len(pigments), 4, replace=False)
        f = rng.dirichlet(np.ones(4))
        k = f @ np.array([pigments[i].k for i in chosen])
        s = f @ np.array([pigments[i].s for i in chosen])
        wave = 1 + 0.06 * np.sin(WAVELENGTHS / 55.0 + number)
        found.append(np.clip(seen(opaque(k, s), Surface()) * wave, 0.005, 1.0))
    return found


def slsqp(target: np.ndarray, pigments: list[Pigment], most: int, starts: int = 3) -> float:
    """Least worst-light ΔE00 by SLSQP over all sets: least t with ΔE00 under each light at most t, volumes by their logarithms."""
    wanted = np.array([lab(target, light) for light in LIGHTS])
    table = np.concatenate([weights(light) for light in LIGHTS], axis=1)
    whites = np.array([white(light) for light in LIGHTS])
    rng = np.random.default_rng(3)
    best = np.inf
    for size in range(1, most + 1):
        for chosen in itertools.combinations(pigments, size):
            k, s = np.array([p.k for p in chosen]), np.array([p.s for p in chosen])

            def off(z: np.ndarray, k: np.ndarray = k, s: np.ndarray = s) -> np.ndarray:
                f = np.exp(z - z.max())
                read = seen(opaque(f @ k, f @ s), Surface())
                return delta_e00(lab_from_xyz((read @ table).reshape(-1, 3), whites), wanted)

            if size == 1:
                best = min(best, float(off(np.zeros(1)).max()))
                continue
            for _ in range(starts):
                z = rng.normal(0.0, 1.5, size)
                done = minimize(
                    lambda x: x[-1],
                    np.append(z, off(z).max()),
                    method="SLSQP",
                    bounds=[(-10, 10)] * size + [(0, None)],
                    constraints={"type": "ineq", "fun": lambda x, off=off: x[-1] - off(x[:-1])},
                    options={"maxiter": 60, "ftol": 1e-5},
                )
                best = min(best, float(off(done.x[:-1]).max()))
    return best


def against_slsqp(count: int) -> list[dict[str, object]]:
    """13 pigments, sets of up to four, worst of four lights: colour reached and processor time, both ways."""
    pigments = family(13)
    ours, theirs, mine, other = [], [], 0.0, 0.0
    nearest(MatchProblem(np.full(31, 0.3), pigments[:5], lights=LIGHTS, worst=True))
    for target in targets(count, pigments):
        start = time.process_time()
        ours.append(nearest(MatchProblem(target, pigments, lights=LIGHTS, worst=True))[0])
        mine += time.process_time() - start
        start = time.process_time()
        theirs.append(slsqp(target, pigments, 4))
        other += time.process_time() - start
        print(f"{len(ours)}: ours {ours[-1]:.4f}, SLSQP {theirs[-1]:.4f}", file=sys.stderr, flush=True)
    gap = float(np.mean(ours) - np.mean(theirs))
    return [
        {
            "stage": "colour",
            "name": f"match, worst of four lights, {count} targets: mean ΔE00 above exhaustive SLSQP",
            "value": round(gap, 5),
            "unit": "ΔE00",
            "goal": "≤ 0.005",
            "holds": gap <= 0.005,
            "baseline": f"SLSQP mean {np.mean(theirs):.4f}, ours {np.mean(ours):.4f}",
        },
        {
            "stage": "colour",
            "name": "match: times less processor time than exhaustive SLSQP",
            "value": round(other / mine, 1),
            "unit": "times",
            "goal": "≥ 100",
            "holds": other >= 100 * mine,
            "baseline": f"SLSQP {other / count:.1f} s a target, ours {mine / count:.2f} s",
        },
    ]


def growth() -> list[dict[str, object]]:
    """Processor time for sets of up to five out of 10, 13, 16 and 20 pigments."""
    times: dict[int, tuple[int, float]] = {}
    for count in (10, 13, 16, 20):
        pigments = family(count)
        problem = MatchProblem(targets(1, pigments)[0], pigments, most=5)
        sets = len(problem.subsets())
        start = time.process_time()
        nearest(problem)
        times[count] = (sets, time.process_time() - start)
    told = ", ".join(f"{n} pigments {sets} sets {spent:.2f} s" for n, (sets, spent) in times.items())
    return [
        {
            "stage": "colour",
            "name": "match: 20 pigments, sets of up to five (21,699), D65",
            "value": round(times[20][1], 2),
            "unit": "s of processor",
            "goal": "≤ 10",
            "holds": times[20][1] <= 10,
            "baseline": told,
        }
    ]


def run(count: int = 1) -> list[dict[str, object]]:
    """All rows of this bench."""
    return against_slsqp(count) + growth()


if __name__ == "__main__":
    print(json.dumps(run(int(sys.argv[1]) if len(sys.argv) > 1 else 1), indent=1, ensure_ascii=False))
