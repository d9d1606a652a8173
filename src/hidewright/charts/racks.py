"""What stands in the racks on a day: which piece in which place, from when to when.

A plan counts places only. Which piece takes which place is settled here: each takes the lowest number that is free when it comes off its table, and keeps it until it goes back to
a table or is done. So no place ever holds two, and as many places are needed as pieces stand at once.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from heapq import heapify, heappop, heappush
from typing import Final

from hidewright.charts import ink
from hidewright.charts.hatching import patterned
from hidewright.charts.plan import LyingShown, PlanShown
from hidewright.refusals import Refusal
from hidewright.units import counted

OFF_THE_TABLES: Final = "Off the tables"
"""Where pieces stand as long as the shop has listed no rack."""
NO_PLACE: Final = "No place for them"


@dataclass(frozen=True)
class Rack:
    """A rack with `places` for pieces, 1 to 10,000."""

    name: str
    places: int

    def __post_init__(self) -> None:
        if not 1 <= self.places <= 10_000:
            raise Refusal("A rack has 1 to 10,000 places.", where=self.name)


@dataclass(frozen=True)
class StandingShown:
    """A piece that stands off the tables from `since` to `until`, between two passes or until it is inspected: in which rack, at which place (1 is the first)."""

    piece: str
    since: datetime
    until: datetime
    rack: str
    place: int


def standing(plan: PlanShown) -> list[tuple[datetime, datetime, str]]:
    """(since, until, piece) of every time that a piece stands off the tables, in order."""
    stays: dict[str, list[LyingShown]] = {}
    for part in sorted(plan.lying, key=lambda part: part.since):
        stays.setdefault(part.piece, []).append(part)
    last: dict[str, datetime] = {}
    for act in plan.acts:
        last[act.piece] = max(last.get(act.piece, act.end), act.end)
    found = []
    for piece, parts in stays.items():
        until = parts[0].until
        for part in parts[1:]:
            if part.since > until:
                found.append((until, part.since, piece))
            until = max(until, part.until)
        if piece in last and last[piece] > until:
            found.append((until, last[piece], piece))
    return sorted(found)


def placed(plan: PlanShown, racks: Sequence[Rack]) -> tuple[StandingShown, ...]:
    """Every piece that stands, with its place; those beyond the places of the racks stand under `NO_PLACE`. Without racks there is a place for each."""
    places = [(rack.name, number + 1) for rack in racks for number in range(rack.places)]
    free = list(range(len(places)))
    heapify(free)
    taken: list[tuple[datetime, int]] = []
    found = []
    for since, until, piece in standing(plan):
        while taken and taken[0][0] <= since:
            heappush(free, heappop(taken)[1])
        if not free:
            places.append((NO_PLACE if racks else OFF_THE_TABLES, len(places) - _places(racks) + 1))
            heappush(free, len(places) - 1)
        number = heappop(free)
        heappush(taken, (until, number))
        found.append(StandingShown(piece, since, until, *places[number]))
    return tuple(found)


def _places(racks: Sequence[Rack]) -> int:
    return sum(rack.places for rack in racks)


def on_day(stands: Sequence[StandingShown], day: date) -> list[StandingShown]:
    """What stands there at some time of `day`, by rack and place."""
    begin = datetime.combine(day, time(0))
    end = begin + timedelta(days=1)
    found = [each for each in stands if each.since < end and each.until > begin]
    return sorted(found, key=lambda each: (each.rack, each.place, each.since))


_WIDTH: Final = 340.0
_COLUMNS: Final = 2
_LINE: Final = 15.0


def racks_on(
    plan: PlanShown,
    racks: Sequence[Rack],
    day: date,
    *,
    title: str = "",
    stands: Sequence[StandingShown] | None = None,
) -> str:
    """SVG of the racks on `day`: each place that is used, with what stands there from when to when; empty text where nothing stands all day.

    `stands` are those of the whole plan, where they are known already.
    """
    today = on_day(placed(plan, racks) if stands is None else stands, day)
    if not today:
        return ""
    body: list[str] = []
    y = 0.0
    if title:
        y = 20
        body.append(ink.words(2, 13, title, size=13, weight=600))
    sizes = {rack.name: rack.places for rack in racks}
    for name in [*sizes, *sorted({each.rack for each in today} - set(sizes))]:
        here = [each for each in today if each.rack == name]
        body.append(ink.words(2, y + 13, _heading(name, sizes.get(name), here), size=12, weight=600))
        y += 20
        drawn, height = _shelf(here, day, y)
        body += drawn
        y += height + 8
    return ink.picture(_WIDTH, y, body, label=_label(title, today))


def _heading(name: str, places: int | None, here: Sequence[StandingShown]) -> str:
    used = len({each.place for each in here})
    if places is None:
        return f"{name} · {counted(used, 'piece')} at most"
    told = (
        "empty all day" if not used else f"{places - used} empty all day" if used < places else "all in use"
    )
    return f"{name} · {counted(places, 'place')} · {told}"


def _shelf(here: Sequence[StandingShown], day: date, y: float) -> tuple[list[str], float]:
    """The places in use of one rack, two in a row; returns the drawing and its height."""
    places: dict[int, list[StandingShown]] = {}
    for each in here:
        places.setdefault(each.place, []).append(each)
    boxes = list(places.items())
    drawn: list[str] = []
    top = y
    for first in range(0, len(boxes), _COLUMNS):
        row = boxes[first : first + _COLUMNS]
        height = 6 + 2 * _LINE * max(len(stands) for _, stands in row)
        for column, (place, stands) in enumerate(row):
            drawn += _place(place, stands, day, 2 + column * _WIDTH / _COLUMNS, top, height)
        top += height + 4
    return drawn, top - y


def _place(
    place: int, stands: Sequence[StandingShown], day: date, x: float, y: float, height: float
) -> Iterator[str]:
    width = _WIDTH / _COLUMNS - 6
    yield "<g>"
    yield ink.rect(x, y, width, height, ink.PAPER, stroke=ink.INK, rx=2)
    yield patterned(x, y, 26, height, "rules", stroke=ink.INK)
    yield ink.rect(x + 3, y + height / 2 - 8, 20, 16, ink.PAPER, rx=2)
    yield ink.words(x + 13, y + height / 2 + 4, f"{place}", size=11, weight=600, anchor="middle")
    for number, each in enumerate(stands):
        top = y + 3 + 2 * _LINE * number
        mark = ink.shortened(each.piece, width - 34, 11)
        yield ink.words(x + 31, top + 12, mark, size=11, weight=600)
        yield ink.words(x + 31, top + 12 + _LINE, _span(each, day), size=10.5)
    yield "</g>"


def _span(each: StandingShown, day: date) -> str:
    """“10:30 to Thu 08:05”; a day is named where it is another."""
    return f"{_clock(each.since, day)} to {_clock(each.until, day)}"


def _clock(moment: datetime, day: date) -> str:
    return f"{moment:%H:%M}" if moment.date() == day else f"{moment:%a %H:%M}"


def _label(title: str, today: Sequence[StandingShown]) -> str:
    told = "; ".join(
        f"{each.rack}, place {each.place}: {each.piece}, {each.since:%a %H:%M} to {each.until:%a %H:%M}"
        for each in today
    )
    return f"{title or 'The racks'}. {told}"
