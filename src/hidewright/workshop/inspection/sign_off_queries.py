"""What hinders the final sign-off, in words: blocking snags that are open, work that is not done, pieces nobody looked at."""

from hidewright.planning.problem.kinds import Kind
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.days.queries import plan_in_force, plan_row
from hidewright.workshop.days.request_queries import came_up
from hidewright.workshop.inspection import queries as gather
from hidewright.workshop.inspection.snag_queries import blocking
from hidewright.workshop.pieces.queries import named
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

MOST = 6
"""Pieces that one line names."""


def hindrances(job: Job) -> list[str]:
    """One line for each thing that hinders the final sign-off; empty when nothing does."""
    pieces = gather.pieces(job)
    if not pieces:
        return ["No piece is listed."]
    word = the_shop().snag_word
    found = [
        f"A blocking {word} is open: {row.what}" + (f" ({named(job, row.piece)})" if row.piece else "")
        for row in blocking(job)
    ]
    not_done = _not_done(job)
    for words, marks in (
        ("Work is not done on", not_done),
        ("To be done again", [p.key for p in pieces if p.again and p.key.split(" / ")[0] not in not_done]),
        ("Not seen good in both lights", [p.key for p in pieces if not p.seen and not p.again]),
    ):
        if marks:
            found.append(f"{words}: {some([named(job, mark) for mark in marks])}")
    return found


def _not_done(job: Job) -> list[str]:
    """The pieces of which some planned work was not tapped, and those that go again and are in no plan yet."""
    plan = plan_in_force(job)
    stands = standings(job)
    inspect = f"/{Kind.INSPECT}"
    waiting = (
        [
            act.piece
            for act in sorted(plan.acts, key=lambda act: act.start)
            if inspect not in act.key and not (act.key in stands and stands[act.key].done)
        ]
        if plan
        else []
    )
    row = plan_row(job)
    sent = [again.piece for again in came_up(job) if row is None or again.made > row.made]
    return list(dict.fromkeys((*waiting, *sent)))


def some(marks: list[str]) -> str:
    """The first marks, and how many more there are."""
    more = f" and {len(marks) - MOST} more" if len(marks) > MOST else ""
    return ", ".join(marks[:MOST]) + more
