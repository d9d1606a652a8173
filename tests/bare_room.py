"""Problems in a room without rules, for what is asked of bare operations: list plans, the search over orders, the solver."""

from functools import partial

from bench import interiors
from hidewright.planning.problem.rules import FREE_ROOM
from hidewright.planning.solve import build

interior = partial(interiors.interior, rules=FREE_ROOM)
build_problem = partial(build.build_problem, rules=FREE_ROOM)
