"""The audit: every plan is checked against the rules of the shop by code that does not know who made it."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from .problem import SPRAYED, Kind, Operation, Problem
from .schedule import Placement, Plan, Stay


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule that a plan breaks: its name, where, and what is wrong."""

    rule: str
    where: str
    what: str


def audit(problem: Problem, plan: Plan) -> tuple[Breach, ...]:
    """Every breach in the plan; an empty tuple means that it keeps all rules."""
    return tuple(breach for rule in RULES for breach in rule(problem, plan))


def _operations(problem: Problem) -> dict[str, Operation]:
    return {operation.key: operation for _, operation in problem.operations()}


def _each_once(problem: Problem, plan: Plan) -> Iterator[Breach]:
    wanted = {o.key: b.key for b, o in problem.operations()}
    seen: dict[str, int] = defaultdict(int)
    for p in plan.placements:
        seen[p.operation] += 1
        if wanted.get(p.operation) != p.batch:
            yield Breach("each once", p.operation, "is no operation of this batch")
    for key in wanted:
        if seen[key] != 1:
            yield Breach("each once", key, f"is planned {seen[key]} times")


def _long_enough(problem: Problem, plan: Plan) -> Iterator[Breach]:
    operations = _operations(problem)
    for p in plan.placements:
        operation = operations.get(p.operation)
        if operation and (p.end - p.start != operation.minutes or p.kind != operation.kind):
            yield Breach(
                "long enough", p.operation, f"takes {p.end - p.start} min instead of {operation.minutes}"
            )


def _in_hours(problem: Problem, plan: Plan) -> Iterator[Breach]:
    people = {p.key: p for p in problem.people}
    for p in plan.placements:
        if p.person not in people:
            yield Breach("working hours", p.operation, f"nobody is called {p.person}")
        elif not any(a <= p.start and p.end <= b for a, b in problem.calendar.stretches(people[p.person])):
            yield Breach("working hours", p.operation, f"lies outside the hours of {p.person}")


def _clashes(spans: list[tuple[int, int, str]]) -> Iterator[tuple[str, str]]:
    spans.sort()
    reach, holder = -1, ""
    for start, end, key in spans:
        if start < reach:
            yield holder, key
        if end > reach:
            reach, holder = end, key


def _one_thing_at_a_time(problem: Problem, plan: Plan) -> Iterator[Breach]:
    by_person: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
    for p in plan.placements:
        by_person[p.person].append((p.start, p.end, p.operation))
    for person, spans in by_person.items():
        for first, second in _clashes(spans):
            yield Breach("one thing at a time", second, f"{person} is still at {first}")


def _guns(problem: Problem, plan: Plan) -> Iterator[Breach]:
    by_gun: dict[int, list[tuple[int, int, str]]] = defaultdict(list)
    for p in plan.placements:
        if p.kind in SPRAYED and p.gun is None:
            yield Breach("gun", p.operation, "is sprayed without a gun")
        if p.gun is not None:
            by_gun[p.gun].append((p.start, p.end, p.operation))
            if not 0 <= p.gun < problem.guns:
                yield Breach("gun", p.operation, f"gun {p.gun} is not there")
    for gun, spans in by_gun.items():
        for first, second in _clashes(spans):
            yield Breach("gun", second, f"gun {gun} is still at {first}")


def _by_key(plan: Plan) -> dict[str, Placement]:
    return {p.operation: p for p in plan.placements}


def _in_turn(problem: Problem, plan: Plan) -> Iterator[Breach]:
    placed = _by_key(plan)
    for batch in problem.batches:
        for before, after in pairwise(batch.operations):
            if before.key not in placed or after.key not in placed:
                continue
            ready = placed[before.key].end + before.dry
            start = placed[after.key].start
            if start < ready:
                rule = "turn after cure" if after.kind is Kind.TURN else "dry first"
                yield Breach(rule, after.key, f"starts {ready - start} min before {before.kind} is dry")
            if before.window is not None and start > placed[before.key].end + before.window:
                yield Breach(
                    "within its window",
                    after.key,
                    f"starts later than {before.window} min after {before.kind}",
                )


def _stays(problem: Problem, plan: Plan) -> Iterator[Breach]:
    placed = _by_key(plan)
    stays = {(s.batch, s.pass_key): s for s in plan.stays}
    if len(stays) != len(plan.stays):
        yield Breach("unbroken stretch", "stays", "a batch lies in two places in one pass")
    for batch in problem.batches:
        for pass_key in batch.passes:
            stay = stays.get((batch.key, pass_key))
            if stay is None:
                yield Breach("unbroken stretch", f"{batch.key}/{pass_key}", "lies on no table")
                continue
            for operation in batch.operations:
                p = placed.get(operation.key)
                if (
                    p
                    and operation.table
                    and operation.pass_key == pass_key
                    and not (stay.start <= p.start and p.end + operation.dry <= stay.end)
                ):
                    yield Breach(
                        "no move while wet", operation.key, "its piece is not on its table until it is dry"
                    )


def _on_the_table(problem: Problem, plan: Plan) -> Iterator[Breach]:
    tables = {t.key: t for t in problem.tables}
    batches = problem.by_batch
    for stay in plan.stays:
        table, batch = tables.get(stay.table), batches.get(stay.batch)
        if table is None or batch is None:
            yield Breach(
                "on the table", f"{stay.batch}/{stay.pass_key}", "the table or the batch is not there"
            )
        elif (
            stay.at < -1e-6
            or stay.at + batch.length > table.length + 1e-6
            or batch.depth > table.depth + 1e-6
        ):
            yield Breach(
                "on the table", f"{stay.batch}/{stay.pass_key}", f"hangs over the edge of {table.name}"
            )


def _side_by_side(problem: Problem, plan: Plan) -> Iterator[Breach]:
    batches = problem.by_batch
    by_table: dict[str, list[Stay]] = defaultdict(list)
    for stay in plan.stays:
        if stay.batch in batches:
            by_table[stay.table].append(stay)
    for table, stays in by_table.items():
        stays.sort(key=lambda s: s.start)
        for i, first in enumerate(stays):
            for second in stays[i + 1 :]:
                if second.start >= first.end:
                    break
                apart = (
                    second.at >= first.at + batches[first.batch].length - 1e-6
                    or first.at >= second.at + batches[second.batch].length - 1e-6
                )
                if not apart:
                    yield Breach(
                        "side by side",
                        f"{second.batch}/{second.pass_key}",
                        f"lies on {first.batch} on {table}",
                    )


RULES: tuple[Callable[[Problem, Plan], Iterator[Breach]], ...] = (
    _each_once, _long_enough, _in_hours, _one_thing_at_a_time, _guns, _in_turn, _stays, _on_the_table, _side_by_side,
)  # fmt: skip
