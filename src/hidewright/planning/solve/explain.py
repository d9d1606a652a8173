"""What a plan means in words: what holds it up, and how much slack each piece has."""

from collections.abc import Mapping
from dataclasses import dataclass

from hidewright.dates import short_day
from hidewright.units import counted

from ..plan.racks import rack_use
from ..plan.schedule import Plan
from ..problem.calendar import DAY, open_hours
from ..problem.chains import run_minutes, runs
from ..problem.model import GAP, Problem
from .bound import Bound
from .listplan import deadline_of, latest_start


@dataclass(frozen=True, slots=True)
class Load:
    """How full the shop is until the plan ends: shares 0..1 of hands, guns and table length (by night), and the fullest night."""

    hands: float
    gun: float
    nights: Mapping[int, float]

    @property
    def full_nights(self) -> int:
        """On how many nights the tables are nearly full."""
        return sum(1 for share in self.nights.values() if share >= 0.85)

    @property
    def tables_full(self) -> bool:
        """Whether table length holds things up: nearly full on half of the nights."""
        return self.full_nights > 0 and self.full_nights * 2 >= len(self.nights)

    @property
    def hands_full(self) -> bool:
        """Whether hands hold things up."""
        return self.hands >= 0.85

    @property
    def gun_full(self) -> bool:
        """Whether the gun holds things up."""
        return self.gun >= 0.7

    @property
    def fullest_night(self) -> tuple[int, float]:
        """(day number, share) of the night on which the tables are fullest; (0, 0.0) when nothing lies overnight."""
        return max(self.nights.items(), key=lambda item: item[1], default=(0, 0.0))


def load_of(problem: Problem, plan: Plan) -> Load:
    """How full the shop is in this plan."""
    finish = max(p.end for p in plan.placements)
    hours = sum(problem.calendar.working_minutes(p, finish) for p in problem.people)
    open_ = sum(min(b, finish) - a for a, b in open_hours(problem.calendar, problem.people) if a < finish)
    sprayed = sum(p.end - p.start for p in plan.placements if p.gun is not None)
    metres = sum(t.length for t in problem.tables)
    closings = {a // DAY: b for a, b in open_hours(problem.calendar, problem.people) if a < finish}
    nights = {
        day: sum(s.along + GAP for s in plan.stays if s.since <= minute < s.until) / metres
        for day, minute in closings.items()
    }
    nights = {day: share for day, share in nights.items() if share > 0}
    hands = sum(p.end - p.start for p in plan.placements) / max(1, hours)
    return Load(hands, sprayed / max(1, open_ * problem.guns), nights)


@dataclass(frozen=True, slots=True)
class Tight:
    """One thing that holds a plan up: `what` it is in a word or two, `words` its figures, without a full stop."""

    what: str
    words: str


def tight(problem: Problem, plan: Plan) -> tuple[Tight, ...]:
    """What holds a plan up, each with its figures; nights of curing where nothing else does."""
    load = load_of(problem, plan)
    _, share = load.fullest_night
    racks = rack_use(problem, plan)
    found = [Tight("Racks", racks.words)] if racks.kept else []
    if load.tables_full:
        found.append(Tight("Table length", _full_tables(problem, load)))
    if load.hands_full:
        people = "the one person is" if len(problem.people) == 1 else "the people are"
        found.append(Tight("Hands", f"{people} at work {100 * load.hands:.0f} % of their hours"))
    if load.gun_full:
        guns = "it sprays" if problem.guns == 1 else f"the {problem.guns} guns spray"
        found.append(Tight("Spraying", f"{guns} {100 * load.gun:.0f} % of the open hours"))
    if found:
        return tuple(found)
    words = f"hands are busy {100 * load.hands:.0f} % of their hours, and the tables {100 * share:.0f} % full on the fullest night"
    return (Tight("Nights of curing", f"{words}: what counts is how many nights a piece needs"),)


def _full_tables(problem: Problem, load: Load) -> str:
    night, share = load.fullest_night
    day = problem.calendar.moment(night * DAY)
    nights = len(load.nights)
    fullest = f"{100 * share:.0f} % full on the night of {short_day(day)}"
    return f"{fullest}, nearly full on {load.full_nights} of {counted(nights, 'night')}"


def bottleneck(problem: Problem, plan: Plan, bound: Bound) -> str:
    """What holds the plan up, in sentences with their figures, and why no plan can end sooner than the bound."""
    return " ".join([*(f"{one.what}: {one.words}." for one in tight(problem, plan)), bound.why])


def slack_per_piece(problem: Problem, plan: Plan) -> dict[str, int]:
    """For each piece, the open minutes by which its remaining steps could slip before the promised day (or the plan's own last day), were it alone; below 0 when late."""
    open_ = open_hours(problem.calendar, problem.people)
    deadline = (
        deadline_of(problem)
        if problem.promised
        else problem.calendar.end_of(problem.calendar.day(plan.finish))
    )
    starts = {p.operation: p.start for p in plan.placements}
    found = {}
    for job in problem.jobs:
        end = min(deadline, problem.calendar.end_of(job.due)) if job.due else deadline
        least = 10**9
        for run in reversed(tuple(runs(job.operations))):
            latest = latest_start(open_, end - run[-1].dry, run_minutes(run))
            planned = starts[run[0].key]
            least = min(least, _open_between(open_, planned, latest))
            end = latest
        found[job.piece] = least
    return found


def _open_between(open_: tuple[tuple[int, int], ...], a: int, b: int) -> int:
    low, high = min(a, b), max(a, b)
    minutes = sum(max(0, min(y, high) - max(x, low)) for x, y in open_)
    return minutes if b >= a else -minutes
