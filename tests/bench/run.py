"""Run every benchmark beside it, print a table, and write build/bench.json.

    python tests/bench/run.py            all of them
    python tests/bench/run.py colour     those whose file is bench_colour.py

Each `bench_*.py` has `run() -> list[dict]`; a row has `stage`, `name`, `value`, `unit`, `goal` (in words, such as
"at most 12 s"), `holds` (True, False, or None where there is no goal) and `baseline` (what it is measured
against, in words). A benchmark that raises is shown as failed; the others go on. Exit code 1 where one failed to
run or a goal does not hold.
"""

import importlib.util
import json
import os
import sys
import time
import traceback
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command and the app do (machine.one_thread)
HERE = Path(__file__).resolve().parent
OUT = HERE.parents[1] / "build" / "bench.json"
FIELDS = ("stage", "name", "value", "unit", "goal", "holds", "baseline")
VERDICT = {True: "holds", False: "DOES NOT HOLD", None: ""}

Row = dict[str, Any]


def rows_of(path: Path) -> list[Row]:
    """Load one benchmark's file, run it, and see that each row has every field."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    rows: list[Row] = module.run()
    for row in rows:
        if missing := set(FIELDS) - set(row):
            raise KeyError(f"a row of {path.name} lacks {sorted(missing)}")
    return rows


def failed(path: Path, error: Exception) -> Row:
    """The row that stands for a benchmark that could not be run."""
    stage = path.stem.removeprefix("bench_")
    words = f"failed: {type(error).__name__}: {error}"
    return dict.fromkeys(FIELDS, "") | {"stage": stage, "name": words, "value": None, "holds": False}


def shown(rows: list[Row]) -> Table:
    """The rows as a table for the screen."""
    table = Table(title="Benchmarks", title_justify="left")
    for field in FIELDS:
        table.add_column(field, justify="right" if field == "value" else "left")
    for row in rows:
        value = f"{row['value']:.4g}" if isinstance(row["value"], float) else str(row["value"])
        table.add_row(
            *(str(row[f]) for f in FIELDS[:2]),
            value,
            row["unit"],
            row["goal"],
            VERDICT[row["holds"]],
            row["baseline"],
        )
    return table


def main(wanted: list[str]) -> int:
    """Run them in the order of their names."""
    console = Console() if sys.stdout.isatty() else Console(width=150)
    rows: list[Row] = []
    for path in sorted(HERE.glob("bench_*.py")):
        if wanted and path.stem.removeprefix("bench_") not in wanted:
            continue
        began = time.perf_counter()
        try:
            rows += rows_of(path)
        except Exception as error:
            traceback.print_exc()
            rows.append(failed(path, error))
        console.print(f"{path.stem}: {time.perf_counter() - began:.1f} s", style="dim")
    OUT.parent.mkdir(exist_ok=True)
    OUT.write_text(json.dumps(rows, indent=1, default=float) + "\n", encoding="utf-8")
    console.print(shown(rows))
    return int(any(row["holds"] is False for row in rows))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
