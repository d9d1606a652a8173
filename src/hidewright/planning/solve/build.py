"""From pieces, people, tables and routes to a problem that some plan can solve."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from ..problem.calendar import NO_NIGHT, Calendar, Person
from ..problem.model import Kind, Problem, Table, Taken
from ..problem.rest import Rest, shortened_all, with_rest
from ..problem.route import Route
from ..problem.routes import MOST_AT_ONCE, PACE, Drying, Pace, Times, job_of
from ..problem.rules import RoomRules
from ..problem.shipped_routes import SHIPPED
from ..problem.work import WorkPiece
from .possible import refuse_impossible


def build_problem(
    pieces: Sequence[WorkPiece],
    people: Sequence[Person],
    tables: Sequence[Table],
    calendar: Calendar,
    *,
    guns: int = 1,
    drying: Drying | None = None,
    pace: Mapping[Kind, Pace] | None = None,
    promised: date | None = None,
    pot_life: Mapping[str, int] | None = None,
    most_mixes: int = 3,
    fan_off: Collection[int] = NO_NIGHT,
    routes: Sequence[Route] = SHIPPED,
    rack: int | None = None,
    rules: RoomRules | None = None,
    taken: Sequence[Taken] = (),
    rest: Rest | None = None,
    named: Mapping[str, float] | None = None,
) -> Problem:
    """The problem of planning these pieces along these routes, with the `rest` of the job where it is given; `named` what the log has taught of steps of the shop's own: name → factor.

    Refuses at once what no plan can do, naming the rule, the piece and the smallest change."""
    paces = {**PACE, **(pace or {})}
    if rest is not None:
        people = shortened_all(people, rest)
    most = min(MOST_AT_ONCE, *(person.week.longest for person in people)) if people else MOST_AT_ONCE
    times = Times(paces, drying or Drying(), most, named or {})
    jobs = tuple(job_of(piece, times, calendar, routes) for piece in pieces)
    problem = Problem(
        jobs,
        tuple(people),
        tuple(tables),
        calendar,
        guns,
        promised,
        dict(pot_life or {}),
        most_mixes,
        frozenset(fan_off),
        rack,
        rules if rules is not None else RoomRules(),
        tuple(taken),
    )
    if rest is not None:
        problem = with_rest(problem, rest, most)
    refuse_impossible(problem)
    return problem
