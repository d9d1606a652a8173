"""Steps: what one person does in one go on one piece, compiled to plain numbers for the foreman.

A step is a run of operations that windows tie together. Steps that are alike form a group, and a group is what a session is made of.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from hidewright.refusals import Refusal

from ..problem.calendar import ShopDay, Stretch, open_hours, shop_days
from ..problem.chains import runs
from ..problem.kinds import COATS, SPRAYED, Kind, product_of
from ..problem.model import Job, Operation, Problem
from ..problem.nights import air_at
from ..problem.redo import redo

BEFORE = -10
"""The level of what comes before the wave of coats on a side: turning, masking, cleaning."""
PRIMER = -5
"""The level of primer: before all else in the wave."""
CLEAR = 900
"""The level of clear: after all colour."""
LEVEL = 10
"""How much each sanding raises the level."""

BLOCKS = {Kind.WIPE_IN: Kind.WIPE_DOWN, Kind.TACK: Kind.SAND}
"""Kinds that are done piece by piece together with another count as one block of work."""


def block_of(kind: Kind) -> Kind:
    """The block of work to which a kind belongs: wiping down and wiping in are one, sanding and tacking too."""
    return BLOCKS.get(kind, kind)


@dataclass(frozen=True, slots=True)
class Group:
    """What is alike in steps: the `kinds` in order, `products` (None where there is none), `level` in the wave (None: not of the wave), whether it makes dust, coats, sprays;
    `by_piece` when it is done piece by piece, else one operation on all pieces and then the next; `wave` when it belongs to the wave of coats proper; `guns` which operations hold one."""

    kinds: tuple[Kind, ...]
    products: tuple[str | None, ...]
    families: tuple[str, ...]
    level: int | None
    dusty: bool
    coats: bool
    sprays: bool
    by_piece: bool
    end: bool
    wave: bool
    guns: tuple[bool, ...]
    names: tuple[str, ...] = ()


@dataclass(slots=True)
class Step:
    """One step of a piece. `dry` min until its next step; `wet` min after its end in which it gives off vapour; `ahead` min of work from its start to the end of the pass;
    `stays` when its pass ends with it and the next begins on the same spot."""

    group: int
    operations: tuple[Operation, ...]
    minutes: tuple[int, ...]
    dry: int
    wet: int
    release: int
    pass_key: str
    opens: bool
    closes: bool
    total: int
    tied: int
    first: int
    after: tuple[str, ...] = ()
    stays: bool = False


class Shop:
    """A problem compiled for the foreman: days, hours, steps and groups. `left` gives for each job what is still to be done (default: all), `under` the pass that
    is under way by piece number."""

    def __init__(
        self,
        problem: Problem,
        left: Sequence[tuple[Operation, ...]] | None = None,
        under: Mapping[int, str] | None = None,
    ) -> None:
        self.problem = problem
        self.rules = problem.rules
        self.jobs: tuple[Job, ...] = problem.jobs
        self.groups: list[Group] = []
        self._known: dict[Group, int] = {}
        operations = left if left is not None else [job.operations for job in self.jobs]
        self.steps: list[list[Step]] = [
            self.compiled(job, rest, (under or {}).get(number, ""))
            for number, (job, rest) in enumerate(zip(self.jobs, operations, strict=True))
        ]
        self._again: dict[int, list[Step]] = {}
        for number, job in enumerate(self.jobs):
            try:
                redone = redo(job).operations[len(job.operations) :]
            except Refusal:
                redone = ()
            self._again[number] = self.compiled(job, redone)
        self.hours: list[tuple[Stretch, ...]] = [problem.hours_of(person) for person in problem.people]
        self.ends = [[b for _, b in hours] for hours in self.hours]
        self.days: tuple[ShopDay, ...] = shop_days(open_hours(problem.calendar, problem.people))
        self.openings = [day.opening for day in self.days]
        self.air_until = air_at(problem) if problem.fan_off else None
        self.tables = [table.length for table in problem.tables]
        self.airs = sorted({self.rules.air_of(table.key) for table in problem.tables})
        self.air_of_table = [self.airs.index(self.rules.air_of(table.key)) for table in problem.tables]
        self.ways = [[_ways(job, problem)] for job in self.jobs]
        self.along = [min((along for _, along, _ in ways[0]), default=0.0) for ways in self.ways]

    @cached_property
    def able(self) -> list[list[bool]]:
        """For each group and person, whether the person does all of it."""
        return [[all(p.can(kind) for kind in g.kinds) for p in self.problem.people] for g in self.groups]

    @cached_property
    def lives(self) -> dict[str, int]:
        """Product → its pot life, min; that of colour counts for each colour that has none of its own."""
        found: dict[str, int] = {}
        for group in self.groups:
            for product in group.products:
                if product is None:
                    continue
                life = self.problem.pot_life.get(product)
                if life is None and product.startswith("colour "):
                    life = self.problem.pot_life.get("colour")
                if life is not None:
                    found[product] = life
        return found

    @cached_property
    def urgent(self) -> frozenset[int]:
        """The groups of work for which other pieces wait, and what comes before it: it goes first."""
        awaited = {name for steps in self.steps for step in steps for name in step.after}
        found: set[int] = set()
        for steps in self.steps if awaited else ():
            last = max(
                (n + 1 for n, s in enumerate(steps) if any(o.key in awaited for o in s.operations)), default=0
            )
            found.update(step.group for step in steps[:last])
        return frozenset(found)

    def again(self, piece: int) -> list[Step]:
        """The steps of a piece that failed its inspection; empty when there is nothing that it can go through again."""
        return self._again[piece]

    def compiled(self, job: Job, operations: Sequence[Operation], before: str = "") -> list[Step]:
        """The steps of a job, or of what is left of it; `before` the pass that is under way already."""
        whole = job.operations if operations and operations[-1] is job.operations[-1] else operations
        levels = _levels(whole, self.rules.dusty)[len(whole) - len(operations) :]
        steps: list[Step] = []
        parts = list(runs(tuple(operations)))
        stays = job.stays
        at = 0
        for number, run in enumerate(parts):
            group = self._group(job, run, levels[at])
            pass_key, table = run[0].pass_key, run[0].on_table
            last = parts[number - 1][0].pass_key if number else before
            after = parts[number + 1][0].pass_key if number + 1 < len(parts) else ""
            minutes = tuple(o.minutes for o in run)
            steps.append(
                Step(
                    group,
                    tuple(run),
                    minutes,
                    run[-1].dry,
                    max((o.wet for o in run if o.kind in COATS), default=0),
                    max(o.release for o in run),
                    pass_key,
                    table and last != pass_key and not (last and pass_key in stays),
                    table and after != pass_key,
                    sum(minutes) + sum(o.dry for o in run[:-1]),
                    min((o.window for o in run if o.window is not None), default=10**9),
                    minutes[0],
                    tuple(name for o in run for name in o.after),
                    after != pass_key and after in stays,
                )
            )
            at += len(run)
        return steps

    def _group(self, job: Job, run: Sequence[Operation], level: int | None) -> int:
        rules = self.rules
        kinds = tuple(o.kind for o in run)
        group = Group(
            kinds,
            tuple(product_of(kind, job.colour) for kind in kinds),
            tuple(rules.family(kind) for kind in kinds),
            level,
            any(kind in rules.dusty for kind in kinds),
            any(kind in COATS for kind in kinds),
            any(kind in SPRAYED for kind in kinds),
            len({block_of(kind) for kind in kinds}) == 1,
            run[0].pass_key.startswith("end"),
            level is not None and level > BEFORE,
            tuple(o.gun for o in run),
            tuple(o.name for o in run) if any(o.name for o in run) else (),
        )
        if group not in self._known:
            self._known[group] = len(self.groups)
            self.groups.append(group)
            self.__dict__.pop("able", None)
            self.__dict__.pop("lives", None)
        return self._known[group]


def _levels(operations: Sequence[Operation], dusty: frozenset[Kind]) -> list[int | None]:
    """For each operation its level in the wave of coats of its pass; None where the pass has no coat."""
    found: list[int | None] = []
    at = 0
    while at < len(operations):
        end = at
        while end < len(operations) and operations[end].pass_key == operations[at].pass_key:
            end += 1
        found += _in_pass(operations[at:end], dusty)
        at = end
    return found


def _in_pass(operations: Sequence[Operation], dusty: frozenset[Kind]) -> list[int | None]:
    if not any(o.kind in COATS for o in operations):
        return [None] * len(operations)
    found: list[int | None] = []
    level, begun = 0, False
    for number, o in enumerate(operations):
        if not begun:
            tied = o.window is not None
            begun = o.kind in COATS or tied or (o.kind in dusty and o.kind is Kind.SAND)
        if not begun:
            found.append(BEFORE)
            continue
        if o.kind in dusty:
            level += LEVEL
        coat = next((x.kind for x in operations[number:] if x.kind in COATS), o.kind)
        last = all(x.kind not in COATS or x.kind is Kind.CLEAR for x in operations[number:])
        if level == 0 and coat is Kind.PRIME and (o.window is not None or o.kind is Kind.PRIME):
            found.append(PRIMER)
        elif last and o.kind not in dusty and coat is Kind.CLEAR:
            found.append(CLEAR)
        else:
            found.append(level)
    return found


def _ways(job: Job, problem: Problem) -> tuple[tuple[int, float, float], ...]:
    found = []
    for index, table in enumerate(problem.tables):
        lies = job.on(table)
        if lies:
            found.append((index, *lies))
    return tuple(found)
