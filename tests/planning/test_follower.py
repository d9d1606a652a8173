"""Following a plan in a damp week: what dries longer is begun sooner, so that what follows keeps its time; and sessions move only within their day."""

from itertools import pairwise

from bench.interiors import interior
from hidewright.planning.change.follower import Follower, sooner_starts
from hidewright.planning.change.following import shop_at
from hidewright.planning.change.replan import slower_drying
from hidewright.planning.change.standing import standing_of
from hidewright.planning.problem.calendar import DAY
from hidewright.planning.solve.planner import plan

PROBLEM = interior(12, 2, 2)
GOOD = plan(PROBLEM, seconds=0).plan  # the first plan, which is the same however busy the machine is
assert GOOD is not None
PLACED = {p.operation: p for p in GOOD.placements}
DAMP = slower_drying(PROBLEM, 1.5)
NOW = 8 * 60
STANDING = standing_of(DAMP, GOOD, {}, NOW, begun={})
SHOP, START = shop_at(DAMP, STANDING)
DRY, _ = shop_at(PROBLEM, standing_of(PROBLEM, GOOD, {}, NOW, begun={}))
STARTS = {p.operation: float(p.start) for p in GOOD.placements}


def test_each_start_is_so_much_sooner_that_what_follows_can_keep_its_time() -> None:
    assert GOOD is not None
    found = sooner_starts(SHOP, GOOD, STARTS)
    openings = {day.number: day.opening for day in SHOP.days}
    moved = 0
    for steps in SHOP.steps:
        for step, following in pairwise(steps):
            key, later = step.operations[0].key, following.operations[0].key
            day = PLACED[key].start // DAY
            assert found[key] <= STARTS[key]
            assert found[key] >= openings[day]
            moved += found[key] < STARTS[key]
            if PLACED[later].start // DAY != day or found[key] <= openings[day]:
                continue
            took = PLACED[step.operations[-1].key].end - PLACED[key].start
            assert found[key] + took + step.dry <= found[later] + 1e-6
    assert moved, "in a damp week some of it has to begin sooner"
    assert sooner_starts(DRY, GOOD, STARTS) == STARTS, "as it dried before, nothing has to"


def test_sessions_move_among_the_others_of_their_day_only() -> None:
    assert GOOD is not None
    follower = Follower(DAMP, SHOP, START, GOOD, STANDING, frozenset(), None)
    way = follower._try(*follower._ways()[0])
    assert way is not None
    seen = 0
    for _ in range(60):
        _, follow = follower._shifted(way)
        changed = {key for key, start in follow.starts.items() if start != way.follow.starts[key]}
        seen += bool(changed)
        assert all(int(follow.starts[key]) // DAY == int(way.follow.starts[key]) // DAY for key in changed)
    assert seen
