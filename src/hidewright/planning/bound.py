"""How early any plan could end: the strongest of four capacity relaxations, each true for every plan that keeps the rules.

Hands: all work divided over everybody's hours. Gun: all spraying, in hours in which anybody works. Tables: every pass's length times its shortest stay, over all
table length. Chain: the longest batch alone in an empty shop. Sources: the usual relaxations of resource-constrained scheduling (Klein & Scholl, Eur. J.
Oper. Res. 112 (1999) 322, for the idea of a destructive or capacity bound).
"""

from dataclasses import dataclass, replace
from itertools import pairwise

from .calendar import Stretch
from .listplan import list_plan
from .problem import Batch, Problem


@dataclass(frozen=True, slots=True)
class Bound:
    """No plan ends before `minute`; `reason` is hands, gun, tables or chain, `words` says it to a person."""

    minute: int
    reason: str
    words: str


def _reach(stretches: list[Stretch], work: float) -> int:
    """The first minute by which `work` minutes fit into the stretches (which may overlap: several people)."""
    events = sorted({edge for stretch in stretches for edge in stretch})
    for begin, end in pairwise(events):
        rate = sum(a <= begin and b >= end for a, b in stretches)
        if work <= rate * (end - begin):
            return begin + int(-(-work // rate)) if rate else begin
        work -= rate * (end - begin)
    return events[-1]


def lower_bound(problem: Problem) -> Bound:
    """The strongest bound, with its reason."""
    return max((_hands(problem), _gun(problem), _tables(problem), _chain(problem)), key=lambda b: b.minute)


def _all_stretches(problem: Problem) -> list[Stretch]:
    return [s for person in problem.people for s in problem.calendar.stretches(person)]


def _hands(problem: Problem) -> Bound:
    work = sum(o.minutes for _, o in problem.operations())
    minute = _reach(_all_stretches(problem), work)
    return Bound(minute, "hands", f"{work / 60:.0f} hours of work for {len(problem.people)} pairs of hands")


def _gun(problem: Problem) -> Bound:
    work = sum(o.minutes for _, o in problem.operations() if o.gun)
    edges = sorted(_all_stretches(problem))
    anybody: list[Stretch] = []
    for a, b in edges:
        if anybody and a <= anybody[-1][1]:
            anybody[-1] = (anybody[-1][0], max(b, anybody[-1][1]))
        else:
            anybody.append((a, b))
    minute = _reach(anybody, work / problem.guns)
    return Bound(
        minute,
        "gun",
        f"{work / 60:.0f} hours of spraying with {problem.guns} gun{'s' if problem.guns > 1 else ''}",
    )


def _tables(problem: Problem) -> Bound:
    asked = sum(
        batch.length * _stay(batch, pass_key) for batch in problem.batches for pass_key in batch.passes
    )
    length = sum(t.length for t in problem.tables)
    first = min(a for a, _ in _all_stretches(problem))
    minute = first + int(asked / length)
    return Bound(
        minute, "tables", f"{asked / 60:.0f} metre-hours of drying and work on {length:.1f} m of table"
    )


def _stay(batch: Batch, pass_key: str) -> int:
    inside = [o for o in batch.operations if o.table and o.pass_key == pass_key]
    return sum(o.minutes + o.dry for o in inside)


def _chain(problem: Problem) -> Bound:
    """The longest batch alone, taken piece of work by piece of work at the earliest moment that anybody is there."""
    found = []
    for batch in problem.batches:
        alone = replace(
            problem,
            batches=(replace(batch, operations=tuple(replace(o, window=None) for o in batch.operations)),),
        )
        found.append((list_plan(alone).finish, batch.name))
    minute, name = max(found)
    return Bound(minute, "chain", f"{name} alone, with its drying and its nights")
