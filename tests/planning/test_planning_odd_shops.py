"""Shops nobody would draw up: odd sizes, hours in scraps, people with few skills, short pots. Either it is refused with a remedy, or there is a plan that passes."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from hidewright.planning.change.replan import replan
from hidewright.planning.plan.audit import audit
from hidewright.planning.problem.calendar import Calendar, Person, Stretch, Week
from hidewright.planning.problem.model import Kind, Problem, Table
from hidewright.planning.problem.routes import Drying
from hidewright.planning.problem.work import Hold, WorkPiece
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.planner import Outcome, plan
from hidewright.refusals import Refusal

MONDAY = date(2026, 3, 2)
SKILLS = [str(kind) for kind in Kind]


@st.composite
def weeks(draw: st.DrawFn) -> Week:
    hours: dict[int, tuple[Stretch, ...]] = {}
    for weekday in draw(st.sets(st.integers(0, 6), min_size=3)):
        start = draw(st.integers(0, 900))
        cuts = sorted(draw(st.sets(st.integers(start + 30, 1440), min_size=3, max_size=5)))
        hours[weekday] = tuple(zip([start, *cuts[1::2]], cuts[::2], strict=False))
    return Week(hours)


@st.composite
def pieces(draw: st.DrawFn, number: int) -> WorkPiece:
    hold = Hold("inspect", MONDAY + timedelta(days=draw(st.integers(-1, 9))))
    return WorkPiece(
        key=draw(st.sampled_from((f"P{number}", f"P{number}/left"))),
        name="part",
        group="g",
        material=draw(st.sampled_from(("leather", "vinyl", "metal", "plastic"))),
        condition="worn",
        length=draw(st.floats(0.1, 1.9)),
        depth=draw(st.floats(0.05, 0.8)),
        front=draw(st.floats(0.01, 1.5)),
        back=draw(st.one_of(st.just(0.0), st.floats(0.01, 0.8))),
        front_sat=draw(st.booleans()),
        back_sat=draw(st.booleans()),
        strip=draw(st.booleans()),
        repair=draw(st.integers(0, 5)) == 0,
        mask=draw(st.booleans()),
        prime=draw(st.integers(0, 3)) == 0,
        holds=(hold,) if draw(st.integers(0, 4)) == 0 else (),
    )


@st.composite
def shops(draw: st.DrawFn) -> Problem:
    count = draw(st.integers(1, 10))
    some = draw(st.sets(st.sampled_from(SKILLS), min_size=4))
    people = [Person("p0", "One", draw(weeks()))]
    if draw(st.booleans()):
        people.append(Person("p1", "Two", draw(weeks()), skills=frozenset(some)))
    tables = [
        Table("t0", "A", draw(st.floats(2.0, 5.0)), 0.9),
        Table("t1", "B", draw(st.floats(0.5, 3.0)), 0.5),
    ]
    mixes = draw(st.integers(1, 3))
    life = {what: draw(st.integers(40, 500)) for what in ("colour", "clear")}
    return build_problem(
        [draw(pieces(i)) for i in range(count)],
        people,
        tables,
        Calendar(MONDAY, frozenset({MONDAY + timedelta(days=3)})),
        guns=draw(st.integers(1, 2)),
        drying=Drying(cure=draw(st.sampled_from((30, 600, 1500))), window=draw(st.sampled_from((0, 5, 60)))),
        pot_life=life,
        most_mixes=mixes,
        fan_off=draw(st.frozensets(st.integers(0, 6))),
        rack=draw(st.one_of(st.none(), st.integers(0, 4))),
    )


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow]
)
@given(st.data())
def test_there_is_a_plan_that_passes_or_a_refusal_with_a_remedy(data: st.DataObject) -> None:
    try:
        problem = data.draw(shops())
    except Refusal:
        assume(False)
        raise
    result = plan(problem, seconds=0.1)
    if result.plan is None:
        assert result.outcome is Outcome.IMPOSSIBLE
        assert result.reason is not None
        assert result.reason.remedy
        return
    assert audit(problem, result.plan) == ()
    assert result.bound_day is not None
    assert result.finish_day is not None
    assert result.bound_day <= result.finish_day
    now = data.draw(st.integers(1, result.finish))
    done = {p.operation: (p.start, p.end) for p in result.plan.placements if p.end <= now}
    again = replan(problem, result.plan, done, now, seconds=0.1).result
    assert again.plan is not None
    assert again.bound_day is not None
    assert again.finish_day is not None
    assert again.bound_day <= again.finish_day


def test_lengths_in_fractions_of_an_inch_lie_beside_each_other() -> None:
    """A quarter, an eighth and a sixteenth of an inch are no whole tenths of a millimetre (1 in = 25.4 mm exactly, NIST SP 811)."""
    inches = [22 + Fraction(n, 16) for n in range(1, 15)]
    found = [
        WorkPiece(f"P{i}", "trim", "g", "leather", "worn", float(size * Fraction("0.0254")), 0.3, 0.1)
        for i, size in enumerate(inches)
    ]
    week = Week(dict.fromkeys(range(5), ((480, 720), (750, 1020))))
    problem = build_problem(found, [Person("a", "Ann", week)], [Table("t", "T", 3.2, 0.5)], Calendar(MONDAY))
    result = plan(problem, seconds=0.5)
    assert result.plan is not None
    assert audit(problem, result.plan) == ()


@pytest.mark.parametrize("minutes", [45, 60, 90])
def test_a_day_in_scraps_is_planned_though_no_lot_fits_it(minutes: int) -> None:
    """Like pieces would be taken four at a time; where the hours are too short for that, they are taken singly."""
    hours = tuple((start, start + minutes) for start in range(480, 1000, minutes + 20))
    found = [WorkPiece(f"P{i}", "seat", "g", "leather", "worn", 0.5, 0.5, 0.5, strip=True) for i in range(8)]
    person = Person("a", "Ann", Week(dict.fromkeys(range(5), hours)))
    problem = build_problem(found, [person], [Table("t", "T", 4.0, 0.7)], Calendar(MONDAY))
    result = plan(problem, seconds=0.5)
    assert result.plan is not None
    assert audit(problem, result.plan) == ()
