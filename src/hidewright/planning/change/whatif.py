"""What if: the same work with a helper more, a longer room, a Saturday, fewer pieces to strip, or parts that turn up, each planned for a few seconds and audited."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from hidewright.units import counted

from ..plan.schedule import Plan
from ..problem.calendar import Person, Week
from ..problem.model import Job, Kind, Problem, Table
from ..solve.explain import tight
from ..solve.planner import PlanResult, plan
from .replan import replan
from .standing import Took

Change = tuple[str, Callable[[Problem], Problem]]
"""A change in words, and what it makes of a problem."""

SATURDAY = 5


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One change in words, with the day on which the work would end and the days that saves (below 0: it takes longer)."""

    words: str
    finish_day: date
    days_saved: int
    minutes_saved: int
    result: PlanResult

    @property
    def told(self) -> str:
        """The difference in words."""
        if self.days_saved == 0:
            hours = self.minutes_saved / 60
            return "the same day" + (f", {hours:.1f} h earlier" if hours >= 0.5 else "")
        days = abs(self.days_saved)
        return f"{counted(days, 'day')} {'sooner' if self.days_saved > 0 else 'later'}"


def with_helper(problem: Problem) -> Problem:
    """Somebody more, with the hours of the first person."""
    first = problem.people[0]
    helper = Person("helper-more", "one more helper", first.week, absences=first.absences)
    return replace(problem, people=(*problem.people, helper))


def with_table(problem: Problem, length: float = 2.0) -> Problem:
    """A trestle of `length` m more, as deep as the deepest table."""
    depth = max(t.depth for t in problem.tables)
    return replace(problem, tables=(*problem.tables, Table("table-more", "one more trestle", length, depth)))


def with_saturday(problem: Problem) -> Problem:
    """Saturdays with the hours of Friday (or of the longest day) for everybody who has them free."""
    people = []
    for person in problem.people:
        hours = dict(person.week.hours)
        if not hours.get(SATURDAY):
            hours[SATURDAY] = hours.get(4) or max(hours.values(), key=lambda s: sum(b - a for a, b in s))
        people.append(replace(person, week=Week(hours)))
    return replace(problem, people=tuple(people))


def with_gun(problem: Problem) -> Problem:
    """A spray gun more."""
    return replace(problem, guns=problem.guns + 1)


def with_rack(problem: Problem, places: int = 6) -> Problem:
    """A rack more, of so many places; nothing changes where nobody counted them."""
    return replace(problem, rack=problem.rack + places) if problem.rack is not None else problem


def without_stripping(problem: Problem, share: float = 0.5) -> Problem:
    """The last `share` of the stripped pieces keep their old coat."""
    stripped = [j.piece for j in problem.jobs if any(o.kind is Kind.STRIP for o in j.operations)]
    kept = set(stripped[round(len(stripped) * (1 - share)) :])
    return replace(problem, jobs=tuple(_unstripped(j) if j.piece in kept else j for j in problem.jobs))


def _unstripped(job: Job) -> Job:
    left = tuple(o for o in job.operations if o.pass_key != "prep" or o.kind is Kind.REPAIR)
    return replace(job, operations=left)


def with_extra_parts(problem: Problem, share: float = 0.1) -> Problem:
    """More parts turn up: `share` of the pieces once more, taken evenly from the whole list, and at least one."""
    every = max(1, round(1 / share))
    more = problem.jobs[::every]
    return replace(problem, jobs=(*problem.jobs, *(_once_more(job) for job in more)))


def _once_more(job: Job) -> Job:
    operations = tuple(replace(o, key=f"more-{o.key}") for o in job.operations)
    return replace(job, piece=f"more-{job.piece}", operations=operations)


HELPER: Change = ("One more helper", with_helper)
TABLE: Change = ("One more 2 m trestle", with_table)
SATURDAYS: Change = ("Saturdays too", with_saturday)
GUN: Change = ("One more spray gun", with_gun)
RACK: Change = ("Six more places in a rack", with_rack)
MORE = (HELPER, TABLE, RACK, SATURDAYS, GUN)
"""What only gives room: the plan that is there would still hold, so that none of these can end later."""
EASED_BY: Mapping[str, Change] = {"Racks": RACK, "Table length": TABLE, "Hands": HELPER, "Spraying": GUN}
"""What holds a plan up → the change that would ease it."""
CHANGES: tuple[Change, ...] = (
    *MORE,
    ("Half the stripping left out", without_stripping),
    ("A tenth more parts turn up", with_extra_parts),
)


@dataclass(frozen=True, slots=True)
class UnderWay:
    """Work that has begun: the plan `before`, what is `done` (operation key → start, end) and the minute `now`."""

    before: Plan
    done: Mapping[str, Took]
    now: int


def what_ifs(
    problem: Problem,
    result: PlanResult,
    *,
    seconds: float = 3.0,
    seed: int = 0,
    changes: tuple[Change, ...] = CHANGES,
    under_way: UnderWay | None = None,
    planner: Callable[[Problem], PlanResult] | None = None,
    on_change: Callable[[int, str], None] = lambda number, words: None,
    should_stop: Callable[[], bool] = lambda: False,
) -> Iterator[WhatIf]:
    """Each change planned for `seconds`, one by one, beside the plan that is there; work that has begun goes on from how it stands.

    `planner` plans each instead, such as around what other jobs hold. `on_change` is told of each change, by its number and words, before it is planned.
    """

    def planned(changed: Problem) -> PlanResult:
        if planner is not None:
            return planner(changed)
        return _planned(changed, seconds, seed, under_way, should_stop)

    if under_way is not None or planner is not None:
        anew = planned(problem)
        result = min(result, anew, key=lambda one: one.finish)
    assert result.finish_day is not None
    for number, (words, change) in enumerate(changes):
        on_change(number, words)
        if should_stop():
            return
        changed = change(problem)
        if changed == problem:
            continue
        other = planned(changed)
        if (words, change) in MORE and other.finish > result.finish:
            other = result
        if other.plan is not None and other.finish_day is not None:
            saved = (result.finish_day - other.finish_day).days
            yield WhatIf(words, other.finish_day, saved, result.finish - other.finish, other)


def _planned(
    problem: Problem,
    seconds: float,
    seed: int,
    under_way: UnderWay | None,
    should_stop: Callable[[], bool],
) -> PlanResult:
    if under_way is None:
        return plan(problem, seconds=seconds, seed=seed, should_stop=should_stop)
    known = {operation.key for _, operation in problem.operations()}
    done = {key: took for key, took in under_way.done.items() if key in known}
    return replan(
        problem,
        under_way.before,
        done,
        under_way.now,
        seconds=seconds,
        keep_days=False,
        should_stop=should_stop,
    ).result


def easing(problem: Problem, plan: Plan) -> tuple[Change, ...]:
    """What could end this plan sooner, the likeliest first: what holds it up, then the rest."""
    likely = [EASED_BY[one.what] for one in tight(problem, plan) if one.what in EASED_BY]
    return (*likely, *(change for change in (SATURDAYS, HELPER, TABLE, GUN) if change not in likely))


def relief(
    problem: Problem,
    result: PlanResult,
    *,
    seconds: float = 2.0,
    most: int = 3,
    under_way: UnderWay | None = None,
    should_stop: Callable[[], bool] = lambda: False,
) -> tuple[WhatIf, ...]:
    """What would ease the bottleneck of the plan that is there: “one more 2 m trestle: 1 day sooner”.

    Each change is planned for `seconds`, up to the first that saves a day and `most` of them. What holds the plan up is always tried.
    """
    assert result.plan is not None
    found: list[WhatIf] = []
    for one in what_ifs(
        problem,
        result,
        seconds=seconds,
        changes=easing(problem, result.plan)[:most],
        under_way=under_way,
        should_stop=should_stop,
    ):
        found.append(one)
        if one.days_saved > 0:
            break
    return tuple(found)


def relief_words(found: Sequence[WhatIf]) -> str:
    """The same in sentences; empty where nothing was tried."""
    return " ".join(f"{one.words}: {one.told}." for one in found)
