"""Impossible inputs: the rule, the piece and the smallest change are named, and making that change makes it possible."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import bare_room
from bench.interiors import MONDAY, WEEK, interior, pieces
from hidewright.planning.change.replan import replan
from hidewright.planning.plan.audit import audit
from hidewright.planning.problem.calendar import EVERY_NIGHT, Calendar, Person, Week
from hidewright.planning.problem.model import Kind, Problem, Table
from hidewright.planning.problem.routes import Drying
from hidewright.planning.problem.work import Hold
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.days import SIMPLEST
from hidewright.planning.solve.foreman import Foreman
from hidewright.planning.solve.listplan import careful
from hidewright.planning.solve.planner import Outcome, plan
from hidewright.planning.solve.possible import refuse_impossible
from hidewright.planning.solve.runs import plan_of
from hidewright.planning.solve.steps import Shop
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
    fault = refused(fan_off=EVERY_NIGHT, drying=Drying(colour=700, cure=840))
    assert "fan" in fault.what
    more = int(fault.remedy.split(" min longer on one day")[0].rsplit(" ", 1)[1])
    later = Week(
        dict.fromkeys(range(5), (*WEEK.hours[0][:-1], (WEEK.hours[0][-1][0], WEEK.hours[0][-1][1] + more)))
    )
    longer, drying = (Person("a", "A", later),), Drying(colour=700, cure=840)
    build_problem(pieces(3, 1), longer, TABLES, Calendar(MONDAY), fan_off=EVERY_NIGHT, drying=drying)


def test_a_pot_life_shorter_than_one_piece() -> None:
    assert "lasts" in refused(pot_life={"colour": 1, "clear": 1}).remedy


def test_a_piece_due_before_it_can_be_dry() -> None:
    due = replace(pieces(1, 1)[0], due=date(2026, 3, 2))
    fault = refused(pieces=(due,))
    assert "Make it due on Tue 3 Mar" in fault.remedy
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
    result = plan(replace(made, calendar=replace(made.calendar, days=3)), seconds=1)
    assert result.outcome is Outcome.IMPOSSIBLE
    assert result.reason is not None
    assert "3 days" in str(result.reason)


def test_steps_in_one_go_say_why_they_are_not_taken_apart() -> None:
    """A wipe-down and its coat would fit round a break each, but the window between them is not left open over it: the words say so."""
    scraps = tuple((start, start + 30) for start in range(480, 960, 40))
    short = (Person("a", "A", Week(dict.fromkeys(range(5), scraps))),)
    fault = refused(
        pieces=(replace(pieces(1, 1)[0], front=1.9, length=1.5, depth=0.9, strip=False),), people=short
    )
    assert "“wipe in colour” starts within 60 min of “wipe down”" in fault.what
    assert "done in one go" in fault.what
    more = int(fault.remedy.split(" min longer")[0].rsplit(" ", 1)[1])
    longer = (Person("a", "A", Week(dict.fromkeys(range(5), ((480, 510 + more), *scraps[5:])))),)
    given = replace(pieces(1, 1)[0], front=1.9, length=1.5, depth=0.9, strip=False)
    build_problem((given,), longer, TABLES, Calendar(MONDAY))


def test_two_people_who_each_do_half_of_what_is_done_in_one_go() -> None:
    coats = frozenset({Kind.WIPE_IN, Kind.SPRAY, Kind.SECOND, Kind.CLEAR, Kind.PRIME})
    two = (
        Person("a", "A", WEEK, skills=frozenset(Kind) - coats),
        Person("b", "B", WEEK, skills=coats),
    )
    fault = refused(people=two)
    assert "Nobody does both" in fault.what
    assert "change of hands" in fault.what


def test_hours_that_touch_are_one_stretch() -> None:
    """Two stretches without a break between them are worked through: nothing that fits both together is refused."""
    whole, touching = ((480, 720),), tuple((start, start + 20) for start in range(480, 720, 20))
    big = replace(pieces(1, 1)[0], front=2.0, length=1.5, depth=0.9, strip=False)
    for hours in (whole, touching):
        person = Person("a", "A", Week(dict.fromkeys(range(5), hours)))
        build_problem((big,), (person,), TABLES, Calendar(MONDAY))


def test_of_what_is_done_nothing_is_asked() -> None:
    """The only one who strips has left after all was stripped: what is left can be planned."""
    problem = interior(6, 2, 2)
    made = plan(problem, seconds=0.3).plan
    assert made is not None
    strips = [p for p in made.placements if p.kind is Kind.STRIP]
    now = max(p.end for p in strips)
    done = {p.operation: (p.start, p.end) for p in made.placements if p.end <= now}
    rest = replace(problem, people=(replace(problem.people[0], skills=frozenset(Kind) - {Kind.STRIP}),))
    with pytest.raises(Refusals, match="strip"):
        refuse_impossible(rest)
    again = replan(rest, made, done, now, seconds=0.3)
    assert again.result.plan is not None


@example(
    seed=1, cuts=[5, 7], pause=15, skills=set(Kind), fan_off=EVERY_NIGHT, wet=20
)  # The day is long enough for coat and vapour, but the only stretch that holds the coat is its last.
@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 30),
    cuts=st.lists(st.integers(5, 90), min_size=1, max_size=5),
    pause=st.integers(0, 40),
    skills=st.sets(st.sampled_from(list(Kind)), min_size=10),
    fan_off=st.frozensets(st.integers(0, 6)),
    wet=st.integers(20, 500),
)
def test_exactly_what_the_planner_cannot_do_is_refused(
    seed: int, cuts: list[int], pause: int, skills: set[Kind], fan_off: frozenset[int], wet: int
) -> None:
    """Hours in scraps, few skills, vapour at night: refused before planning when, and only when, the list planner finds no plan either."""
    hours, start = [], 480
    for minutes in cuts:
        hours.append((start, start + minutes))
        start += minutes + pause
    week = Week(dict.fromkeys(range(6), tuple(hours)))
    people = (Person("a", "A", week, skills=frozenset(skills)), Person("b", "B", week))
    problem = replace(
        bare_room.interior(3, seed, 1, drying=Drying(colour=wet)),
        people=people[: 1 + seed % 2],
        fan_off=fan_off,
    )
    try:
        refuse_impossible(problem)
        refused_at_once = False
    except Refusal:
        refused_at_once = True
    try:
        careful(problem)
        found = True
    except Refusal:
        found = False
    assert refused_at_once is not found


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 8),
    cuts=st.lists(st.integers(5, 120), min_size=1, max_size=5),
    pause=st.integers(0, 60),
    skills=st.sets(st.sampled_from(list(Kind)), min_size=5),
    fan_off=st.frozensets(st.integers(0, 6)),
    wet=st.sampled_from((20, 150)),
)
def test_exactly_what_the_foreman_cannot_do_is_refused(
    seed: int, cuts: list[int], pause: int, skills: set[Kind], fan_off: frozenset[int], wet: int
) -> None:
    """The same in a room with rules: getting ready takes its minutes, and the foreman plans whatever is not refused, within every rule."""
    hours, start = [], 480
    for minutes in cuts:
        hours.append((start, start + minutes))
        start += minutes + pause
    week = Week(dict.fromkeys(range(6), tuple(hours)))
    people = (Person("a", "A", week, skills=frozenset(skills)), Person("b", "B", week))
    problem = replace(
        interior(3, seed, 1, drying=Drying(colour=wet)), people=people[: 1 + seed % 2], fan_off=fan_off
    )
    try:
        refuse_impossible(problem)
    except Refusal:
        with pytest.raises(Refusal):
            Foreman(Shop(problem), SIMPLEST).run()
        return
    shop = Shop(problem)
    run = Foreman(shop, SIMPLEST).run()
    assert run is not None
    assert audit(problem, plan_of(shop, run)) == ()
