"""A small plan for page tests: two people, two days, one table, made by hand."""

from datetime import date, datetime

from hidewright.charts.plan import ActShown, LyingShown, PlanShown
from hidewright.charts.tables import TableTop


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute)


PLAN = PlanShown(
    tables=(TableTop("Table A", 3.6, 0.9),),
    people=("Ana", "Ben"),
    acts=(
        ActShown("C1/top/spray", "C1", "top", "Spray", "Ana", at(2, 8), at(2, 9), "Table A", kind="gun"),
        ActShown("C2/top/strip", "C2", "top", "Strip", "Ben", at(2, 8), at(2, 10), "Table A"),
        ActShown("C1/turn", "C1", "", "Turn", "Ana", at(3, 8), at(3, 9)),
    ),
    lying=(LyingShown("C1", "Table A", 0, 0.6, 0.5, at(2, 9), at(3, 8), "curing"),),
    hours=((at(2, 8), at(2, 17)), (at(3, 8), at(3, 17))),
    finish=at(3, 9),
    bound=date(2026, 3, 3),
    promised=date(2026, 3, 27),
)
