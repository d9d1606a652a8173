"""The bound never claims too much: against an exact count for one piece, and against every plan that was found."""

from datetime import date

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from bare_room import build_problem
from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.planning.problem.model import Job, Kind, Operation, Problem, Table
from hidewright.planning.problem.routes import Drying, Pace
from hidewright.planning.problem.work import WorkPiece
from hidewright.planning.solve.bound import lower_bound
from hidewright.planning.solve.listplan import careful, stage_by_stage
from hidewright.refusals import Refusal

MONDAY = date(2026, 3, 2)
DAYS = 12
TABLES = (Table("a", "Table A", 1.5, 0.8),)
KINDS = (Kind.CLEAN, Kind.WIPE_DOWN, Kind.SPRAY, Kind.SAND, Kind.TACK, Kind.SECOND, Kind.CLEAR)


def exact_day(problem: Problem) -> int | None:
    """The first day by whose end one piece alone can be done and cured, by walking every minute; None when it never is.

    Told by the rules that the audit checks, windows between steps included; whoever works, works on this piece.
    """
    (job,) = problem.jobs
    horizon = DAYS * 1440
    at_work = np.zeros(horizon + 1, dtype=int)
    for a, b in problem.calendar.stretches(problem.people[0]):
        at_work[a:b] = 1
    sums = np.concatenate([[0], np.cumsum(at_work)])
    allowed = np.ones(horizon, dtype=bool)
    ends = np.zeros(0, dtype=int)
    for o in job.operations:
        times = np.arange(horizon - o.minutes)
        starts = times[sums[times + o.minutes] - sums[times] == o.minutes]
        starts = starts[allowed[starts] & (starts >= o.release)]
        ends = starts + o.minutes
        last = horizon if o.window is None else o.window
        allowed = np.zeros(horizon, dtype=bool)
        for e in ends:
            if o.window is None:
                allowed[e + o.dry :] = True
                break
            allowed[e + o.dry : e + last + 1] = True
    if not len(ends):
        return None
    return int((ends[0] + job.operations[-1].dry - 1) // 1440)


def one_piece(hours: tuple[tuple[int, int], ...], work: list[tuple[int, int]], window: int) -> Problem:
    operations = []
    for kind, (minutes, dry) in zip(KINDS, work, strict=False):
        tied = kind in (Kind.WIPE_DOWN, Kind.TACK)
        operations.append(
            Operation(
                f"P/front/{kind}",
                kind,
                "front",
                "front",
                minutes,
                0 if tied else dry,
                0,
                window if tied else None,
            )
        )
    job = Job("P", "panel", "leather", 0.5, 0.4, tuple(operations))
    person = Person("ann", "Ann", Week(dict.fromkeys(range(7), hours)))
    return Problem((job,), (person,), TABLES, Calendar(MONDAY, days=DAYS))


@st.composite
def hours(draw: st.DrawFn) -> tuple[tuple[int, int], ...]:
    first = draw(st.integers(20, 120))
    pause = draw(st.integers(5, 60))
    second = draw(st.integers(20, 120))
    return ((480, 480 + first), (480 + first + pause, 480 + first + pause + second))


@settings(max_examples=60, deadline=None)
@example(((480, 540), (560, 600)), [(30, 0), (30, 0), (40, 60)], 60)
@given(
    hours(),
    st.lists(st.tuples(st.integers(1, 50), st.integers(0, 400)), min_size=2, max_size=len(KINDS)),
    st.integers(0, 90),
)
def test_one_piece_never_beats_its_bound(
    week: tuple[tuple[int, int], ...], work: list[tuple[int, int]], window: int
) -> None:
    problem = one_piece(week, work, window)
    exact = exact_day(problem)
    assume(exact is not None)
    assert exact is not None
    assert lower_bound(problem).day <= exact


def test_the_bound_of_one_piece_is_exact_where_no_window_ties_its_steps() -> None:
    # By hand: 8-10 and 11-12; 90 min, then 60 dry, then 70: 08:00-09:30, dry 10:30, 11:00 leaves 60 min: tomorrow, cured by 09:40.
    problem = one_piece(((480, 600), (660, 720)), [(90, 60)], 60)
    first = problem.jobs[0].operations[0]
    second = Operation("P/front/sand", Kind.SAND, "front", "front", 70, 30)
    job = Job("P", "panel", "leather", 0.5, 0.4, (first, second))
    problem = Problem((job,), problem.people, TABLES, problem.calendar)
    assert exact_day(problem) == 1
    assert lower_bound(problem).day == 1
    assert "P alone" in lower_bound(problem).why


@st.composite
def shops(draw: st.DrawFn) -> Problem:
    count = draw(st.integers(1, 9))
    pieces = [
        WorkPiece(
            key=f"P{i}",
            name="part",
            group="g",
            material=draw(st.sampled_from(("leather", "vinyl"))),
            condition="worn",
            length=draw(st.floats(0.2, 1.2)),
            depth=draw(st.floats(0.1, 0.6)),
            front=draw(st.floats(0.05, 1.2)),
            back=draw(st.sampled_from((0.0, 0.3))),
            front_sat=draw(st.booleans()),
            strip=draw(st.booleans()),
            mask=draw(st.booleans()),
        )
        for i in range(count)
    ]
    start = draw(st.integers(6, 10)) * 60
    day = (
        (start, start + draw(st.integers(150, 300))),
        (start + 320, start + 320 + draw(st.integers(120, 240))),
    )
    week = Week(dict.fromkeys(range(draw(st.integers(3, 7))), day))
    people = [Person(f"p{i}", f"Person {i}", week) for i in range(draw(st.integers(1, 3)))]
    tables = [
        Table("a", "A", draw(st.floats(1.3, 4.0)), 0.7),
        Table("b", "B", draw(st.floats(1.3, 3.0)), 0.7),
    ]
    return build_problem(
        pieces,
        people,
        tables,
        Calendar(MONDAY),
        guns=draw(st.integers(1, 2)),
        drying=Drying(cure=draw(st.integers(60, 1200)), window=draw(st.integers(0, 90))),
        pace={Kind.STRIP: Pace(4, draw(st.floats(10, 60)))},
        pot_life={"colour": draw(st.integers(120, 500))},
    )


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_no_plan_ends_before_its_bound(data: st.DataObject) -> None:
    try:
        problem = data.draw(shops())
    except Refusal:
        assume(False)
        raise
    day = lower_bound(problem).day
    for make in (careful, stage_by_stage):
        _, run = make(problem)
        assert (run.finish - 1) // 1440 >= day


@pytest.mark.parametrize("people", [1, 2])
def test_more_people_never_raise_the_bound(people: int) -> None:
    week = Week(dict.fromkeys(range(5), ((480, 720), (750, 1020))))
    pieces = [
        WorkPiece(f"P{i}", "part", "g", "leather", "worn", 0.6, 0.5, 0.8, 0.4, strip=True) for i in range(20)
    ]

    def bound(count: int) -> int:
        staff = [Person(f"p{i}", f"Person {i}", week) for i in range(count)]
        return lower_bound(build_problem(pieces, staff, TABLES, Calendar(MONDAY))).day

    assert bound(people + 1) <= bound(people)
