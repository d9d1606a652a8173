"""Plans over a night on which the clocks change: by the zone tables of the machine no coat dries a minute too short, nobody works in an hour that is not there, and every time that is printed is one that the clock shows."""

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from bench.interiors import interior
from hidewright.planning.change.replan import replan
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.calendar import Calendar, Person, Week, over_midnight
from hidewright.planning.problem.model import Problem
from hidewright.planning.solve.planner import plan

NIGHTS = Week(over_midnight({day: [(20 * 60, 30 * 60)] for day in range(7)}))
"""From eight in the evening until six in the morning, every night."""
FORWARD = {
    "Europe/Berlin": (date(2026, 3, 28), datetime(2026, 3, 29, 2), datetime(2026, 3, 29, 3)),
    "America/Chicago": (date(2026, 3, 7), datetime(2026, 3, 8, 2), datetime(2026, 3, 8, 3)),
}
BACK = {"Europe/Berlin": date(2026, 10, 24), "America/Chicago": date(2026, 10, 31)}


def night_shop(start: date, missing: tuple[tuple[datetime, datetime], ...]) -> Problem:
    """A small interior of a shop that works at night, over the night of the change."""
    return replace(
        interior(6, 3),
        people=(Person("ann", "Ann", NIGHTS), Person("bo", "Bo", NIGHTS)),
        calendar=Calendar(start, missing=missing),
        fan_off=frozenset(),
        promised=None,
    )


def too_short(problem: Problem, plan: Plan, zone: str) -> list[str]:
    """What dries shorter than it must before its piece is worked on or moved, by the real time between two times on the wall; and what is done at a time that is not there."""

    def real(minute: int) -> datetime:
        return problem.calendar.moment(minute).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)

    def shown(minute: int) -> bool:
        return real(minute).astimezone(ZoneInfo(zone)).replace(tzinfo=None) == problem.calendar.moment(minute)

    placed = {p.operation: p for p in plan.placements}
    found = []
    for job in problem.jobs:
        for number, operation in enumerate(job.operations):
            p = placed[operation.key]
            if (real(p.end) - real(p.start)).total_seconds() < 60 * operation.minutes:
                found.append(f"{operation.key} is given less time than it takes")
            found += [f"{operation.key}: {m}" for m in (p.start, p.end, p.dry_until) if not shown(m)]
            following = [placed[o.key].start for o in job.operations[number + 1 : number + 2]]
            stay = plan.stay_of(job.piece, operation.pass_key)
            for later in (*following, *([stay.until] if stay else []), p.dry_until):
                if (real(later) - real(p.end)).total_seconds() < 60 * operation.dry:
                    found.append(f"{operation.key} has not dried at {problem.calendar.moment(later)}")
    return found


def over_the_change(problem: Problem, plan: Plan, gap: tuple[datetime, datetime]) -> bool:
    """Whether something dries over the hour that is left out, so that the check can fail."""
    start = problem.calendar.minutes(gap[0])
    return any(p.end <= start < p.dry_until for p in plan.placements)


@pytest.mark.parametrize("zone", FORWARD)
def test_no_cure_is_shorter_by_the_hour_that_the_clock_leaves_out(zone: str) -> None:
    start, since, until = FORWARD[zone]
    problem = night_shop(start, ((since, until),))
    blind = night_shop(start, ())
    unaware = plan(blind, seconds=0).plan
    assert unaware is not None
    assert over_the_change(blind, unaware, (since, until)), "the check sees something"
    assert too_short(blind, unaware, zone)
    assert "drying" in {fault.rule for fault in audit(problem, unaware)}
    found = plan(problem, seconds=0).plan
    assert found is not None
    assert over_the_change(problem, found, (since, until))
    assert too_short(problem, found, zone) == []
    now = problem.calendar.minutes(since) - 90
    done = {p.operation: (p.start, p.end) for p in found.placements if p.end <= now}
    again = replan(problem, found, done, now, seconds=0.2).result.plan
    assert again is not None
    assert too_short(problem, again, zone) == []


@pytest.mark.parametrize("zone", BACK)
def test_an_hour_that_comes_twice_makes_cures_longer_and_none_shorter(zone: str) -> None:
    problem = night_shop(BACK[zone], ())
    found = plan(problem, seconds=0).plan
    assert found is not None
    assert too_short(problem, found, zone) == []


def test_dry_minutes_by_hand() -> None:
    calendar = Calendar(date(2026, 3, 29), missing=((datetime(2026, 3, 29, 2), datetime(2026, 3, 29, 3)),))
    assert calendar.dries(60, 60) == 120, "dry as the clock is put forward"
    assert calendar.dries(60, 61) == 181
    assert calendar.dries(60, 120) == 240, "from one to four are two hours"
    assert calendar.dries(180, 60) == 240
    ann = Person("ann", "Ann", Week({6: ((0, 360),)}))
    assert calendar.stretches(ann)[0] == (0, 120)
    assert sum(b - a for a, b in calendar.stretches(ann) if b <= 1440) == 300
