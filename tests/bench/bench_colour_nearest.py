"""The nearest colour in reach on 119 measured reflectances, against the recorded results of a slow global search (tests/reference/make_nearest.py)."""

import importlib.util
import json
import time
from pathlib import Path

import numpy as np

from hidewright.colour.recipes.match import MatchProblem, nearest

REFERENCE = Path(__file__).resolve().parents[1] / "reference"


def run() -> list[dict[str, object]]:
    """One row for daylight alone, one for the worst of three lights."""
    spec = importlib.util.spec_from_file_location("make_nearest", REFERENCE / "make_nearest.py")
    assert spec is not None
    assert spec.loader is not None
    slow = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(slow)
    kept = json.loads((REFERENCE / "nearest_found.json").read_text(encoding="utf-8"))
    targets = slow.targets({name: np.array(v) for name, v in kept["earthlib"].items()})
    rows: list[dict[str, object]] = []
    for way, lights in slow.LIGHTS.items():
        began = time.process_time()
        ours = {
            name: nearest(MatchProblem(target, slow.KNOWN, lights=lights, worst=True, most=slow.MOST))[0]
            for name, target in targets.items()
        }
        each = (time.process_time() - began) / len(targets)
        off = np.array([ours[name] - kept["found"][name][way] for name in targets])
        far = sum(value > 0.3 for value in ours.values())
        rows.append(
            {
                "stage": "colour",
                "name": f"nearest colour of {len(targets)} measured samples, {way}: largest shortfall",
                "value": round(float(off.max()), 4),
                "unit": "ΔE00",
                "goal": "≤ 0.05 above the slow search",
                "holds": bool(off.max() <= 0.05),
                "baseline": f"{far} of them lie out of reach (ΔE00 > 0.3); ours nearer by more than 0.05 for {int(np.sum(off < -0.05))}, "
                f"by {-off.min():.2f} at most; {each:.2f} s of processor each",
            }
        )
    return rows


if __name__ == "__main__":
    for line in run():
        print(line)
