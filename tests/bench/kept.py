"""How much of a plan is kept when it is made again: of the sessions that no disturbance touches, how many keep their day, their start within half an hour, and their people.

A session is what one person does in one family of work on one day, one after the other, counted from outside.
"""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass

from .records import DAY, Record, Work

NEAR = 30
"""min by which a session may start earlier or later and still count as starting when it did."""
MOST = 0.8
"""Share of a session's minutes that must be on its day, or in its person's hands, for it to have kept them."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Of `sessions` that are untouched and still to come, how many keep their `day`, their `start` and their `people`."""

    sessions: int
    day: int
    start: int
    people: int


def sessions_to_come(record: Record, now: int) -> list[list[Work]]:
    """Sessions that begin after `now`, in order of time."""
    by_day: dict[tuple[str, int], list[Work]] = defaultdict(list)
    for work in sorted(record.works, key=lambda w: (w.start, w.end)):
        by_day[work.person, work.start // DAY].append(work)
    found: list[list[Work]] = []
    for works in by_day.values():
        runs: list[list[Work]] = []
        for work in works:
            if runs and runs[-1][-1].op.family == work.op.family:
                runs[-1].append(work)
            else:
                runs.append([work])
        found += [run for run in runs if run[0].start >= now]
    return found


def kept(
    before: Record, after: Record, now: int, touched: Collection[str], away: Collection[tuple[str, int]] = ()
) -> Kept:
    """Compare two plans. `touched` pieces, and people `away` on a day, leave their sessions out."""
    placed = {w.op.key: w for w in after.works}
    sessions = day = start = people = 0
    for run in sessions_to_come(before, now):
        person, number = run[0].person, run[0].start // DAY
        if (person, number) in away or any(w.op.piece in touched for w in run):
            continue
        new = [placed[w.op.key] for w in run if w.op.key in placed]
        if not new:
            continue
        sessions += 1
        minutes = sum(w.end - w.start for w in new)
        same_day = [w for w in new if w.start // DAY == number]
        day += sum(w.end - w.start for w in same_day) >= MOST * minutes
        start += bool(same_day) and abs(min(w.start for w in same_day) - run[0].start) <= NEAR
        people += sum(w.end - w.start for w in new if w.person == person) >= MOST * minutes
    return Kept(sessions, day, start, people)
