"""The only door to OR-Tools' CP-SAT: the planning core (precedence and capacities), and an order of the work for the shop.

The constraints are methods that one list walks. The core solves published instances to their known optima (tests/reference). For the shop the tables are taken
together as one length, which is less than the truth, and the answer is used as an order only: the bench (`dispatch`) then makes a plan of it that keeps every rule.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from hidewright.refusals import Refusal

from ..problem.model import GAP
from .dispatch import Habits, Room
from .search import Found, score_of


class Ended(StrEnum):
    """How a solve ended; never flattened."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    IMPOSSIBLE = "impossible"
    NOTHING = "nothing found in time"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a core problem: whole `minutes`, what it `needs` (capacity index → amount), and (step, lag) pairs that must have ended `lag` min before it starts."""

    minutes: int
    needs: tuple[tuple[int, int], ...] = ()
    after: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Solved:
    """A core solution: `makespan` and `bound` in minutes, `starts` by step (empty when nothing was found)."""

    ended: Ended
    makespan: int | None
    bound: int
    starts: tuple[int, ...] = ()


def solve_core(
    steps: Sequence[Step],
    capacities: Sequence[int],
    *,
    seconds: float = 30.0,
    workers: int = 1,
    seed: int = 0,
    hint: Sequence[int] | None = None,
) -> Solved:
    """Shortest makespan of steps with precedences and renewable capacities (the job shop and the resource-constrained project are special cases)."""
    from ortools.sat.python import cp_model

    model = _Core(cp_model.CpModel(), steps, capacities)
    for constrain in (model.precedences, model.capacity, model.objective):
        constrain()
    if hint is not None:
        for start, value in zip(model.starts, hint, strict=True):
            model.model.add_hint(start, value)
    solver = cp_model.CpSolver()
    _set(solver, seconds, workers, seed)
    status = solver.solve(model.model)
    name = solver.status_name(status)
    if name not in ("OPTIMAL", "FEASIBLE"):
        ended = Ended.IMPOSSIBLE if name == "INFEASIBLE" else Ended.NOTHING
        return Solved(ended, None, int(solver.best_objective_bound))
    ended = Ended.OPTIMAL if name == "OPTIMAL" else Ended.FEASIBLE
    starts = tuple(solver.value(start) for start in model.starts)
    return Solved(ended, int(solver.objective_value), int(solver.best_objective_bound), starts)


def _set(solver: Any, seconds: float, workers: int, seed: int) -> None:
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed


class _Core:
    """The core model."""

    def __init__(self, model: Any, steps: Sequence[Step], capacities: Sequence[int]) -> None:
        self.model, self.steps, self.capacities = model, steps, capacities
        horizon = sum(s.minutes + max((lag for _, lag in s.after), default=0) for s in steps)
        self.starts = [model.new_int_var(0, horizon, f"s{i}") for i in range(len(steps))]
        self.intervals = [
            model.new_fixed_size_interval_var(start, step.minutes, f"i{i}")
            for i, (start, step) in enumerate(zip(self.starts, steps, strict=True))
        ]
        self.makespan = model.new_int_var(0, horizon, "makespan")

    def precedences(self) -> None:
        for start, step in zip(self.starts, self.steps, strict=True):
            for before, lag in step.after:
                self.model.add(start >= self.starts[before] + self.steps[before].minutes + lag)

    def capacity(self) -> None:
        for index, size in enumerate(self.capacities):
            users = [
                (interval, amount)
                for interval, step in zip(self.intervals, self.steps, strict=True)
                for need, amount in step.needs
                if need == index and amount > 0
            ]
            if users and size == 1 and all(amount == 1 for _, amount in users):
                self.model.add_no_overlap([interval for interval, _ in users])
            elif users:
                self.model.add_cumulative([i for i, _ in users], [a for _, a in users], size)

    def objective(self) -> None:
        for start, step in zip(self.starts, self.steps, strict=True):
            self.model.add(self.makespan >= start + step.minutes)
        self.model.minimize(self.makespan)


class _Shop:
    """The shop's model over the lots of a room, up to `horizon` minutes."""

    def __init__(self, cp: Any, room: Room, horizon: int) -> None:
        self.cp, self.room, self.horizon = cp, room, horizon
        self.model = cp.CpModel()
        self.starts: list[list[Any]] = []
        self.by_person: list[list[Any]] = [[] for _ in room.stretches]
        self.chosen: list[list[list[tuple[int, Any]]]] = []
        self.makespan = self.model.new_int_var(0, horizon, "makespan")

    def _domain(self, person: int, minutes: int, wet: int) -> list[list[int]]:
        found = []
        for a, b in self.room.stretches[person]:
            last = min(b, self.horizon) - minutes
            if self.room.problem.fan_off and wet:
                last = min(last, self.room.air(a) - minutes - wet)
            if last >= max(a, self.room.now):
                found.append([max(a, self.room.now), last])
        return found

    def stops(self) -> None:
        """Every stop starts within the hours of one person who can do it."""
        for number, lot in enumerate(self.room.lots):
            row: list[Any] = []
            choices: list[list[tuple[int, Any]]] = []
            for index, stop in enumerate(lot.stops):
                name = f"{number}.{index}"
                whole = [
                    d
                    for p in range(len(self.room.stretches))
                    if self.room.able[number][index][p]
                    for d in self._domain(p, stop.minutes, stop.wet)
                ]
                start = self.model.new_int_var_from_domain(
                    self.cp.Domain.from_intervals(whole or [[0, 0]]), name
                )
                row.append(start)
                choices.append(self._people(number, index, start, name))
            self.starts.append(row)
            self.chosen.append(choices)

    def _people(self, number: int, index: int, start: Any, name: str) -> list[tuple[int, Any]]:
        stop = self.room.lots[number].stops[index]
        found = []
        for person in range(len(self.room.stretches)):
            domain = self._domain(person, stop.minutes, stop.wet)
            if not self.room.able[number][index][person] or not domain:
                continue
            here = self.model.new_bool_var(f"{name}@{person}")
            interval = self.model.new_optional_fixed_size_interval_var(
                start, stop.minutes, here, f"{name}@{person}i"
            )
            self.model.add_linear_expression_in_domain(
                start, self.cp.Domain.from_intervals(domain)
            ).only_enforce_if(here)
            self.by_person[person].append(interval)
            found.append((person, here))
        self.model.add_exactly_one([here for _, here in found])
        return found

    def order(self) -> None:
        """A lot's stops follow each other when what was done before is dry, and not before what they wait for."""
        for number, (lot, row) in enumerate(zip(self.room.lots, self.starts, strict=True)):
            begun = self.room.begun.get(number)
            if begun is not None and row:
                self.model.add(row[0] >= begun.ready)
            for stop, start in zip(lot.stops, row, strict=True):
                if stop.release:
                    self.model.add(start >= stop.release)
            for a, b, stop in zip(row, row[1:], lot.stops, strict=False):
                self.model.add(b >= a + stop.minutes + stop.dry)

    def people(self) -> None:
        """One thing at a time."""
        for intervals in self.by_person:
            self.model.add_no_overlap(intervals)

    def guns(self) -> None:
        """As many sprayers at once as there are guns."""
        intervals = [
            self.model.new_fixed_size_interval_var(start + stop.gun[0], stop.gun[1] - stop.gun[0], "gun")
            for lot, row in zip(self.room.lots, self.starts, strict=True)
            for stop, start in zip(lot.stops, row, strict=True)
            if stop.gun is not None
        ]
        if self.room.problem.guns == 1:
            self.model.add_no_overlap(intervals)
        elif intervals:
            self.model.add_cumulative(intervals, [1] * len(intervals), self.room.problem.guns)

    def tables(self) -> None:
        """All pieces that lie somewhere fit on the tables taken together."""
        intervals, lengths = [], []
        for number, (lot, row) in enumerate(zip(self.room.lots, self.starts, strict=True)):
            opened: Any = (
                self.room.now if number in self.room.begun and self.room.begun[number].lies else None
            )
            for stop, start in zip(lot.stops, row, strict=True):
                opened = start if stop.opens else opened
                if stop.closes and opened is not None:
                    end = start + stop.minutes + stop.dry
                    size = self.model.new_int_var(0, 4 * self.horizon, "stay")
                    intervals.append(self.model.new_interval_var(opened, size, end, "lies"))
                    lengths.append(self._length(number))
                    opened = None
        total = sum(int(100 * t.length) for t in self.room.problem.tables)
        if intervals:
            self.model.add_cumulative(intervals, lengths, total)

    def _length(self, number: int) -> int:
        return sum(
            round(100 * (min((along for _, along, _ in ways), default=0.0) + GAP))
            for ways in self.room.lying[number]
        )

    def objective(self) -> None:
        """As early an end as can be."""
        for lot, row in zip(self.room.lots, self.starts, strict=True):
            if row:
                self.model.add(self.makespan >= row[-1] + lot.stops[-1].minutes + lot.stops[-1].dry)
        self.model.minimize(self.makespan)

    def hint(self, found: Found) -> None:
        """Start from a plan that is there."""
        for done in found.run.done:
            self.model.add_hint(self.starts[done.lot][done.stop], done.start)
            for person, here in self.chosen[done.lot][done.stop]:
                self.model.add_hint(here, int(person == done.person))


def better_order(
    found: Found,
    *,
    seconds: float,
    workers: int = 1,
    seed: int = 0,
    stop: Callable[[], bool] = lambda: False,
    offer: Callable[[Found], None] = lambda _: None,
) -> Found | None:
    """Look for an order of the lots of `found` that ends earlier; every better order the bench made is offered, the best is returned (None: nothing better)."""
    from ortools.sat.python import cp_model

    room = found.room
    shop = _Shop(cp_model, room, found.run.finish)
    for constrain in (shop.stops, shop.order, shop.people, shop.guns, shop.tables, shop.objective):
        constrain()
    shop.hint(found)
    best: list[Found] = []

    class Seen(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            starts = [[int(self.value(s)) for s in row] for row in shop.starts]
            limit = best[-1].run.finish if best else found.run.finish
            made = decode(found, starts)
            if made is not None and made.run.finish < limit:
                best.append(made)
                offer(made)
            if stop():
                self.stop_search()

    solver = cp_model.CpSolver()
    _set(solver, seconds, workers, seed)
    # Its linear relaxation says next to nothing about who goes first: without it ft10 is solved in seconds (bench_planning_machines).
    solver.parameters.linearization_level = 0
    solver.solve(shop.model, Seen())
    return best[-1] if best else None


def decode(found: Found, starts: Sequence[Sequence[int]]) -> Found | None:
    """The better of two plans the bench makes of these starts: as an order only, and waiting for each start."""
    room = found.room
    urgency = tuple(tuple(float(s) for s in row) for row in starts)
    made = []
    for not_before in (None, starts):
        for best_fit in (False, True):
            try:
                run = room.run(urgency, Habits(best_fit=best_fit), not_before=not_before)
            except Refusal:
                continue
            if run is not None:
                made.append(Found(room, run, score_of(room, run)))
    return min(made, key=lambda f: f.run.finish, default=None)
