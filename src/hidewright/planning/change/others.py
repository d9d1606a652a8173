"""The other jobs at a moment, as one job goes around them: their plans, and of those whose turn comes later what is under way."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from ..plan.schedule import Plan
from ..problem.calendar import DAY, Stretch
from ..problem.model import Problem
from .at_work import Took, at_work
from .standing import Standing
from .together import Joined


@dataclass(frozen=True, slots=True)
class Others:
    """The other jobs at a moment: the plans of those that have one, what is `under_way` of those whose turn comes later, with the places that their pieces have in the `racks`, and what somebody is at (`begun`, of all jobs)."""

    planned: Plan
    under_way: Plan
    begun: Mapping[str, Took]
    racks: tuple[Stretch, ...] = ()

    @property
    def held(self) -> Plan:
        """All that they hold."""
        return plan_of_both(self.planned, self.under_way)


def done_keys(problem: Problem, tapped: Collection[str]) -> frozenset[str]:
    """What was tapped done, and whatever must have come before it on the same piece."""
    found: set[str] = set()
    for job in problem.jobs:
        count = max((n + 1 for n, o in enumerate(job.operations) if o.key in tapped), default=0)
        found |= {o.key for o in job.operations[:count]}
    return frozenset(found)


def plan_of_both(a: Plan, b: Plan) -> Plan:
    return Plan(
        tuple(sorted((*a.placements, *b.placements), key=lambda p: (p.start, p.person, p.end))),
        tuple(sorted((*a.stays, *b.stays), key=lambda s: (s.since, s.table, s.at))),
    )


def begun_of(joint: Joined, now: int) -> dict[str, Took]:
    """Operation → (start, end) minutes of what somebody is at in any of the jobs, by the plan and the taps of its own: at most one a person, and one a gun."""
    placed = {p.operation: p for p in joint.before.placements}
    found: dict[str, Took] = {}
    taken: set[str | int | None] = set()
    for share in joint.shares:
        before = joint.of([share.key], joint.before)
        done = {key: took for key, took in joint.done.items() if joint.owner[key] == share.key}
        for key, took in at_work(joint.part(share), before, done, now).items():
            needs: set[str | int | None] = {placed[key].person, placed[key].gun}
            if not (needs - {None}) & taken:
                found[key] = took
                taken |= needs
    return found


def undisturbed(begun: Mapping[str, Took], joint: Joined, now: int) -> dict[str, Took]:
    """What was begun and ends before another plan takes its hands or its gun: what was begun too late for that is begun anew."""
    placed = {p.operation: p for p in joint.before.placements}

    def taken(key: str, until: int) -> bool:
        mine = placed[key]
        return any(
            now <= p.start < until
            and joint.owner[p.operation] != joint.owner[key]
            and (p.person == mine.person or (p.gun is not None and p.gun == mine.gun))
            for p in joint.before.placements
        )

    return {key: took for key, took in begun.items() if not taken(key, took[1])}


def under_way_of(joint: Joined, standing: Standing) -> Plan:
    """What somebody is at and what was done of late, so that it is known what is wet and what the guns hold; and what lies on the tables in the middle of a pass, or cures there: it stays where it is, as long as it was planned to."""
    now = standing.now
    lying = [
        replace(stay, until=max(planned.until, now + 1))
        for stay in standing.lying.values()
        if (planned := joint.before.stay_of(stay.piece, stay.pass_key)) is not None
    ]
    return Plan(
        tuple(p for p in standing.placements if p.dry_until > now - DAY),
        (*lying, *(stay for stay in standing.ended if stay.until > now)),
    )


def racked(joint: Joined, standing: Standing, keys: Collection[str]) -> tuple[Stretch, ...]:
    """When the begun pieces of these jobs stand in the racks, from now on until each was planned to lie somewhere next; for a day at least, since they are planned anew."""
    if joint.problem.rack is None:
        return ()
    now = standing.now
    handled = {p.piece for p in standing.placements if p.pass_key != "start"}
    cures = {stay.piece: stay.until for stay in standing.ended if stay.until > now}
    found = []
    for piece in handled - standing.lying.keys():
        if joint.owner[piece] in keys and standing.left[piece]:
            since = cures.get(piece, now)
            coming = [
                stay.since for stay in joint.before.stays if stay.piece == piece and stay.since >= since
            ]
            found.append((since, min(coming, default=since + DAY)))
    return tuple((since, max(until, since + DAY)) for since, until in found)
