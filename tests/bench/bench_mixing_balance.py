"""The book under two writers for a long day: six hundred random acts logged by two processes on one SQLite file must balance to the microlitre.

The same hands as in tests/workshop/shelf/test_mixing_two_writers.py, which does it in short on SQLite and on PostgreSQL with every test run.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

HANDS = Path(__file__).resolve().parents[1] / "workshop" / "hands.py"
WANTED = 300
"""Entries that each writer logs."""


def _row(name: str, value: float, unit: str, goal: str, holds: bool | None) -> dict[str, object]:
    base = "two processes on one SQLite file, seeded hands"
    return {"stage": "mixing", "name": name, "value": value, "unit": unit, "goal": goal, "holds": holds, "baseline": base}  # fmt: skip


def run(wanted: int = WANTED) -> list[dict[str, object]]:
    """Let two writers log, and see what the book says."""
    with tempfile.TemporaryDirectory() as home:
        env = {
            **os.environ,
            "HIDEWRIGHT_HOME": home,
            "DJANGO_SETTINGS_MODULE": "hidewright.workshop.settings",
        }
        env.pop("DATABASE_URL", None)

        def start(*words: object) -> "subprocess.Popen[str]":
            return subprocess.Popen(
                [sys.executable, str(HANDS), *map(str, words)], env=env, stdout=subprocess.PIPE, text=True
            )

        def answer(process: "subprocess.Popen[str]") -> Any:
            text, _ = process.communicate()
            if process.returncode:
                raise RuntimeError(f"a writer ended with {process.returncode}")
            return json.loads(text)

        subprocess.run([sys.executable, "-m", "django", "migrate", "--verbosity=0"], env=env, check=True)
        keys = answer(start("begin"))
        began = time.monotonic()
        logged = sum(answer(writer) for writer in [start(seed, wanted, *keys) for seed in (1, 2)])
        took = time.monotonic() - began
        found = answer(start("check"))
    whole = (
        found["entries"] == logged
        and found["balanced"]
        and found["gapless"]
        and found["counted"]
        and found["stock_follows"]
        and not found["below_nothing"]
        and not found["over"]
        and not found["spoilt"]
    )
    return [
        _row(
            "random acts logged by two writers",
            float(logged),
            "",
            f"at least {2 * wanted}",
            logged >= 2 * wanted,
        ),
        _row("volumes, sequences and stock that balance", 1.0 if whole else 0.0, "", "1", whole),
        _row("kinds of act among them", float(len(found["acts"])), "of 8", "all 8", len(found["acts"]) == 8),
        _row("time an act, two writers at once", 1000 * took / logged, "ms", "", None),
    ]


if __name__ == "__main__":
    for each in run():
        print(each["name"], f"{each['value']:.4g}", each["unit"], "|", each["goal"], each["holds"])
