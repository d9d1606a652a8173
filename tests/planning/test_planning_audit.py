"""The audit, by breaking a good plan in every way it must notice: one test for each rule, and random breakages."""

import inspect
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bare_room import build_problem
from hidewright.planning.plan import audit as module
from hidewright.planning.plan.audit import RULES, audit, due_faults
from hidewright.planning.plan.schedule import Placement, Plan, Stay
from hidewright.planning.problem.absences import Absence
from hidewright.planning.problem.calendar import EVERY_NIGHT, Calendar, Person, Week
from hidewright.planning.problem.model import Kind, Operation, Problem, Table
from hidewright.planning.problem.rules import RoomRules
from hidewright.planning.problem.work import Hold, WorkPiece
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.listplan import careful
from planning.test_zones import BROKEN as BROKEN_ZONES
from planning.zoned_room import PROBLEM as ZONED

MONDAY = date(2026, 3, 2)
FULL = ((8 * 60, 12 * 60), (12 * 60 + 30, 17 * 60))
WEEK = Week(dict.fromkeys(range(5), FULL))
NO_SPRAY = frozenset(str(k) for k in Kind if k not in (Kind.PRIME, Kind.SPRAY, Kind.SECOND, Kind.CLEAR))


def cushion(key: str, **more: object) -> WorkPiece:
    given: dict[str, object] = {
        "key": key,
        "name": "seat cushion",
        "group": "Place 1",
        "material": "leather",
        "condition": "worn",
        "length": 0.56,
        "depth": 0.54,
        "front": 0.6,
        "back": 0.32,
        "front_sat": True,
        **more,
    }
    return WorkPiece(**given)  # type: ignore[arg-type]


def shop() -> Problem:
    pieces = [
        cushion("C1"),
        cushion("C2", strip=True, holds=(Hold("strip", MONDAY + timedelta(days=1), "approval"),)),
        cushion("C3", back=0.0),
        cushion("C4", repair=True, back=0.0),
        cushion("M1", material="metal", length=1.0, depth=0.3, back=0.0, front_sat=False),
    ]
    people = [Person("ann", "Ann", WEEK), Person("bo", "Bo", WEEK, skills=NO_SPRAY)]
    tables = [Table("a", "Table A", 2.4, 0.7, not_for=frozenset({"metal"})), Table("b", "Table B", 2.0, 0.6)]
    return build_problem(
        pieces,
        people,
        tables,
        Calendar(MONDAY),
        pot_life={"colour": 300, "clear": 300},
        most_mixes=2,
        fan_off=EVERY_NIGHT,
    )


PROBLEM = shop()
GOOD = plan_of(*careful(PROBLEM))
WANTED: dict[str, Operation] = {o.key: o for _, o in PROBLEM.operations()}


def find(piece: str, kind: Kind, pass_key: str | None = None) -> Placement:
    return next(p for p in GOOD.of_piece(piece) if p.kind is kind and pass_key in (None, p.pass_key))


def put(*changed: Placement) -> Plan:
    by_key = {p.operation: p for p in changed}
    return replace(GOOD, placements=tuple(by_key.get(p.operation, p) for p in GOOD.placements))


def lay(*changed: Stay) -> Plan:
    by_key = {(s.piece, s.pass_key): s for s in changed}
    return replace(GOOD, stays=tuple(by_key.get((s.piece, s.pass_key), s) for s in GOOD.stays))


def at(p: Placement, start: int) -> Placement:
    by = start - p.start
    return replace(p, start=start, end=p.end + by, dry_until=p.dry_until + by)


def stay(piece: str, pass_key: str = "front") -> Stay:
    found = GOOD.stay_of(piece, pass_key)
    assert found is not None
    return found


def rules(plan: Plan, problem: Problem = PROBLEM, now: int = 0) -> set[str]:
    return {fault.rule for fault in audit(problem, plan, now=now)}


def test_the_good_plan_passes() -> None:
    assert audit(PROBLEM, GOOD) == ()


def _missing() -> Plan:
    return replace(GOOD, placements=GOOD.placements[:-1])


def _twice() -> Plan:
    return replace(GOOD, placements=(*GOOD.placements, GOOD.placements[0]))


def _invented() -> Plan:
    return replace(GOOD, placements=(*GOOD.placements, replace(GOOD.placements[0], operation="C9/front/x")))


def _other_piece() -> Plan:
    return put(replace(find("C1", Kind.SPRAY), piece="C2"))


def _other_kind() -> Plan:
    return put(replace(find("C1", Kind.WIPE_IN), kind=Kind.WIPE_DOWN))


def _two_stays() -> Plan:
    return replace(GOOD, stays=(*GOOD.stays, stay("C1")))


def _too_quick() -> Plan:
    p = find("C3", Kind.CLEAN)
    return put(replace(p, end=p.end - 1))


def _before_the_first_day() -> Plan:
    return put(at(find("C1", Kind.MASK), -60))


def _dry_too_early() -> Plan:
    p = find("C1", Kind.CLEAR, "back")
    return put(replace(p, dry_until=p.dry_until - 1))


def _before_the_last_step() -> Plan:
    return put(at(find("C3", Kind.INSPECT), find("C3", Kind.UNMASK).start))


def _before_it_is_dry() -> Plan:
    return put(at(find("C4", Kind.SAND), find("C4", Kind.SPRAY).end))


def _window_missed() -> Plan:
    wipe = find("C3", Kind.WIPE_DOWN)
    late = WANTED[wipe.operation].window
    assert late is not None
    return put(at(find("C3", Kind.WIPE_IN), wipe.end + late + 1))


def _before_the_hold() -> Plan:
    return put(at(find("C2", Kind.STRIP), 8 * 60))


def _at_night() -> Plan:
    return put(at(find("C3", Kind.INSPECT), 20 * 60 + 10 * 24 * 60))


def _over_the_break() -> Plan:
    return put(at(find("M1", Kind.INSPECT), 9 * 24 * 60 + 12 * 60 - 1))


def _by_nobody() -> Plan:
    return put(replace(find("C3", Kind.CLEAN), person=""))


def _by_a_stranger() -> Plan:
    return put(replace(find("C3", Kind.CLEAN), person="cy"))


def _without_the_skill() -> Plan:
    return put(replace(find("C3", Kind.CLEAR), person="bo"))


def _two_things_at_once() -> Plan:
    a = find("C1", Kind.CLEAN)
    other = next(p for p in GOOD.placements if p.piece != "C1" and p.start > a.end)
    return put(replace(at(other, a.start), person=a.person))


def _no_gun() -> Plan:
    return put(replace(find("C1", Kind.SPRAY), gun=None))


def _a_gun_too_many() -> Plan:
    return put(replace(find("C1", Kind.SPRAY), gun=1))


def _a_gun_for_cleaning() -> Plan:
    return put(replace(find("C1", Kind.CLEAN), gun=0))


def _gun_in_two_hands() -> Plan:
    a = find("C1", Kind.SPRAY, "front")
    return put(replace(at(find("C3", Kind.SPRAY), a.start), person="bo"))


def _lies_nowhere() -> Plan:
    return replace(GOOD, stays=tuple(s for s in GOOD.stays if s.piece != "C3"))


def _laid_too_late() -> Plan:
    return lay(replace(stay("C3"), since=stay("C3").since + 1))


def _moved_while_wet() -> Plan:
    return lay(replace(stay("C3"), until=stay("C3").until - 1))


def _on_no_table() -> Plan:
    return lay(replace(stay("C3"), table="z"))


def _over_the_end() -> Plan:
    return lay(replace(stay("M1"), at=1.2))


def _over_the_other_end() -> Plan:
    return lay(replace(stay("C3"), at=-0.1))


def _squeezed() -> Plan:
    return lay(replace(stay("C3"), along=0.3))


def _too_deep() -> Plan:
    s = stay("M1")
    return lay(replace(s, along=0.3, across=1.0))


def _gone_before_it_came() -> Plan:
    s = stay("C3")
    return lay(replace(s, until=s.since))


def _nobody_knows_where() -> Plan:
    return lay(replace(stay("C3"), at=float("nan")))


def _metal_on_the_hard_top() -> Plan:
    return lay(replace(stay("M1"), table="a"))


def _side_by_side_too_near() -> Plan:
    a = stay("C1")
    other = next(s for s in GOOD.stays if s.piece != "C1" and s.since < a.until and a.since < s.until)
    return lay(replace(other, table=a.table, at=a.at))


def _in_two_places() -> Plan:
    back = stay("C1", "back")
    return lay(replace(back, since=stay("C1").since))


def _for_no_pass() -> Plan:
    return replace(GOOD, stays=(*GOOD.stays, replace(stay("C3"), pass_key="back")))


def _for_a_pass_without_a_table() -> Plan:
    return replace(GOOD, stays=(*GOOD.stays, replace(stay("C3"), pass_key="end")))


def _for_a_stranger() -> Plan:
    return replace(GOOD, stays=(*GOOD.stays, replace(stay("C3"), piece="C9")))


def _turned_wet() -> Plan:
    return put(at(find("C1", Kind.TURN), find("C1", Kind.CLEAR, "front").end))


def _masked_late() -> Plan:
    return put(at(find("C3", Kind.MASK), find("C3", Kind.SPRAY).start))


def _unmasked_early() -> Plan:
    return put(at(find("C1", Kind.UNMASK), find("C1", Kind.CLEAR, "front").start))


def _wet_when_the_fan_stops() -> Plan:
    p = find("C1", Kind.SPRAY, "front")
    return put(at(p, p.start // 1440 * 1440 + 17 * 60 - (p.end - p.start)))


BREAKAGES: tuple[tuple[str, Callable[[], Plan]], ...] = (
    ("everything once", _missing),
    ("everything once", _twice),
    ("only what is wanted", _for_no_pass),
    ("only what is wanted", _for_a_pass_without_a_table),
    ("only what is wanted", _for_a_stranger),
    ("only what is wanted", _invented),
    ("only what is wanted", _other_piece),
    ("only what is wanted", _other_kind),
    ("one stretch", _two_stays),
    ("pace", _too_quick),
    ("pace", _before_the_first_day),
    ("drying", _dry_too_early),
    ("order", _before_the_last_step),
    ("dry before the next", _before_it_is_dry),
    ("window", _window_missed),
    ("hold", _before_the_hold),
    ("hours", _at_night),
    ("hours", _over_the_break),
    ("hours", _by_nobody),
    ("hours", _by_a_stranger),
    ("skills", _without_the_skill),
    ("one thing at a time", _two_things_at_once),
    ("gun", _no_gun),
    ("gun", _a_gun_too_many),
    ("gun", _a_gun_for_cleaning),
    ("gun", _gun_in_two_hands),
    ("one stretch", _lies_nowhere),
    ("one stretch", _laid_too_late),
    ("no move while wet", _moved_while_wet),
    ("table", _on_no_table),
    ("table", _over_the_end),
    ("table", _over_the_other_end),
    ("table", _squeezed),
    ("table", _too_deep),
    ("table", _gone_before_it_came),
    ("table", _nobody_knows_where),
    ("what may lie where", _metal_on_the_hard_top),
    ("no touching", _side_by_side_too_near),
    ("one stretch", _in_two_places),
    ("turn after cure", _turned_wet),
    ("mask first", _masked_late),
    ("unmask last", _unmasked_early),
    ("fan off at night", _wet_when_the_fan_stops),
)


@pytest.mark.parametrize(("rule", "breakage"), BREAKAGES, ids=[b.__name__.strip("_") for _, b in BREAKAGES])
def test_each_breakage_is_noticed(rule: str, breakage: Callable[[], Plan]) -> None:
    assert rule in rules(breakage())


def test_pot_life_is_noticed() -> None:
    sessions = sorted({p.start // 1440 for p in GOOD.placements if p.kind is Kind.SPRAY})
    assert sessions
    short = replace(PROBLEM, pot_life={"colour": 20, "clear": 20}, most_mixes=1)
    assert "pot life" in rules(GOOD, short)
    never = replace(PROBLEM, pot_life={"colour": 1, "clear": 1})
    assert "pot life" in rules(GOOD, never)


def test_a_free_day_is_noticed() -> None:
    """A holiday of the shop, a day off of one person, and a weekend: nobody may be planned to work then."""
    day = PROBLEM.calendar.day(find("C1", Kind.SPRAY, "front").end)
    assert "hours" in rules(GOOD, replace(PROBLEM, calendar=Calendar(MONDAY, holidays=frozenset({day}))))
    ann, bo = PROBLEM.people
    assert "hours" in rules(GOOD, replace(PROBLEM, people=(replace(ann, absences=(Absence(day, day),)), bo)))
    p = find("C3", Kind.INSPECT)
    assert "hours" in rules(put(at(p, 5 * 1440 + 9 * 60)))


def test_a_hold_on_a_later_step_is_noticed() -> None:
    clear = find("C3", Kind.CLEAR)
    job = PROBLEM.job("C3")
    waits = replace(
        job,
        operations=tuple(
            replace(o, release=clear.start + 1) if o.key == clear.operation else o for o in job.operations
        ),
    )
    held = replace(PROBLEM, jobs=tuple(waits if j.piece == "C3" else j for j in PROBLEM.jobs))
    assert rules(GOOD, held) == {"hold"}


def most_in_the_rack() -> int:
    """By hand: at the end of every stay, how many pieces that are not done lie nowhere."""
    last = {j.piece: max(p.end for p in GOOD.of_piece(j.piece)) for j in PROBLEM.jobs}
    most = 0
    for moment in {s.until for s in GOOD.stays}:
        begun = {s.piece for s in GOOD.stays if s.until <= moment < last[s.piece]}
        most = max(most, len(begun - {s.piece for s in GOOD.stays if s.since <= moment < s.until}))
    return most


def test_a_full_rack_is_noticed_and_one_that_just_holds_is_not() -> None:
    most = most_in_the_rack()
    assert most >= 1
    assert rules(GOOD, replace(PROBLEM, rack=most)) == set()
    assert rules(GOOD, replace(PROBLEM, rack=most - 1)) == {"rack"}


def test_what_stood_in_the_rack_before_planning_is_no_fault() -> None:
    """A shop that takes a rack away while pieces stand in it cannot have planned otherwise; nothing more may be put there."""
    ends = sorted({s.until for s in GOOD.stays})
    none = replace(PROBLEM, rack=0)
    assert "rack" in {f.rule for f in audit(none, GOOD, now=ends[0] - 1)}
    everything = frozenset(WANTED)
    assert "rack" not in {f.rule for f in audit(none, GOOD, done=everything, now=ends[-1])}


def test_work_in_the_past_is_noticed() -> None:
    first = min(p.start for p in GOOD.placements)
    assert rules(GOOD, now=first) == set()
    assert rules(GOOD, now=first + 1) == {"not in the past"}
    done = frozenset(p.operation for p in GOOD.placements if p.start <= first)
    assert audit(PROBLEM, GOOD, done=done, now=first + 1) == ()


def test_a_late_piece_is_said_but_is_no_fault() -> None:
    jobs = tuple(replace(j, due=MONDAY) if j.piece == "C1" else j for j in PROBLEM.jobs)
    late = replace(PROBLEM, jobs=jobs)
    assert audit(late, GOOD) == ()
    assert [(f.rule, f.where) for f in due_faults(late, GOOD)] == [("due", "C1")]


def test_what_is_done_stands_as_it_happened_but_nothing_may_clash_with_it() -> None:
    first = GOOD.placements[0]
    slow = put(replace(first, end=first.end + 1, dry_until=first.dry_until + 1))
    assert "pace" in rules(slow)
    assert "pace" not in {f.rule for f in audit(PROBLEM, slow, done=frozenset({first.operation}))}
    very_slow = put(replace(first, end=first.end + 3000, dry_until=first.dry_until + 3000))
    assert {f.rule for f in audit(PROBLEM, very_slow, done=frozenset({first.operation}))} & {
        "order",
        "dry before the next",
    }


def test_no_fault_can_be_named_that_no_breakage_here_reaches() -> None:
    named = set(re.findall(r'Fault\(\s*"([^"]+)"', inspect.getsource(module)))
    assert named == {rule for rule, _ in BREAKAGES} | {"pot life", "due", "rack", "not in the past"}


@pytest.mark.parametrize("dropped", RULES, ids=[r.__name__.strip("_") for r in RULES])
def test_without_a_rule_some_breakage_goes_unnoticed(
    dropped: Callable[..., object], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each rule of the list does work that no other does."""
    short = replace(PROBLEM, pot_life={"colour": 20, "clear": 20}, most_mixes=1)
    cases = [(rule, breakage(), PROBLEM, 0) for rule, breakage in BREAKAGES]
    cases += [
        ("pot life", GOOD, short, 0),
        ("rack", GOOD, replace(PROBLEM, rack=most_in_the_rack() - 1), 0),
        ("not in the past", GOOD, PROBLEM, GOOD.finish),
        ("no dust beside wet", GOOD, replace(PROBLEM, rules=RoomRules()), 0),
        *((rule, broken(), ZONED, 0) for rule, broken in BROKEN_ZONES),
    ]
    monkeypatch.setattr(module, "RULES", tuple(r for r in RULES if r is not dropped))
    assert any(rule not in rules(plan, problem, now) for rule, plan, problem, now in cases)


@settings(max_examples=150, deadline=None)
@given(
    index=st.integers(0, len(GOOD.placements) - 1),
    by=st.integers(-3000, 3000).filter(bool),
)
def test_a_moved_operation_is_never_called_good_when_it_is_not(index: int, by: int) -> None:
    """Move one operation: the audit says it is good only when a check written out here by hand finds nothing either."""
    moved = at(GOOD.placements[index], GOOD.placements[index].start + by)
    plan = put(moved)
    if audit(PROBLEM, plan):
        return
    others = [p for p in plan.placements if p.operation != moved.operation]
    assert all(o.end <= moved.start or moved.end <= o.start for o in others if o.person == moved.person)
    clock = moved.start % 1440
    assert any(a <= clock and clock + moved.end - moved.start <= b for a, b in FULL)
    chain = [o.key for j in PROBLEM.jobs if j.piece == moved.piece for o in j.operations]
    placed = {p.operation: p for p in plan.placements}
    place = chain.index(moved.operation)
    for key in chain[:place]:
        assert placed[key].dry_until <= moved.start
    for key in chain[place + 1 :]:
        assert moved.dry_until <= placed[key].start
    if moved.pass_key != "end":
        where = GOOD.stay_of(moved.piece, moved.pass_key)
        assert where is not None
        assert where.since <= moved.start
        assert moved.dry_until <= where.until


@settings(max_examples=100, deadline=None)
@given(index=st.integers(0, len(GOOD.stays) - 1), other=st.integers(0, len(GOOD.stays) - 1))
def test_two_pieces_never_share_a_place(index: int, other: int) -> None:
    a, b = GOOD.stays[index], GOOD.stays[other]
    plan = lay(replace(b, table=a.table, at=a.at, along=max(b.along, 0.1)))
    meet = a is not b and a.since < b.until and b.since < a.until
    if meet:
        assert rules(plan) & {"no touching", "what may lie where"}
