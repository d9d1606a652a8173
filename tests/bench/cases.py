"""The interiors on which the planner is judged: the demonstration and seeded ones of 30, 84, 180 and 400 pieces, one to three people, one air."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from bench.interiors import interior
from hidewright import demo
from hidewright.planning.problem.calendar import Calendar
from hidewright.planning.problem.csv_in import read_hours, read_people, read_tables
from hidewright.planning.problem.model import Problem
from hidewright.planning.problem.work import work_pieces
from hidewright.planning.solve.build import build_problem
from hidewright.survey.csv_in import read_pieces


@dataclass(frozen=True, slots=True)
class Case:
    """One interior; `pieces` 0 is the demonstration."""

    pieces: int
    seed: int = 0
    people: int = 0

    @property
    def key(self) -> str:
        """Its name in the frozen baseline."""
        return f"{self.pieces}/{self.seed}/{self.people}" if self.pieces else "demonstration"

    def problem(self) -> Problem:
        """What is to be planned."""
        return interior(self.pieces, self.seed, self.people) if self.pieces else demonstration()

    @property
    def seconds(self) -> float:
        """How long the planner may take."""
        return {0: 15.0, 30: 5.0, 84: 15.0, 180: 20.0, 400: 30.0}[self.pieces]


def demonstration() -> Problem:
    """The demonstration's pieces, people and tables."""
    people = read_people(demo.text("people.csv"), read_hours(demo.text("hours.csv")))
    pieces = work_pieces(read_pieces(demo.text("pieces.csv")))
    tables = read_tables(demo.text("tables.csv"))
    return build_problem(pieces, people, tables, Calendar(date(2026, 3, 2)))


def _grid(pieces: int, seeds: Sequence[int], people: Sequence[int] = (1, 2, 3)) -> tuple[Case, ...]:
    return tuple(Case(pieces, seed, hands) for seed in seeds for hands in people)


FULL = (
    Case(0),
    *_grid(30, range(3)),
    *_grid(84, range(4)),
    *_grid(180, (0,), (1, 2)),
)
LARGE = Case(400, 0, 2)
"""For the time until the first plan only."""
SMALL = (Case(0), Case(30, 0, 2), Case(84, 0, 2), Case(84, 1, 1), Case(84, 2, 3), Case(180, 0, 2))
"""What a run without further words takes."""
