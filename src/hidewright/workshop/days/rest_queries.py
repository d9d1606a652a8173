"""The rest of the job as values: what every job takes besides coating, what the log has taught of it, and what a job waits for."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from hidewright.planning.problem.kinds import Kind
from hidewright.planning.problem.milestones import Before, Expected, with_milestones
from hidewright.planning.problem.model import Problem
from hidewright.planning.problem.pace import Learned
from hidewright.planning.problem.rest import STARTING, Per, Rest, RestItem, When
from hidewright.workshop.days.models import Milestone, OtherWork
from hidewright.workshop.pieces.colour_queries import job_colours
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

BY_KEY = {item.key: item for item in STARTING}
KINDS = {
    When.FIRST: Kind.OWN_PREP,
    When.COLOUR: Kind.OWN_COLOUR,
    When.LAST: Kind.OWN_FINISH,
    When.MORNING: Kind.OWN_PREP,
    When.EVENING: Kind.OWN_PREP,
}
"""When it is done → its family of work."""


@remembered
def changed_rows() -> dict[str, OtherWork]:
    """What the shop changed or added, by its key."""
    return {row.key: row for row in OtherWork.objects.filter(removed=None)}


def version() -> int:
    """Grows with every change of the list."""
    return sum(OtherWork.objects.values_list("version", flat=True))


def rest_items() -> tuple[RestItem, ...]:
    """The list as it counts now: the starting values with what the shop changed, then its own."""
    rows = changed_rows()
    started = tuple(_changed(item, rows[item.key]) if item.key in rows else item for item in STARTING)
    return (*started, *(item_of(row) for key, row in rows.items() if key not in BY_KEY))


def _changed(item: RestItem, row: OtherWork) -> RestItem:
    return replace(item, minutes=row.minutes, each=row.each, days=row.days)


def item_of(row: OtherWork) -> RestItem:
    """A row of the shop's own as the planner takes it."""
    when = When(row.when)
    return RestItem(
        row.key, row.name, Per(row.per), when, row.minutes, KINDS[when], each=row.each, days=row.days
    )


def rest_of(job: Job, factors: Mapping[str, float] | None = None) -> Rest:
    """What `job` takes besides coating; an approval that has a day of its own, or came, is not waited for besides."""
    items = rest_items()
    if any(row.before == Before.COLOUR for row in milestones(job)):
        items = tuple(replace(item, days=0) if item.per is Per.COLOUR else item for item in items)
    return Rest(items, factors or {})


@remembered
def milestones(job: Job) -> tuple[Milestone, ...]:
    """What the job waits for or waited for."""
    return tuple(Milestone.objects.filter(job=job, lifted=None))


def waiting_for_others(job: Job, problem: Problem, done: Collection[str]) -> Problem:
    """The problem with what waits for others not before their day."""
    rows = [row for row in milestones(job) if row.came is None]
    if not rows:
        return problem
    groups: dict[str, set[str]] = {}
    for piece in pieces(job):
        groups.setdefault(piece.group, set()).add(piece.key)
    expected = [
        Expected(
            Before(row.before),
            row.day,
            frozenset(groups.get(row.group, ())) if row.group else None,
        )
        for row in rows
    ]
    return with_milestones(problem, expected, done)


def rest_told(job: Job) -> dict[str, Any]:
    """What a plan of `job` knew of it, JSON-able."""
    return {item.name: [item.minutes, item.each, item.days] for item in rest_of(job).items}


def rest_differences(job: Job, then: Mapping[str, Any]) -> Iterator[str]:
    """In words, what is different now."""
    now = rest_told(job)
    for name in sorted({*then, *now}):
        if then.get(name, [0, 0, 0]) != now.get(name, [0, 0, 0]):
            yield f"“{name}” takes other minutes" if name in now else f"“{name}” is left out"


@dataclass(frozen=True, slots=True)
class RestLine:
    """One line of the list as it is shown."""

    item: RestItem
    own: bool
    changed: bool
    learned: Learned | None

    @property
    def source(self) -> str:
        """Where the minutes come from."""
        if self.learned is not None and self.learned.entries:
            return self.learned.words
        if self.own:
            return "your own"
        if self.changed:
            start = BY_KEY[self.item.key]
            return f"set here; the usual figure is {start.minutes:g} min"
        return f"a usual figure; common practice is {self.item.low:g} to {self.item.high:g} min"


def rest_lines(learned: Mapping[str, Learned]) -> list[tuple[str, list[RestLine]]]:
    """The list in the order of the work: when it is done, and its lines."""
    rows = changed_rows()
    found: dict[When, list[RestLine]] = {when: [] for when in When}
    for item in rest_items():
        line = RestLine(item, item.key not in BY_KEY, item.key in rows, learned.get(item.name))
        found[item.when].append(line)
    return [(str(when).capitalize(), lines) for when, lines in found.items() if lines]


@dataclass(frozen=True, slots=True)
class RestHours:
    """Hours of hands that a job takes besides coating; `daily` min of every person's day come on top."""

    hours: float
    daily: int


def rest_hours(job: Job, factors: Mapping[str, float] | None = None) -> RestHours:
    """What `job` takes besides coating, in hours."""
    return _hours(rest_of(job, factors), pieces_of(job), colours_of(job))


def rest_hours_of(pieces: int, colours: int, factors: Mapping[str, float] | None = None) -> RestHours:
    """What a job of so many pieces and colours takes besides coating, in hours."""
    return _hours(Rest(rest_items(), factors or {}), pieces, colours)


def _hours(rest: Rest, pieces: int, colours: int) -> RestHours:
    return RestHours(rest.hands(pieces, colours) / 60, sum(rest.daily))


def pieces_of(job: Job) -> int:
    """How many pieces are coated here."""
    return len(pieces(job))


def colours_of(job: Job) -> int:
    """How many of the job's colours any piece gets, at least 1."""
    used = {piece.colour for piece in pieces(job)}
    return max(1, sum(1 for colour in job_colours(job) if colour.name in used))
