"""Hunt for faults that no test notices: `make hunt`, or this script with options. Writes build/mutants/NAME.jsonl as it goes, and a table of survivors beside it.

A sample with a seed is drawn from the plausible faults of the chosen parts, each put into the code in a process of its own, and the tests that reach it are run until one fails. A hunt that
is broken off goes on where it was when it is called again.
"""

import argparse
import hashlib
import json
import os
import random
import subprocess
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from mutants.attempt import (  # noqa: E402
    BY_TIME,
    NOT_RUN,
    NOTICED,
    UNNOTICED,
    Attempt,
    arguments,
    attempt,
)
from mutants.faults import Fault, faults_of  # noqa: E402
from mutants.reach import Map, Recorder, Users, save  # noqa: E402

SOURCE = ROOT / "src" / "hidewright"
BUILD = ROOT / "build" / "mutants"
PURE = ("survey", "colour", "safety", "takeoff", "mixing", "planning")
UNREACHED = "no test reaches it"
LEFT_OUT = ("make_", "simulate")
"""Scripts that make shipped files, and simulators: no page stands on them."""
GUARDS = (
    "decorator dropped",
    "transaction dropped",
    "query step dropped",
    "query condition dropped",
    "guard dropped",
    "entry left out",
)
"""The kinds that are hunted in the workshop, where pages must be guarded more than computed."""
RARE = {
    "edge of a comparison": 0.35,
    "argument left out": 0.35,
    "constant changed": 0.4,
    "entry left out": 0.5,
}
"""Kinds that make many faults of little consequence are drawn less often: the chance that one is kept at all."""


@dataclass(frozen=True)
class Aim:
    """A part of the code to hunt in, and the tests that are asked."""

    name: str
    tests: tuple[str, ...]


def aims() -> dict[str, Aim]:
    """The parts: each pure stage with its own tests, its reference tests, those of the ranges and those of the stages that stand on it; the workshop with the page tests."""
    below = {
        "survey": ("survey", "takeoff", "lists", "reference/test_takeoff*"),
        "colour": ("colour", "reference/test_colour*", "reference/test_film*", "mixing"),
        "safety": ("safety", "reference/test_safety*", "test_borders*"),
        "takeoff": ("takeoff", "reference/test_takeoff*", "test_borders*", "test_defaults*", "lists"),
        "mixing": ("mixing", "test_borders*"),
        "planning": ("planning", "reference/test_planning*"),
        "workshop": ("workshop",),
    }
    found = {}
    for name, patterns in below.items():
        paths = [p for pattern in patterns for p in sorted((ROOT / "tests").glob(pattern))]
        found[name] = Aim(name, tuple(str(p.relative_to(ROOT)) for p in paths))
    return found


def modules_of(part: str) -> dict[str, Path]:
    """Dotted name → file of every module of a part."""
    found = {}
    for path in sorted((SOURCE / part).rglob("*.py")):
        if "migrations" in path.parts or path.stem.startswith(LEFT_OUT):
            continue
        dotted = str(path.relative_to(SOURCE.parent).with_suffix("")).replace("/", ".")
        found[dotted.removesuffix(".__init__")] = path
    return found


def drawn(faults: Sequence[Fault], count: int, seed: int) -> list[Fault]:
    """`count` faults by chance: rare kinds seldom, and no two of one kind on one line."""
    rng = random.Random(f"faults {seed}")
    order = list(faults)
    rng.shuffle(order)
    found: list[Fault] = []
    seen: set[tuple[str, int, str]] = set()
    for fault in order:
        spot = (fault.module, fault.line, fault.kind)
        if spot in seen or rng.random() > RARE.get(fault.kind, 1.0):
            continue
        seen.add(spot)
        found.append(fault)
        if len(found) == count:
            break
    return found


def reach_of(aim: Aim, fresh: bool) -> list[Path]:
    """The maps of what each test reaches, one for each file of tests; a file that is new or has changed is run once, in a process of its own."""
    maps = []
    for test in aim.tests:
        whole = ROOT / test
        for path in sorted(whole.rglob("test_*.py")) if whole.is_dir() else [whole]:
            mark = hashlib.sha256(path.read_bytes()).hexdigest()[:12]
            kept = BUILD / "reach" / f"{path.parent.name}-{path.stem}-{mark}.json"
            name = str(path.relative_to(ROOT))
            if fresh or not kept.exists():
                print(f"{name}: writing down what its tests reach (once, until it changes)", flush=True)
                subprocess.run(
                    [sys.executable, __file__, "--write-reach", name, str(kept)], check=True, cwd=ROOT
                )
            maps.append(kept)
    return maps


def write_reach(test: str, path: Path) -> None:
    """Run a file of tests and write down what each of them reaches."""
    import pytest

    recorder = Recorder(SOURCE)
    pytest.main([*arguments([test], first_only=False), test], plugins=[recorder])
    save(path, recorder.tests)


class Hunt:
    """One hunt: what is done already, what is at work, and what came of it."""

    def __init__(self, name: str, jobs: int, most_seconds: float, again: bool) -> None:
        self.book = BUILD / f"{name}.jsonl"
        self.jobs, self.most_seconds = jobs, most_seconds
        self.rows: dict[str, dict[str, object]] = {}
        if self.book.exists():
            for line in self.book.read_text(encoding="utf-8").splitlines():
                row = json.loads(line)
                self.rows[str(row["key"])] = row
        if again:
            self.rows = {k: r for k, r in self.rows.items() if r["outcome"] in (NOTICED, BY_TIME)}

    def write(self, part: str, fault: Fault, outcome: str, by: str, seconds: float, asked: int) -> None:
        """Add what came of a fault to the book at once."""
        row = {
            "key": fault.key, "part": part, "module": fault.module, "function": fault.function, "line": fault.line, "kind": fault.kind,
            "before": fault.before, "after": fault.after, "outcome": outcome, "by": by, "seconds": seconds, "tests": asked,
        }  # fmt: skip
        self.rows[fault.key] = row
        with self.book.open("a", encoding="utf-8") as book:
            book.write(json.dumps(row, ensure_ascii=False) + "\n")

    def run(
        self, part: str, faults: Sequence[Fault], sources: dict[str, Path], reach: Map, users: Users
    ) -> None:
        """Put in one fault after the other, `jobs` at a time."""
        left = [f for f in faults if f.key not in self.rows]
        texts = {module: path.read_bytes() for module, path in sources.items()}
        at_work: list[tuple[Attempt, int]] = []
        done = 0
        while left or at_work:
            while left and len(at_work) < self.jobs:
                fault = left.pop(0)
                if sources[fault.module].read_bytes() != texts[fault.module]:
                    print(
                        f"{fault.module} has changed since the hunt began: call it again for its faults.",
                        flush=True,
                    )
                    continue
                tests = reach.pick(users.functions(fault), self.most_seconds)
                if not tests:
                    self.write(part, fault, UNREACHED, "", 0.0, 0)
                    continue
                limit = 45 + 6 * sum(reach.seconds[t] for t in tests)
                at_work.append((attempt(fault, sources[fault.module], tests, limit), len(tests)))
            for each, asked in list(at_work):
                end = each.ended()
                if end is not None:
                    at_work.remove((each, asked))
                    self.write(part, each.fault, end[0], end[1], end[2], asked)
                    done += 1
                    print(
                        f"{part} {done}/{done + len(left) + len(at_work)}: {end[0]}: {each.fault.module.removeprefix('hidewright.')}:{each.fault.line} {each.fault.kind}",
                        flush=True,
                    )
            time.sleep(0.02)


def table(rows: Sequence[dict[str, object]]) -> str:
    """What came of a hunt, in Markdown: counts a part, then every fault that nobody noticed."""
    parts: dict[str, Counter[str]] = defaultdict(Counter)
    for row in rows:
        parts[str(row["part"])][str(row["outcome"])] += 1
    lines = [
        "# Faults that were put in",
        "",
        "| part | tried | noticed | survived | no test reaches it | noticed, % |",
        "|---|---|---|---|---|---|",
    ]
    for part, counts in sorted(parts.items()):
        noticed = counts[NOTICED] + counts[BY_TIME]
        by_time = f" ({counts[BY_TIME]} by time)" if counts[BY_TIME] else ""
        tried = sum(counts.values()) - counts[NOT_RUN]
        share = f"{100 * noticed / tried:.0f}" if tried else "–"
        lines.append(
            f"| {part} | {tried} | {noticed}{by_time} | {counts[UNNOTICED]} | {counts[UNREACHED]} | {share} |"
        )
    lines += ["", "## Nobody noticed", "", "| where | kind | before | after |", "|---|---|---|---|"]
    for row in sorted(rows, key=lambda r: (str(r["module"]), int(str(r["line"])))):
        if row["outcome"] in (UNNOTICED, UNREACHED):
            before, after = (str(row[name]).replace("|", "\\|") for name in ("before", "after"))
            where = f"{str(row['module']).removeprefix('hidewright.')}:{row['line']} {row['function']}"
            note = " (no test reaches it)" if row["outcome"] == UNREACHED else ""
            lines.append(f"| {where} | {row['kind']}{note} | `{before}` | `{after}` |")
    return "\n".join(lines) + "\n"


def options() -> argparse.Namespace:
    """What was asked for on the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--in",
        dest="parts",
        action="append",
        choices=(*PURE, "workshop"),
        help="a part to hunt in; may be given several times; every part without it",
    )
    parser.add_argument("--only", help="only modules whose dotted name holds this")
    parser.add_argument("--sample", type=int, default=40, help="faults a part")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=max(1, (os.cpu_count() or 2) // 2))
    parser.add_argument(
        "--most-seconds", type=float, default=60.0, help="time of the tests that are asked about one fault"
    )
    parser.add_argument("--name", help="name of the book and of the table; with the same name a hunt goes on")
    parser.add_argument("--again", action="store_true", help="try those once more that nobody noticed")
    parser.add_argument("--fresh", action="store_true", help="write the map of the tests anew")
    parser.add_argument("--write-reach", nargs=2, metavar=("TEST", "FILE"), help=argparse.SUPPRESS)
    return parser.parse_args()


def main() -> int:
    """Hunt, and print the table."""
    asked = options()
    os.chdir(ROOT)
    os.environ["HIDEWRIGHT_HUNT"] = "mutants"
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    if asked.write_reach:
        write_reach(asked.write_reach[0], Path(asked.write_reach[1]))
        return 0
    parts = asked.parts or [*PURE, "workshop"]
    name = asked.name or f"hunt-{asked.seed}-{'-'.join(parts) if asked.parts else 'all'}"
    BUILD.mkdir(parents=True, exist_ok=True)
    hunt = Hunt(name, asked.jobs, asked.most_seconds, asked.again)
    keys = set()
    for part in parts:
        sources = {m: p for m, p in modules_of(part).items() if not asked.only or asked.only in m}
        faults = [fault for module, path in sources.items() for fault in faults_of(path, module)]
        if part == "workshop":
            faults = [fault for fault in faults if fault.kind in GUARDS]
        chosen = drawn(faults, asked.sample, asked.seed)
        keys |= {fault.key for fault in chosen}
        reach = Map.load(reach_of(aims()[part], asked.fresh))
        _warm()
        hunt.run(part, chosen, sources, reach, Users(modules_of(part)))
    words = table([row for key, row in hunt.rows.items() if key in keys])
    (BUILD / f"{name}.md").write_text(words, encoding="utf-8")
    print(words)
    print(f"Kept in {(BUILD / name).relative_to(ROOT)}.md")
    return 0


def _warm() -> None:
    """Load what every child needs and no fault can be in, once for all."""
    import hypothesis
    import numpy
    import scipy.optimize
    import scipy.sparse

    assert all((hypothesis, numpy, scipy))


if __name__ == "__main__":
    sys.exit(main())
