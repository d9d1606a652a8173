"""Seeded interiors for tests and benchmarks: invented pieces, two tables and a bench, one to three people.

Coats and times are given here, so that what was measured on them stays comparable when the house's defaults change.
"""

import random
from datetime import date

from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.planning.problem.model import Problem, Table
from hidewright.planning.problem.routes import Drying
from hidewright.planning.problem.work import WorkPiece
from hidewright.planning.solve.build import build_problem

MONDAY = date(2026, 3, 2)
FULL = ((8 * 60, 12 * 60), (12 * 60 + 30, 17 * 60))
WEEK = Week(dict.fromkeys(range(5), FULL))
SHORT = Week({0: FULL, 1: ((540, 720), (750, 1050)), 2: FULL, 3: ((540, 720), (750, 1050)), 4: FULL[:1]})

KINDS = (
    # name, length, depth, front m², back m², front sat, back sat
    ("seat cushion", 0.56, 0.54, 0.60, 0.32, True, True),
    ("back shell", 0.72, 0.56, 0.45, 0.44, True, False),
    ("arm", 0.52, 0.10, 0.30, 0.0, True, False),
    ("head roll", 0.42, 0.12, 0.09, 0.0, True, False),
    ("skirt panel", 0.56, 0.19, 0.11, 0.0, False, False),
    ("trim panel", 1.18, 0.26, 0.31, 0.0, False, False),
    ("settee cushion", 0.62, 0.58, 0.70, 0.38, True, True),
    ("drawer front", 0.52, 0.21, 0.14, 0.0, False, False),
)


def pieces(count: int, seed: int) -> tuple[WorkPiece, ...]:
    """`count` pieces; like pieces share their condition, as they do in an interior."""
    rng = random.Random(f"pieces {count} {seed}")
    found: list[WorkPiece] = []
    while len(found) < count:
        name, length, depth, front, back, front_sat, back_sat = rng.choice(KINDS)
        strip, repair, turned = rng.random() < 0.6, rng.random() < 0.06, back > 0 and rng.random() < 0.6
        size = rng.uniform(0.85, 1.2)
        for _ in range(min(rng.randint(1, 8), count - len(found))):
            found.append(
                WorkPiece(
                    key=f"P{len(found) + 1}",
                    name=name,
                    group=f"Place {len(found) // 6 + 1}",
                    material="leather",
                    condition="overcoated" if strip else "worn",
                    length=round(length * size, 3),
                    depth=round(depth * size, 3),
                    front=front * size**2,
                    back=back * size**2 if turned else 0.0,
                    front_sat=front_sat,
                    back_sat=back_sat,
                    strip=strip,
                    repair=repair,
                    clear_coats=1,
                )
            )
    return tuple(found)


def interior(count: int = 84, seed: int = 0, people: int = 2, **more: object) -> Problem:
    """A problem of `count` pieces with `people` people, two tables and a bench."""
    rng = random.Random(f"room {count} {seed}")
    scale = max(1.0, count / 84)
    tables = (
        Table("a", "Table A", round(rng.uniform(3.0, 4.5) * scale, 2), 0.9),
        Table("b", "Table B", round(rng.uniform(2.2, 3.5) * scale, 2), 0.9),
        Table("bench", "Bench", round(rng.uniform(5.0, 7.5) * scale, 2), 0.62),
    )
    staff = tuple(Person(f"p{i + 1}", f"Person {i + 1}", SHORT if i == 2 else WEEK) for i in range(people))
    given = {
        "drying": Drying(wiped=30, cure=rng.choice((720, 840, 900))),
        "pot_life": {"colour": 480, "clear": 480},
        **more,
    }
    return build_problem(pieces(count, seed), staff, tables, Calendar(MONDAY), **given)  # type: ignore[arg-type]
