"""Impossible inputs: the rule, the piece and the smallest change are named, and making that change makes it possible."""

from dataclasses import replace
from datetime import date

import pytest

from bench.interiors import MONDAY, WEEK, interior, pieces
from hidewright.planning.calendar import Calendar, Person, Week
from hidewright.planning.plan import Outcome, plan
from hidewright.planning.problem import Kind, Problem, Table
from hidewright.planning.routes import Drying, build_problem
from hidewright.planning.work import Hold
from hidewright.refusals import Refusal, Refusals

ONE = (Person("a", "A", WEEK),)
TABLES = (Table("t", "Long table", 3.0, 0.9),)


def refused(**facts: object) -> Refusal:
    given = {"pieces": pieces(3, 1), "people": ONE, "tables": TABLES, "calendar": Calendar(MONDAY), **facts}
    with pytest.raises(Refusals) as caught:
        build_problem(
            given.pop("pieces"), given.pop("people"), given.pop("tables"), given.pop("calendar"), **given
        )  # type: ignore[arg-type]
    first = caught.value.items[0]
    assert first.where
    assert first.what
    assert first.remedy
    return first


def test_a_table_too_short_says_how_much() -> None:
    big = replace(pieces(1, 1)[0], length=3.2, depth=0.8)
    fault = refused(pieces=(big,))
    assert fault.where == "P1"
    assert "Long table" in fault.remedy
    assert "0.25 m longer" in fault.remedy
    build_problem((big,), ONE, (replace(TABLES[0], length=3.25),), Calendar(MONDAY))


def test_a_table_too_shallow_says_how_much() -> None:
    big = replace(pieces(1, 1)[0], length=1.5, depth=1.1)
    assert "0.20 m deeper" in refused(pieces=(big,)).remedy
    build_problem((big,), ONE, (replace(TABLES[0], depth=1.1),), Calendar(MONDAY))


def test_metal_on_hard_tops() -> None:
    metal = replace(pieces(1, 1)[0], material="metal")
    hard = (replace(TABLES[0], not_for=frozenset({"metal"})),)
    assert "soft cover" in refused(pieces=(metal,), tables=hard).remedy


def test_nobody_has_the_skill() -> None:
    strippers = (Person("a", "A", WEEK, skills=frozenset({Kind.STRIP, Kind.CLEAN})),)
    assert "skills for" in refused(people=strippers).remedy


def test_a_coat_that_fits_no_stretch() -> None:
    short = (Person("a", "A", Week({0: ((480, 500),)})),)
    big = replace(pieces(1, 1)[0], front=6.0, length=2.5, depth=0.9, strip=False)
    assert "min longer" in refused(pieces=(big,), people=short).remedy


def test_stripping_may_be_broken_off_but_spraying_may_not() -> None:
    big = replace(pieces(1, 1)[0], front=8.0, length=2.5, depth=0.9, strip=True, front_sat=False)
    problem = build_problem((big,), ONE, TABLES, Calendar(MONDAY))
    parts = [o for o in problem.jobs[0].operations if o.kind is Kind.STRIP]
    assert len(parts) > 1
    assert [o.dry for o in parts[:-1]] == [0] * (len(parts) - 1)
    assert parts[-1].dry == 180
    assert plan(problem, seconds=0.5).outcome is not Outcome.IMPOSSIBLE


def test_the_fan_off_at_night_and_a_long_wet_coat() -> None:
    fault = refused(fan_off=True, drying=Drying(colour=700, cure=840))
    assert "fan" in fault.what
    assert "longer on one day" in fault.remedy


def test_a_pot_life_shorter_than_one_piece() -> None:
    assert "lasts" in refused(pot_life={"colour": 1, "clear": 1}).remedy


def test_a_piece_due_before_it_can_be_dry() -> None:
    due = replace(pieces(1, 1)[0], due=date(2026, 3, 2))
    fault = refused(pieces=(due,))
    assert "Make it due on Tue 03 Mar" in fault.remedy
    build_problem((replace(due, due=date(2026, 3, 3)),), ONE, TABLES, Calendar(MONDAY))


def test_a_hold_before_a_step_it_does_not_have() -> None:
    held = replace(pieces(1, 1)[0], holds=(Hold("turn", date(2026, 3, 9)),), back=0.0)
    with pytest.raises(Refusal, match="not on its route"):
        build_problem((held,), ONE, TABLES, Calendar(MONDAY))


def test_a_hold_is_waited_for() -> None:
    held = replace(pieces(1, 1)[0], holds=(Hold("spray clear", date(2026, 3, 9), "approval"),))
    result = plan(build_problem((held,), ONE, TABLES, Calendar(MONDAY)), seconds=0.3)
    assert result.plan is not None
    clear = next(p for p in result.plan.placements if p.kind is Kind.CLEAR)
    assert clear.start >= 7 * 1440


def test_a_calendar_too_short_is_impossible_not_an_error() -> None:
    made: Problem = interior(40, 1, 1)
    result = plan(replace(made, calendar=replace(made.calendar, days=3, _cache={})), seconds=1)
    assert result.outcome is Outcome.IMPOSSIBLE
    assert result.reason is not None
    assert "3 days" in str(result.reason)
