"""The resource-constrained project on the planning core, read through psplib's reader of the PSPLIB format.

The published instances (Kolisch & Sprecher, European Journal of Operational Research 96, 1997, 205-216) are not shipped with this repository: their terms of reuse are not clear; `make bench` fetches one. A small
project is written in the same format at test time; its optimum is worked out by hand.
"""

from pathlib import Path

import pytest

from bench.bench_planning_instances import steps_of_project
from hidewright.planning.solve.cpsat import Ended, Solved, solve_core

RULE = "*" * 72
SMALL = f"""{RULE}
file with basedata            : small.bas
initial value random generator: 1
{RULE}
projects                      :  1
jobs (incl. supersource/sink ):  6
horizon                       :  20
RESOURCES
  - renewable                 :  1   R
  - nonrenewable              :  0   N
  - doubly constrained        :  0   D
{RULE}
PROJECT INFORMATION:
pronr.  #jobs rel.date duedate tardcost  MPM-Time
    1      4      0       10        0       10
{RULE}
PRECEDENCE RELATIONS:
jobnr.    #modes  #successors   successors
   1        1          3           2   3   4
   2        1          1           5
   3        1          1           6
   4        1          1           6
   5        1          1           6
   6        1          0
{RULE}
REQUESTS/DURATIONS:
jobnr. mode duration  R 1
------------------------------------------------------------------------
  1      1     0       0
  2      1     4       2
  3      1     3       2
  4      1     5       1
  5      1     2       2
  6      1     0       0
{RULE}
RESOURCEAVAILABILITIES:
  R 1
    3
{RULE}
"""


def solve(path: Path, seconds: float = 20) -> Solved:
    """Solve an instance of the PSPLIB format with the planning core."""
    steps, capacities = steps_of_project(path)
    return solve_core(steps, capacities, seconds=seconds)


def test_a_project_in_the_format_by_hand(tmp_path: Path) -> None:
    """Jobs 2 (4 min, 2 of 3 hands), 3 (3 min, 2) and 5 (2 min, 2, after 2) exclude each other: 4 + 3 + 2 = 9; job 4 (5 min, 1) fits beside them."""
    path = tmp_path / "small.sm"
    path.write_text(SMALL, encoding="utf-8")
    solved = solve(path)
    assert (solved.ended, solved.makespan, solved.bound) == (Ended.OPTIMAL, 9, 9)


@pytest.mark.parametrize("hands", [2, 3, 4, 6])
def test_more_hands_are_never_slower(tmp_path: Path, hands: int) -> None:
    path = tmp_path / "small.sm"
    path.write_text(SMALL.replace("  R 1\n    3\n", f"  R 1\n    {hands}\n"), encoding="utf-8")
    # By hand. 2 hands: nothing fits beside anything, 4+3+2+5 = 14. 4 hands: 6 would keep two hands on job 2 then 5 all along, and
    # jobs 3 (3 min, 2) and 4 (5 min, 1) would have to share the other two, one after the other: 8. So at least 7, and 7 it is: job 2
    # 0-4 and 4 0-5, then 3 4-7 and 5 5-7. 6 hands: everything beside everything, 4+2 = 6.
    assert solve(path).makespan == {2: 14, 3: 9, 4: 7, 6: 6}[hands]
