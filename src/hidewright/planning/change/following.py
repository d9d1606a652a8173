"""The shop as it stands, and planning again from there: following the plan that was there, and beside it everything anew."""

import random
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from hidewright.refusals import Refusal

from ..plan.schedule import Placement, Plan
from ..problem.calendar import DAY
from ..problem.kinds import COATS, product_of
from ..problem.model import Problem
from ..solve.climb import Climber
from ..solve.climb import Tried as ClimberTried
from ..solve.days import EASY
from ..solve.floor import Begun, Curing, Lies
from ..solve.line import IN_ORDER, line_of
from ..solve.odds import FEWEST, Odds, Spreads, odds_of
from ..solve.runs import Run, Start, plan_of
from ..solve.steps import Shop
from .follower import Follower
from .follower import Keeps as Keeps
from .follower import kept_of as kept_of
from .standing import Standing, whole_plan


@dataclass(frozen=True, slots=True)
class Tried:
    """Plans to take, the better first, each with whether everything was planned anew; `anew` the minute at which that would end; `odds` of the last day."""

    plans: tuple[tuple[Plan, bool], ...]
    anew: int
    odds: Odds | None


def shop_at(problem: Problem, standing: Standing, elsewhere: Sequence[Placement] = ()) -> tuple[Shop, Start]:
    """The shop as it stands: what is left of each piece, what lies where, what is wet, which loads are open and what the guns hold; `elsewhere` is what the same hands did on other jobs."""
    tables = {table.key: index for index, table in enumerate(problem.tables)}
    curing = {s.piece: s for s in standing.ended if s.until > standing.now and s.table in tables}
    handled = {p.piece for p in standing.placements if p.pass_key != "start"}
    begun: dict[int, Begun] = {}
    under: dict[int, str] = {}
    for number, job in enumerate(problem.jobs):
        left = standing.left[job.piece]
        ready = standing.ready[job.piece]
        if not left:
            if not any(o.on_table for o in job.operations):
                begun[number] = Begun(ready)
            continue
        stay = standing.lying.get(job.piece)
        if stay is not None and stay.table in tables:
            lies: Lies = (tables[stay.table], stay.at, stay.along, stay.across)
            curing.pop(job.piece, None)
            begun[number] = Begun(ready, (lies,), stay.since)
            under[number] = stay.pass_key
        elif problem.rack is not None and job.piece in curing:
            stay = curing.pop(job.piece)
            lies = (tables[stay.table], stay.at, stay.along, stay.across)
            begun[number] = Begun(ready, (lies,), stay.since, cured=(stay.pass_key, ready))
        else:
            begun[number] = Begun(ready, in_rack=job.piece in handled)
    only_cure = tuple(Curing(tables[s.table], s.at, s.along, s.until) for s in curing.values())
    shop = Shop(problem, [standing.left[job.piece] for job in problem.jobs], under)
    return shop, replace(_today(problem, shop, standing, elsewhere), begun=begun, curing=only_cure)


def _today(problem: Problem, shop: Shop, standing: Standing, elsewhere: Sequence[Placement]) -> Start:
    """What today's work has left: wet coats, loads, guns, and who is at what."""
    rules = problem.rules
    operations = {o.key: (job.colour, o) for job, o in problem.operations()}
    opening = max((day.opening for day in shop.days if day.opening <= standing.now), default=0)
    airs = {(s.piece, s.pass_key): s.table for s in (*standing.lying.values(), *standing.ended)}
    wet: dict[int, int] = {}
    guns = [("", 0)] * problem.guns
    loads: dict[str, tuple[int, int]] = {}
    mixed: dict[str, int] = {}
    people = {person.key: number for number, person in enumerate(problem.people)}
    at_work: dict[int, str] = {}
    for p in sorted((*standing.placements, *elsewhere), key=lambda p: (p.start, p.end)):
        if p.person in people and p.start >= opening:
            at_work[people[p.person]] = rules.family(p.kind)
    for p in sorted(standing.placements, key=lambda p: (p.start, p.end)):
        colour, operation = operations[p.operation]
        table = airs.get((p.piece, p.pass_key))
        if p.kind in COATS and table is not None:
            air = shop.airs.index(rules.air_of(table))
            wet[air] = max(wet.get(air, 0), problem.calendar.dries(p.end, operation.wet))
        if p.start < opening:
            continue
        product = product_of(p.kind, colour)
        if p.gun is not None and product is not None and p.gun < len(guns):
            inside, changes = guns[p.gun]
            guns[p.gun] = (product, changes + (bool(inside) and inside != product))
        if product is not None and product != "primer":
            serves = loads.get(product)
            if serves is None or p.end > serves[1]:
                life = problem.pot_life.get(product, problem.pot_life.get(product.split(" ")[0], 10**9))
                loads[product] = (p.start, p.start + life)
                mixed[product] = mixed.get(product, 0) + 1
    begun = [p for p in standing.placements if p.operation in standing.at_work]
    return Start(
        standing.now,
        wet=wet,
        guns=tuple(guns),
        loads=loads,
        mixed=mixed,
        at_work=at_work,
        busy={people[p.person]: p.end for p in begun if p.person in people},
        guns_busy={p.gun: p.end for p in begun if p.gun is not None and p.gun < len(guns)},
        dust={
            shop.airs.index(rules.air_of(airs[p.piece, p.pass_key])): p.end
            for p in begun
            if p.kind in rules.dusty and (p.piece, p.pass_key) in airs
        },
    )


ANEW = 0.35
"""Share of the time for planning everything anew, where days are to be kept."""
ODDS = 0.85
"""Share of the time after which the odds are counted at the latest."""
ODDS_RUNS = 30
"""How many runs the odds are read off, where there is time."""


def again_in_sessions(
    problem: Problem,
    before: Plan,
    standing: Standing,
    free: Collection[str],
    *,
    seconds: float,
    keep_days: bool,
    should_stop: Callable[[], bool] = lambda: False,
) -> Tried:
    """Follow the plan that was there, with more or less patience; beside it plan everything anew, to know how early it could end."""
    began = time.monotonic()

    def over(share: float) -> bool:
        return should_stop() or time.monotonic() - began > share * seconds

    shop, start = shop_at(problem, standing)
    climber = Climber(shop, random.Random(0), start)
    anew, one = _anew(climber, _Lapses(problem, shop, standing), over, ANEW if keep_days else ODDS)
    # The fewest runs that odds are read off must fit in, whatever one takes.
    search_ends = min(ODDS, max(0.5, 1 - 1.3 * FEWEST * one / max(seconds, 1e-6)))
    kept = None
    if keep_days:
        day = None if anew is None else anew.run.finish // DAY
        follower = Follower(problem, shop, start, before, standing, frozenset(free), day)
        kept = follower.best(lambda: over(search_ends))
    if anew is None and kept is None:
        raise Refusal(
            "The work does not end within the calendar.",
            remedy="Add hours, people or tables, or plan fewer pieces.",
        )
    runs: list[tuple[Run, bool]] = []
    if kept is not None:
        runs.append((kept, False))
    if anew is not None:
        runs.append((anew.run, True))
    day_of = problem.calendar.day
    if kept is not None and anew is not None and problem.promised is not None:
        late = day_of(kept.finish) > problem.promised
        if late and day_of(anew.run.finish) < day_of(kept.finish):
            runs.reverse()
    odds = None
    if not should_stop() and any(shop.steps):
        line = line_of(problem, shop, plan_of(shop, runs[0][0]))
        order = replace(IN_ORDER, starts=line.starts)
        odds = odds_of(
            shop, order, Spreads(), start=start, runs=ODDS_RUNS, follow=line, should_stop=lambda: over(1.0)
        )
    finish = anew.run.finish if anew is not None else kept.finish if kept is not None else 0
    plans = tuple((whole_plan(problem, standing, plan_of(shop, run)), new) for run, new in runs)
    return Tried(plans, finish, odds)


class _Lapses:
    """What was done lately and must be done again where its window passes before what follows: how often a run lets that happen."""

    def __init__(self, problem: Problem, shop: Shop, standing: Standing) -> None:
        ended = {p.operation: p.end for p in standing.placements}
        self.until: dict[int, int] = {}
        for number, (job, steps) in enumerate(zip(problem.jobs, shop.steps, strict=True)):
            at = len(job.operations) - sum(len(step.operations) for step in steps)
            before = job.operations[at - 1] if steps and at else None
            if before is not None and before.window is not None and before.key in ended:
                self.until[number] = ended[before.key] + before.window

    def rank(self, tried: ClimberTried) -> tuple[int, float]:
        """(how many, score): smaller is better."""
        if not self.until:
            return 0, tried.score
        first: dict[int, int] = {}
        for done in tried.run.done:
            first.setdefault(done.piece, done.start)
        return sum(first.get(piece, 0) > until for piece, until in self.until.items()), tried.score


def _anew(
    climber: Climber, lapses: _Lapses, over: Callable[[float], bool], share: float
) -> tuple[ClimberTried | None, float]:
    """The best run in that share of the time when everything may move, with the seconds that a run takes."""
    began = time.monotonic()
    best, count = None, 0
    for policy in EASY:
        tried = climber.try_out(policy, None if best is None else best.run.finish + DAY)
        count += 1
        if tried is not None and (best is None or lapses.rank(tried) < lapses.rank(best)):
            best = tried
        if best is not None and over(share):
            break
    one = (time.monotonic() - began) / count
    while best is not None and not over(share):
        for better in climber.climb(best, 4, lambda: over(share)):
            if lapses.rank(better) < lapses.rank(best):
                best = better
    return best, one
