"""Planning again: what is done stays, little moves, and what moved is told."""

import itertools
import random
from dataclasses import replace
from datetime import date

import pytest

from bare_room import interior
from hidewright.planning.change.keeping import Keeper, Sooner, day_of, keeping
from hidewright.planning.change.replan import (
    moves,
    person_away,
    redo,
    replan,
    slower_drying,
    with_job,
    without,
)
from hidewright.planning.change.standing import room_at, standing_of, whole_plan
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.model import Kind, Problem
from hidewright.planning.solve.dispatch import plan_of
from hidewright.planning.solve.listplan import careful
from hidewright.refusals import Refusal

TUESDAY_NIGHT = 1440 + 17 * 60
THURSDAY_NIGHT = 3 * 1440 + 17 * 60


@pytest.fixture(scope="module")
def problem() -> Problem:
    return interior(24, 2, 2)


@pytest.fixture(scope="module")
def before(problem: Problem) -> Plan:
    return plan_of(*careful(problem))


def done_by(plan: Plan, now: int) -> dict[str, tuple[int, int]]:
    return {p.operation: (p.start, p.end) for p in plan.placements if p.end <= now}


def test_nothing_new_moves_nothing(problem: Problem, before: Plan) -> None:
    done = done_by(before, TUESDAY_NIGHT)
    again = replan(problem, before, done, TUESDAY_NIGHT, seconds=1)
    assert (again.kept, again.moved, again.all_new) == (1.0, (), False)


def test_what_is_done_stays_to_the_minute(problem: Problem, before: Plan) -> None:
    done = {
        key: (start, end + 3 if end + 3 <= TUESDAY_NIGHT else end)
        for key, (start, end) in done_by(before, TUESDAY_NIGHT).items()
    }
    changed = person_away(problem, "p2", {date(2026, 3, 4)})
    again = replan(changed, before, done, TUESDAY_NIGHT, seconds=1)
    assert again.result.plan is not None
    placed = {p.operation: (p.start, p.end) for p in again.result.plan.placements}
    assert {key: placed[key] for key in done} == done
    assert all(start >= TUESDAY_NIGHT for key, (start, _) in placed.items() if key not in done)
    assert audit(changed, again.result.plan, done=frozenset(done)) == ()
    assert not any(
        p.person == "p2" and p.start // 1440 == 2
        for p in again.result.plan.placements
        if p.operation not in done
    )


def test_a_failed_inspection_goes_round_again(problem: Problem, before: Plan) -> None:
    done = done_by(before, THURSDAY_NIGHT)
    failed = next(j for j in problem.jobs if j.operations[-1].key in done)
    changed = with_job(problem, redo(failed))
    again = replan(changed, before, done, THURSDAY_NIGHT, seconds=1)
    assert again.result.plan is not None
    new = [p for p in again.result.plan.of_piece(failed.piece) if p.operation not in done]
    assert [p.kind for p in new] == [
        Kind.MASK,
        Kind.SAND,
        Kind.TACK,
        Kind.SECOND,
        Kind.CLEAR,
        Kind.UNMASK,
        Kind.INSPECT,
    ]
    assert new[-1].start >= new[4].dry_until
    assert {m.piece for m in again.moved if m.before is None} == {failed.piece}
    assert redo(redo(failed)).passes[-4:] == ("redo1", "end1", "redo2", "end2")


def test_extra_and_removed_pieces(problem: Problem, before: Plan) -> None:
    done = done_by(before, TUESDAY_NIGHT)
    extra = interior(30, 9, 2).jobs[-1]
    extra = replace(
        extra,
        piece="X",
        operations=tuple(replace(o, key=f"X/{o.key.split('/', 1)[1]}") for o in extra.operations),
    )
    gone = problem.jobs[3].piece
    changed = without(with_job(problem, extra), {gone})
    again = replan(
        changed,
        before,
        {k: v for k, v in done.items() if not k.startswith(f"{gone}/")},
        TUESDAY_NIGHT,
        seconds=1,
    )
    assert again.result.plan is not None
    assert again.result.plan.of_piece("X")
    assert not again.result.plan.of_piece(gone)
    assert {m.words.split()[0] for m in again.moved if m.piece == gone} <= {"taken"}
    assert again.kept >= 0.8


def test_a_damp_week_only_slows_what_is_left(problem: Problem, before: Plan) -> None:
    done = done_by(before, TUESDAY_NIGHT)
    damp = slower_drying(problem, 1.5, done)
    again = replan(damp, before, done, TUESDAY_NIGHT, seconds=1)
    assert again.result.plan is not None
    assert audit(damp, again.result.plan, done=frozenset(done)) == ()
    clears = [p for p in again.result.plan.placements if p.kind is Kind.CLEAR]
    dried = {p.operation in done: p.dry_until - p.end for p in clears}
    assert dried[False] == round(dried[True] * 1.5)


def test_a_forgotten_tap_is_filled_in(problem: Problem, before: Plan) -> None:
    done = done_by(before, TUESDAY_NIGHT)
    job = next(j for j in problem.jobs if sum(o.key in done for o in j.operations) >= 2)
    del done[job.operations[0].key]
    again = replan(problem, before, done, TUESDAY_NIGHT, seconds=1)
    assert again.result.plan is not None
    assert again.result.plan.of_piece(job.piece)[0].end <= TUESDAY_NIGHT


def test_what_is_done_must_be_of_the_job(problem: Problem, before: Plan) -> None:
    with pytest.raises(Refusal, match="no longer part"):
        replan(problem, before, {"nobody/front/mask": (0, 1)}, TUESDAY_NIGHT)
    with pytest.raises(Refusal, match="before now"):
        replan(problem, before, {problem.jobs[0].operations[0].key: (0, 10**6)}, TUESDAY_NIGHT)


def test_who_keeps_the_day_lies_where_it_was_to_lie(problem: Problem, before: Plan) -> None:
    done = done_by(before, TUESDAY_NIGHT)
    again = replan(problem, before, done, TUESDAY_NIGHT, seconds=1)
    assert again.result.plan is not None
    old = {(s.piece, s.pass_key): (s.table, s.at) for s in before.stays}
    new = {(s.piece, s.pass_key): (s.table, s.at) for s in again.result.plan.stays}
    assert sum(old[key] == place for key, place in new.items()) >= 0.9 * len(new)


def test_the_fewest_hands_can_force_are_let_go(problem: Problem, before: Plan) -> None:
    """By hand: one of two people away; what exceeds the other's hours must go, and no more than half as many pieces again do."""
    done = done_by(before, TUESDAY_NIGHT)
    changed = person_away(problem, "p2", {date(2026, 3, 4)})
    again = replan(changed, before, done, TUESDAY_NIGHT, seconds=4)
    work: dict[str, int] = {}
    for p in before.placements:
        if p.start // 1440 == 2:
            work[p.piece] = work.get(p.piece, 0) + p.end - p.start
    over, forced = sum(work.values()) - 510, 0
    for minutes in sorted(work.values(), reverse=True):
        if over <= 0:
            break
        over, forced = over - minutes, forced + 1
    moved = {m.piece for m in again.moved}
    assert forced <= len(moved) <= 1.5 * forced + 1


def test_the_keeper_counts_what_left_its_day(problem: Problem, before: Plan) -> None:
    done = done_by(before, TUESDAY_NIGHT)
    changed = person_away(problem, "p2", {date(2026, 3, 4)})
    standing = standing_of(changed, before, done, TUESDAY_NIGHT)
    kept = keeping(room_at(changed, standing), before, set(), 1.0, random.Random(1), lambda: False)
    plan = whole_plan(changed, standing, plan_of(room_at(changed, standing), kept.run))
    assert {m.piece for m in moves(changed, before, plan, standing.done)} == set(kept.slipped)
    assert kept.rank == (0, len(kept.slipped), kept.run.finish)


@pytest.mark.parametrize("seed", [0, 2, 4])
def test_a_few_more_pieces_move_where_that_ends_on_an_earlier_day(seed: int) -> None:
    """Two pieces turn up. With every day kept two of these three shops end over the weekend or later; a few moved pieces save that, never more than the share that may move."""
    problem = interior(40, seed, 2)
    before = plan_of(*careful(problem))
    done = done_by(before, TUESDAY_NIGHT)
    for extra in interior(86, seed + 50, 2).jobs[-2:]:
        operations = tuple(replace(o, key=f"X{o.key}") for o in extra.operations)
        problem = with_job(problem, replace(extra, piece=f"X{extra.piece}", operations=operations))
    free = {job.piece for job in problem.jobs[-2:]}
    room = room_at(problem, standing_of(problem, before, done, TUESDAY_NIGHT))
    keeper = Keeper(room, before, free)
    settled = keeper.try_out(dict.fromkeys(sorted(free), room.now), {})
    steps, more = itertools.count(), itertools.count()
    sooner = Sooner(keeper, random.Random(0), 0)
    found = sooner.improve(settled, lambda: next(steps) > 150, lambda: next(more) > 30)
    if found is settled:
        assert seed == 0
        return
    assert day_of(found) < day_of(settled)
    assert 0 < found.rank[1] <= sooner.most < 0.2 * len(keeper.bound)


def test_where_a_promise_is_met_nothing_more_moves(problem: Problem, before: Plan) -> None:
    done = done_by(before, TUESDAY_NIGHT)
    far = replace(problem, promised=date(2026, 5, 29))
    again = replan(far, before, done, TUESDAY_NIGHT, seconds=1)
    assert (again.kept, again.moved) == (1.0, ())
