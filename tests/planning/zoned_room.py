"""A small invented shop with seats that stay assembled, and a plan of it: two in zones on one spot, one that is tipped for its last zone, and a cushion as before."""

from datetime import date
from functools import cache

from hidewright.planning.plan.schedule import Plan
from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.planning.problem.model import COATS, Kind, Problem, Table
from hidewright.planning.problem.work import WorkPiece
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.planner import plan
from hidewright.survey.zones import Zone

FULL = ((8 * 60, 12 * 60), (12 * 60 + 30, 17 * 60))
SIDES = Zone("flap, sides and arms", 0.45, "back and face", 12, sat_on=False)
SEAT = (SIDES, Zone("back and face", 0.55, "flap, sides and arms"))
TIPPED = (SIDES, Zone("back and face", 0.35), Zone("underside", 0.2, moved=True))
ZONED = {"S1": SEAT, "S2": SEAT, "T1": TIPPED}


def seat(key: str, zones: tuple[Zone, ...] = SEAT, back: float = 0.0) -> WorkPiece:
    return WorkPiece(
        key, "seat", "", "leather", "worn", 0.7, 0.6, 1.4, back, front_sat=True, zones=zones
    )  # fmt: skip


PROBLEM: Problem = build_problem(
    [seat("S1"), seat("S2"), seat("T1", TIPPED), seat("C1", (), 0.5)],
    [Person("ann", "Ann", Week(dict.fromkeys(range(5), FULL))), Person("bo", "Bo", Week(dict.fromkeys(range(5), FULL)))],
    [Table("a", "Table A", 2.2, 0.7), Table("b", "Table B", 1.6, 0.7)],
    Calendar(date(2026, 3, 2)),
)  # fmt: skip


@cache
def good() -> Plan:
    """A plan of it that breaks no rule."""
    made = plan(PROBLEM, seconds=0.3).plan
    assert made is not None
    return made


def wrong_by_hand(plan: Plan) -> list[str]:
    """What is wrong with the zones of a plan, read off its placements and stays."""
    found = []
    for piece, zones in ZONED.items():
        mine = plan.of_piece(piece)
        for number, zone in enumerate(zones, start=1):
            here = [p for p in mine if p.pass_key == f"zone{number}"]
            before = [p for p in mine if p.pass_key == f"zone{number - 1}"]
            cured = max((p.dry_until for p in before), default=0)
            if min(p.start for p in here) < cured:
                found.append(f"{piece} {zone.name} is begun on wet")
            if not [p for p in here if p.kind in COATS]:
                found.append(f"{piece} {zone.name} gets no coat")
            if (Kind.TURN in {p.kind for p in here}) != zone.moved:
                found.append(f"{piece} {zone.name} is turned wrongly")
            now, last = (plan.stay_of(piece, f"zone{n}") for n in (number, number - 1))
            assert now is not None
            if number > 1 and not zone.moved:
                assert last is not None
                if (now.table, now.at, now.since) != (last.table, last.at, last.until):
                    found.append(f"{piece} {zone.name} is not coated where it lies")
    return found
