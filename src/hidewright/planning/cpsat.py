"""The only door to OR-Tools: a core of tasks, precedence and capacities, and the shop's plan on top of it.

The core alone solves the published job-shop and project instances that the tests use. The shop's model adds people with hours, guns, passes on tables as
rectangles of length and time, and windows; it is warm-started from a plan that is already good.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Any

from .problem import Batch, Operation, Problem
from .schedule import Placement, Plan, Stay, ordered

CM = 100
"""Positions on tables are whole centimetres in the model."""


class Outcome(StrEnum):
    """How a search ended; never flattened."""

    PROVEN = "proven best"
    FEASIBLE = "good, not proven best"
    NOTHING = "nothing found in the time"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True)
class Solved:
    """What the core found: `starts` by task, the makespan and its bound."""

    outcome: Outcome
    makespan: int
    bound: int
    starts: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Task:
    """A task of the core: `minutes` long, after the tasks in `after`, using `needs` (resource to amount)."""

    key: str
    minutes: int
    after: tuple[str, ...] = ()
    needs: tuple[tuple[str, int], ...] = ()


class _Core:
    """Tasks, precedence and capacities in one CP-SAT model."""

    def __init__(self, horizon: int) -> None:
        from ortools.sat.python import cp_model

        self.cp = cp_model
        self.model = cp_model.CpModel()
        self.horizon = horizon
        self.starts: dict[str, Any] = {}
        self.intervals: dict[str, Any] = {}

    def add(self, key: str, minutes: int) -> Any:
        start = self.model.new_int_var(0, self.horizon - minutes, f"start {key}")
        self.starts[key] = start
        self.intervals[key] = self.model.new_fixed_size_interval_var(start, minutes, f"task {key}")
        return start

    def precede(self, before: str, minutes: int, after: str) -> None:
        self.model.add(self.starts[after] >= self.starts[before] + minutes)

    def capacity(self, uses: Sequence[tuple[str, int]], limit: int) -> None:
        if limit == 1:
            self.model.add_no_overlap([self.intervals[key] for key, _ in uses])
        else:
            self.model.add_cumulative(
                [self.intervals[key] for key, _ in uses], [amount for _, amount in uses], limit
            )

    def makespan(self, ends: Sequence[tuple[str, int]]) -> Any:
        last = self.model.new_int_var(0, self.horizon, "makespan")
        for key, minutes in ends:
            self.model.add(last >= self.starts[key] + minutes)
        return last

    def solve(self, seconds: float, workers: int, seed: int, callback: Any = None) -> tuple[Any, Outcome]:
        solver = self.cp.CpSolver()
        solver.parameters.max_time_in_seconds = seconds
        solver.parameters.num_workers = workers
        solver.parameters.random_seed = seed
        status = solver.solve(self.model, callback)
        outcomes: dict[Any, Outcome] = {
            self.cp.OPTIMAL: Outcome.PROVEN,
            self.cp.FEASIBLE: Outcome.FEASIBLE,
            self.cp.INFEASIBLE: Outcome.IMPOSSIBLE,
            self.cp.UNKNOWN: Outcome.NOTHING,
        }
        if status not in outcomes:
            raise RuntimeError(f"the planner's model is not valid: {self.model.validate()}")
        return solver, outcomes[status]


def least_makespan(
    tasks: Sequence[Task], capacities: Mapping[str, int], *, seconds: float, workers: int = 1, seed: int = 0
) -> Solved:
    """The shortest schedule of tasks under precedence and capacities (job shop, project scheduling)."""
    core = _Core(sum(t.minutes for t in tasks) + 1)
    by_key = {t.key: t for t in tasks}
    for task in tasks:
        core.add(task.key, task.minutes)
    for task in tasks:
        for before in task.after:
            core.precede(before, by_key[before].minutes, task.key)
    for resource, limit in capacities.items():
        uses = [(t.key, amount) for t in tasks for name, amount in t.needs if name == resource and amount]
        if uses:
            core.capacity(uses, limit)
    last = core.makespan([(t.key, t.minutes) for t in tasks])
    core.model.minimize(last)
    solver, outcome = core.solve(seconds, workers, seed)
    if outcome in (Outcome.NOTHING, Outcome.IMPOSSIBLE):
        return Solved(outcome, 0, 0, {})
    starts = {key: solver.value(var) for key, var in core.starts.items()}
    return Solved(outcome, solver.value(last), int(solver.best_objective_bound), starts)


class _ShopModel:
    """The shop's plan: every constraint is a method, and `build` calls them in order."""

    def __init__(self, problem: Problem, known: Plan) -> None:
        self.problem, self.known = problem, known
        self.core = _Core(known.finish + 1)
        self.model = self.core.model
        self.who: dict[tuple[str, str], Any] = {}
        self.on: dict[tuple[str, str, str], Any] = {}
        self.at: dict[tuple[str, str], Any] = {}
        self.operations: list[tuple[Batch, Operation]] = list(problem.operations())

    def build(self) -> None:
        self.tasks()
        self.order()
        self.hands()
        self.guns()
        self.tables()
        self.aim()
        self.hint()

    def tasks(self) -> None:
        for _, operation in self.operations:
            self.core.add(operation.key, operation.minutes)

    def order(self) -> None:
        for batch in self.problem.batches:
            for before, after in pairwise(batch.operations):
                self.core.precede(before.key, before.minutes + before.dry, after.key)
                if before.window is not None:
                    self.model.add(
                        self.core.starts[after.key]
                        <= self.core.starts[before.key] + before.minutes + before.window
                    )

    def hands(self) -> None:
        horizon = self.core.horizon
        for person in self.problem.people:
            busy = []
            for _, operation in self.operations:
                does = self.model.new_bool_var(f"{person.key} does {operation.key}")
                self.who[operation.key, person.key] = does
                busy.append(
                    self.model.new_optional_fixed_size_interval_var(
                        self.core.starts[operation.key],
                        operation.minutes,
                        does,
                        f"{person.key} {operation.key}",
                    )
                )
            edge = 0
            for start, end in [*self.problem.calendar.stretches(person), (horizon, horizon)]:
                if min(start, horizon) > edge:
                    busy.append(
                        self.model.new_fixed_size_interval_var(edge, min(start, horizon) - edge, "away")
                    )
                edge = min(end, horizon)
            self.model.add_no_overlap(busy)
        for _, operation in self.operations:
            self.model.add_exactly_one(self.who[operation.key, p.key] for p in self.problem.people)

    def guns(self) -> None:
        self.core.capacity([(o.key, 1) for _, o in self.operations if o.gun], self.problem.guns)

    def tables(self) -> None:
        rectangles: dict[str, tuple[list[Any], list[Any]]] = {t.key: ([], []) for t in self.problem.tables}
        for batch in self.problem.batches:
            for pass_key in batch.passes:
                inside = [o for o in batch.operations if o.table and o.pass_key == pass_key]
                start, last = self.core.starts[inside[0].key], inside[-1]
                end = self.model.new_int_var(
                    0, self.core.horizon + last.dry, f"leaves {batch.key} {pass_key}"
                )
                self.model.add(end == self.core.starts[last.key] + last.minutes + last.dry)
                size = self.model.new_int_var(
                    0, self.core.horizon + last.dry, f"stays {batch.key} {pass_key}"
                )
                length = _centimetres(batch.length)
                fitting = self.problem.fitting(batch)
                longest = max(_floor_centimetres(t.length) for t in fitting)
                at = self.model.new_int_var(0, longest - length, f"at {batch.key} {pass_key}")
                self.at[batch.key, pass_key] = at
                for table in fitting:
                    lies = self.model.new_bool_var(f"{batch.key} {pass_key} on {table.key}")
                    self.on[batch.key, pass_key, table.key] = lies
                    self.model.add(at <= _floor_centimetres(table.length) - length).only_enforce_if(lies)
                    times, places = rectangles[table.key]
                    times.append(self.model.new_optional_interval_var(start, size, end, lies, ""))
                    places.append(self.model.new_optional_fixed_size_interval_var(at, length, lies, ""))
                self.model.add_exactly_one(self.on[batch.key, pass_key, t.key] for t in fitting)
        for times, places in rectangles.values():
            self.model.add_no_overlap_2d(times, places)

    def aim(self) -> None:
        ends = [(b.operations[-1].key, b.operations[-1].minutes) for b in self.problem.batches]
        last = self.core.makespan(ends)
        weight = len(ends) * 4
        self.model.minimize(weight * last + sum(self.core.starts[key] for key, _ in ends))

    def hint(self) -> None:
        for p in self.known.placements:
            self.model.add_hint(self.core.starts[p.operation], p.start)
            for person in self.problem.people:
                self.model.add_hint(self.who[p.operation, person.key], person.key == p.person)
        for stay in self.known.stays:
            self.model.add_hint(self.at[stay.batch, stay.pass_key], round(stay.at * CM))
            for table in self.problem.fitting(self.problem.by_batch[stay.batch]):
                self.model.add_hint(self.on[stay.batch, stay.pass_key, table.key], table.key == stay.table)

    def read(self, value: Callable[[Any], int]) -> Plan:
        placements, stays, guns = [], [], [0] * self.problem.guns
        for batch, o in sorted(self.operations, key=lambda pair: value(self.core.starts[pair[1].key])):
            start = value(self.core.starts[o.key])
            person = next(p.key for p in self.problem.people if value(self.who[o.key, p.key]))
            gun = min(range(len(guns)), key=lambda g: guns[g]) if o.gun else None
            if gun is not None:
                guns[gun] = start + o.minutes
            placements.append(Placement(o.key, batch.key, o.kind, person, start, start + o.minutes, gun))
        ends = {p.operation: p for p in placements}
        for (batch_key, pass_key, table), lies in self.on.items():
            if value(lies):
                inside = [
                    o
                    for o in self.problem.by_batch[batch_key].operations
                    if o.table and o.pass_key == pass_key
                ]
                first, last = ends[inside[0].key], ends[inside[-1].key]
                at = value(self.at[batch_key, pass_key]) / CM
                stays.append(Stay(batch_key, pass_key, table, at, first.start, last.end + inside[-1].dry))
        return ordered(placements, stays)


def _centimetres(metres: float) -> int:
    from math import ceil

    return ceil(metres * CM - 1e-6)


def _floor_centimetres(metres: float) -> int:
    from math import floor

    return floor(metres * CM + 1e-6)


def polish(
    problem: Problem,
    known: Plan,
    *,
    seconds: float,
    workers: int = 1,
    seed: int = 0,
    on_better: Callable[[Plan], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Plan | None, Outcome]:
    """Try to better a plan with CP-SAT, warm-started from it; None where nothing better or equal was found in the time."""
    shop = _ShopModel(problem, known)
    shop.build()
    watcher = _watch(shop, on_better, should_stop)
    solver, outcome = shop.core.solve(seconds, workers, seed, watcher)
    if outcome in (Outcome.NOTHING, Outcome.IMPOSSIBLE):
        return None, outcome
    return shop.read(solver.value), outcome


def _watch(
    shop: _ShopModel, on_better: Callable[[Plan], None] | None, should_stop: Callable[[], bool] | None
) -> Any:
    from ortools.sat.python import cp_model

    class Watcher(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            if on_better:
                on_better(shop.read(self.value))
            if should_stop and should_stop():
                self.stop_search()

    return Watcher()
