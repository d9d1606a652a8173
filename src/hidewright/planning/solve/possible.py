"""What no plan can do: found before planning, with the rule, the piece, and the smallest change that would make it possible."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import pairwise

from hidewright.dates import dated_day, short_day
from hidewright.refusals import Refusal, Refusals

from ..problem.chains import run_minutes, runs
from ..problem.model import GAP, MIXED, Job, Operation, Problem
from ..problem.nights import air_at
from .bound import earliest_finish
from .lots import stop_of

MOST_NAMED = 8


def refuse_impossible(problem: Problem, *, done: Collection[str] = (), now: int = 0) -> None:
    """Raise `Refusals` with everything that makes the problem impossible; returns when nothing was found. Of what is `done` nothing is asked, and nothing starts before `now`.

    What the planner can do is never refused here. It does more than the rules of the shop ask in one point, and says so: steps that a window ties together are done in one go.
    """
    problem = _left(problem, frozenset(done))
    faults = _gathered(
        [
            *_tables(problem),
            *_hands(problem),
            *_waits(problem),
            *_air(problem),
            *_pots(problem),
            *(list(_dues(problem, now)) or _dues_together(problem, now)),
        ]
    )
    if faults:
        more = len(faults) - MOST_NAMED
        if more > 0:
            faults = [*faults[:MOST_NAMED], Refusal(f"… and {more} more of the kind.")]
        raise Refusals(faults, what="No plan can do this.")


def _gathered(faults: Iterable[Refusal]) -> list[Refusal]:
    """What is wrong with several pieces, or several steps of one, in the same words: told once, with the pieces."""
    pieces: dict[tuple[str, str], dict[str, None]] = {}
    for fault in faults:
        pieces.setdefault((fault.what, fault.remedy), {})[fault.where] = None
    return [
        Refusal(what, where=_some(list(where)), remedy=remedy) for (what, remedy), where in pieces.items()
    ]


def _some(pieces: Sequence[str]) -> str:
    more = len(pieces) - MOST_NAMED
    return ", ".join(pieces[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _left(problem: Problem, done: frozenset[str]) -> Problem:
    """The problem without what is done on each piece, up to the last step that is."""
    if not done:
        return problem
    jobs = []
    for job in problem.jobs:
        count = max((n + 1 for n, o in enumerate(job.operations) if o.key in done), default=0)
        if count < len(job.operations):
            jobs.append(replace(job, operations=job.operations[count:]))
    return replace(problem, jobs=tuple(jobs)) if jobs else replace(problem, jobs=problem.jobs[:1])


def _tables(problem: Problem) -> Iterator[Refusal]:
    for job in problem.jobs:
        if any(o.on_table for o in job.operations) and not any(job.on(t) for t in problem.tables):
            yield _no_table(problem, job)


def _no_table(problem: Problem, job: Job) -> Refusal:
    allowed = [t for t in problem.tables if job.material not in t.not_for]
    length, depth = max(job.length, job.depth), min(job.length, job.depth)
    rule = f"It takes {length:.2f} by {depth:.2f} m with {GAP * 100:.0f} cm kept free, and "
    if not allowed:
        return Refusal(
            f"No table may carry {job.material}.",
            where=job.piece,
            remedy=f"Allow {job.material} on one table (a soft cover), or add such a table.",
        )
    best = max(allowed, key=lambda t: (min(t.depth - depth, 0), min(t.length - length - GAP, 0)))
    needs = []
    if best.length < length + GAP:
        needs.append(f"{length + GAP - best.length:.2f} m longer")
    if best.depth < depth:
        needs.append(f"{depth - best.depth:.2f} m deeper")
    return Refusal(
        f"{rule}fits no table.",
        where=job.piece,
        remedy=f"The nearest is {best.name} ({best.length:.2f} by {best.depth:.2f} m): it must be {' and '.join(needs)}.",
    )


def _hands(problem: Problem) -> Iterator[Refusal]:
    longest = {
        person.key: max((b - a for a, b in problem.calendar.stretches(person)), default=0)
        for person in problem.people
    }
    for job in problem.jobs:
        for run in runs(job.operations):
            yield from _in_one_go(problem, job, run, longest)


def _waits(problem: Problem) -> Iterator[Refusal]:
    """What waits until a day after which nobody works any more within the days that are planned: more hours help nobody there."""
    last = max((b for p in problem.people for _, b in problem.calendar.stretches(p)), default=0)
    for job in problem.jobs:
        for operation in job.operations:
            if last and operation.release >= last:
                until = problem.calendar.moment(operation.release)
                yield Refusal(
                    f"It waits before “{operation.kind}” until {dated_day(until)}, and nobody works after that within the {problem.calendar.days} days that are planned.",
                    where=job.piece,
                    remedy="Let it wait for an earlier day, or take it off the list until it is there.",
                )
                break


def _in_one_go(
    problem: Problem, job: Job, run: tuple[Operation, ...], stretches: Mapping[str, int]
) -> Iterator[Refusal]:
    """What no planner of this house does: steps that a window ties together are one person's, without a break between them."""
    able = [p for p in problem.people if all(p.can(o.kind) for o in run)]
    words = " and ".join(str(o.kind) for o in run)
    ready = getting_ready(problem, run)
    needed = run_minutes(run) + ready
    if not able:
        single = all(any(p.can(o.kind) for p in problem.people) for o in run)
        yield Refusal(
            f"Nobody does both {words}. {_tied(run)}" if single else f"Nobody does “{words}”.",
            where=job.piece,
            remedy=f"Give one person the skills for {words}.",
        )
        return
    longest = max((stretches[p.key] for p in able), default=0)
    if not longest:
        yield Refusal(
            f"Nobody who does {words} is there on any of the {problem.calendar.days} days that are planned.",
            where=job.piece,
            remedy="Take back a day off or a holiday, give hours, or give somebody who is there the skill.",
        )
        return
    if needed > longest:
        yield Refusal(
            f"“{words}” takes {needed} min without a break{f', {ready} of them for getting ready' if ready else ''}; the longest stretch of work is {longest} min. {_tied(run)}".strip(),
            where=job.piece,
            remedy=f"Make one stretch {needed - longest} min longer, or enter the piece as two.",
        )


def getting_ready(problem: Problem, run: tuple[Operation, ...]) -> int:
    """Minutes that must come before a run on the best of days: suiting up where it is sprayed, and a load for each product that is mixed."""
    rules = problem.rules
    mixed = {MIXED[o.kind] for o in run if o.kind in MIXED}
    return (rules.suit if any(o.gun for o in run) else 0) + rules.load * len(mixed)


def _tied(run: tuple[Operation, ...]) -> str:
    """Why steps are not taken apart, as a sentence; empty for a single one."""
    ties = [f"“{b.kind}” starts within {a.window} min of “{a.kind}”" for a, b in pairwise(run)]
    if not ties:
        return ""
    return f"{' and '.join(ties)}, and a window is not left open over a break, a night or a change of hands: they are done in one go."


def _air(problem: Problem) -> Iterator[Refusal]:
    if not problem.fan_off:
        return
    until = air_at(problem)
    for job in problem.jobs:
        for run in runs(job.operations):
            stop = stop_of([run], opens=False, closes=False)
            needed = stop.minutes + stop.wet + getting_ready(problem, run)
            late = _after_closing(problem, run, needed, until) if stop.wet else 0
            if late > 0:
                yield Refusal(
                    f"“{run[-1].kind}” takes {stop.minutes} min and gives off vapour for {stop.wet} min more, and the fan goes off in the evening: "
                    f"on the day that suits it best that is {late} min too early.",
                    where=job.piece,
                    remedy=f"Leave the fan on, or work {late} min longer on one day.",
                )


def _after_closing(
    problem: Problem, run: tuple[Operation, ...], needed: int, until: Callable[[int], int]
) -> int:
    """How long after the fan went off a run still gives off vapour on the day that suits it best; 0 where no stretch holds its work, which `_hands` tells."""
    minutes = run_minutes(run)
    able = [p for p in problem.people if all(p.can(o.kind) for o in run)]
    return min(
        (a + needed - until(a) for p in able for a, b in problem.calendar.stretches(p) if a + minutes <= b),
        default=0,
    )


def _pots(problem: Problem) -> Iterator[Refusal]:
    for job, operation in problem.operations():
        life = problem.pot_life.get(MIXED.get(operation.kind, ""))
        if life is not None and operation.minutes > life:
            yield Refusal(
                f"“{operation.kind}” takes {operation.minutes} min, longer than the pot life of {life} min.",
                where=job.piece,
                remedy=f"Enter the piece as {-(-operation.minutes // life)} pieces, or use a mix that lasts {operation.minutes} min.",
            )


def _dues_together(problem: Problem, now: int) -> list[Refusal]:
    """Pieces that could each be done by its day, but not all of them: more hands than there are until then. The first such day is named."""
    due = sorted((job for job in problem.jobs if job.due is not None), key=lambda job: job.due or date.max)
    needed, pieces = 0, []
    for number, job in enumerate(due):
        needed += job.minutes
        pieces.append(job.piece)
        if job.due is None or (number + 1 < len(due) and due[number + 1].due == job.due):
            continue
        until = problem.calendar.end_of(job.due)
        hands = sum(
            max(0, min(b, until) - max(a, now))
            for person in problem.people
            for a, b in problem.hours_of(person)
        )
        if needed > hands:
            return [
                Refusal(
                    f"{len(pieces)} pieces are due by {short_day(job.due)}: together they take {needed / 60:.1f} h of hands, and everybody together is there for {hands / 60:.1f} h until then.",
                    where=_some(pieces),
                    remedy="Give some of them a later day, or add hours.",
                )
            ]
    return []


def _dues(problem: Problem, now: int) -> Iterator[Refusal]:
    for job in problem.jobs:
        if job.due is None:
            continue
        earliest = earliest_finish(problem, job, now)
        if earliest is None or problem.calendar.day(earliest) > job.due:
            first = short_day(problem.calendar.day(earliest)) if earliest is not None else "any day"
            yield Refusal(
                f"It is due on {short_day(job.due)}, but alone in the shop it cannot be done before {first}.",
                where=job.piece,
                remedy=f"Make it due on {first}, or leave steps out.",
            )
