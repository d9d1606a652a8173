"""Seeded interiors of another make than `interiors`: other pieces and materials, part-time weeks, one to four tables, one or two guns, racks with few places. To find where a planner loses."""

import random
from datetime import date

from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.planning.problem.model import Problem, Table
from hidewright.planning.problem.routes import Drying
from hidewright.planning.problem.work import WorkPiece
from hidewright.planning.solve.build import build_problem

PIECES = (
    # name, material, length, depth, front m², back m², sat on, edges masked
    ("bulkhead panel", "leather", 1.75, 0.60, 1.05, 0.0, False, True),
    ("door card", "vinyl", 1.05, 0.55, 0.55, 0.0, False, True),
    ("bench cushion", "leather", 1.30, 0.55, 1.10, 0.70, True, True),
    ("headrest", "leather", 0.30, 0.20, 0.12, 0.10, True, False),
    ("bezel", "plastic", 0.40, 0.15, 0.08, 0.0, False, False),
    ("handle", "metal", 0.25, 0.06, 0.03, 0.0, False, True),
    ("table leaf", "wood", 0.90, 0.45, 0.42, 0.42, False, False),
    ("console lid", "vinyl", 0.50, 0.30, 0.22, 0.15, True, True),
)
WEEKS = (
    Week(dict.fromkeys(range(5), ((480, 720), (750, 1020)))),
    Week(dict.fromkeys(range(4), ((420, 720), (750, 1020)))),
    Week(dict.fromkeys(range(5), ((780, 1080),))),
    Week(dict.fromkeys(range(6), ((540, 780), (810, 1020)))),
)


def odd_interior(seed: int, count: int = 40) -> Problem:
    """A problem of `count` pieces, everything else drawn from the seed."""
    rng = random.Random(f"odd {seed} {count}")
    kinds = rng.sample(PIECES, rng.randint(3, len(PIECES)))
    pieces: list[WorkPiece] = []
    while len(pieces) < count:
        name, material, length, depth, front, back, sat, mask = rng.choice(kinds)
        strip, damaged, turned = rng.random() < 0.5, rng.random() < 0.1, back > 0 and rng.random() < 0.7
        for _ in range(min(rng.randint(1, 10), count - len(pieces))):
            pieces.append(
                WorkPiece(
                    key=f"X{len(pieces) + 1}",
                    name=name,
                    group=f"Bay {len(pieces) // 5 + 1}",
                    material=material,
                    condition="overcoated" if strip else "worn",
                    length=length,
                    depth=depth,
                    front=front,
                    back=back if turned else 0.0,
                    front_sat=sat,
                    back_sat=sat,
                    strip=strip,
                    repair=damaged,
                    mask=mask,
                    prime=strip and material in ("plastic", "metal"),
                )
            )
    first = rng.choice((WEEKS[0], WEEKS[1], WEEKS[3]))
    people = [Person("p1", "Person 1", first)]
    people += [Person(f"p{n}", f"Person {n}", rng.choice(WEEKS)) for n in range(2, rng.randint(1, 3) + 1)]
    tables = [Table("t1", "Table 1", round(rng.uniform(2.5, 6.0), 2), 0.95)]
    for n in range(2, rng.randint(1, 4) + 1):
        tables.append(Table(f"t{n}", f"Table {n}", round(rng.uniform(1.9, 4.0), 2), rng.choice((0.65, 0.95))))
    return build_problem(
        pieces,
        people,
        tables,
        Calendar(date(2026, 3, 2)),
        guns=rng.choice((1, 1, 2)),
        drying=Drying(cure=rng.choice((720, 840, 960))),
        pot_life={"colour": rng.choice((120, 240, 480)), "clear": rng.choice((120, 480))},
        rack=rng.choice((None, None, 5, 20)),
    )
