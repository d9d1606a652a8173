"""The bench and its search: a limit throws away only what is later, and what the search finds is better."""

import random

import pytest

from bare_room import interior
from hidewright.planning.solve.dispatch import Room
from hidewright.planning.solve.listplan import careful, least_slack
from hidewright.planning.solve.lots import LotRules, lots_of
from hidewright.planning.solve.search import FIRST, improve, try_out


@pytest.mark.parametrize("rack", [None, 2])
def test_a_run_that_ends_by_the_limit_is_never_given_up(rack: int | None) -> None:
    """What ends at the limit to the minute is the same run as without a limit; a minute less, and it is given up. (Once every run was given up that ended in the evening of its last day.)"""
    problem = interior(20, 4, 2, rack=rack)
    room, run = careful(problem)
    last = max(d.start + room.lots[d.lot].stops[d.stop].minutes for d in run.done)
    again = room.run(least_slack(room), give_up=last.__lt__)
    assert again is not None
    assert (again.done, again.lies, again.finish) == (run.done, run.lies, run.finish)
    start = max(d.start for d in run.done)
    assert room.run(least_slack(room), give_up=(start - 1).__lt__) is None


def test_the_local_search_finds_better_runs() -> None:
    """On a shop where the first characters leave room, some of a hundred neighbours are better, and none that is kept is worse."""
    problem = interior(24, 1, 2)
    room = Room(problem, lots_of(problem, LotRules(3)))
    found = try_out(room, FIRST[4][1])
    assert found is not None
    better = improve(found, random.Random(1), 100, lambda: False)
    assert better.score < found.score
