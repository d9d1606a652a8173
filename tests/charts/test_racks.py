"""What stands in the racks: each piece in one place from coming off its table until it goes on, and no place holds two."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.charts.plan import ActShown, LyingShown, PlanShown
from hidewright.charts.racks import (
    NO_PLACE,
    OFF_THE_TABLES,
    Rack,
    StandingShown,
    on_day,
    placed,
    racks_on,
    standing,
)
from hidewright.charts.tables import TableTop
from hidewright.refusals import Refusal


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute)


def lies(piece: str, since: datetime, until: datetime, state: str = "curing") -> LyingShown:
    return LyingShown(piece, "Table A", 0, 0.6, 0.5, since, until, state)


def act(piece: str, number: int, start: datetime, end: datetime) -> ActShown:
    return ActShown(f"{piece}/{number}", piece, "", "Spray", "Ana", start, end)


PLAN = PlanShown(
    tables=(TableTop("Table A", 3.6, 0.9),),
    people=("Ana",),
    acts=(
        act("C1", 1, at(2, 8), at(2, 9)),
        act("C1", 2, at(3, 10), at(3, 11)),
        act("C1", 3, at(4, 9), at(4, 10)),
        act("C2", 1, at(2, 9), at(2, 10)),
        act("C2", 2, at(3, 8), at(3, 9)),
    ),
    lying=(
        lies("C1", at(2, 8), at(2, 9), "wet"),
        lies("C1", at(2, 9), at(2, 12)),
        lies("C1", at(3, 10), at(3, 16)),
        lies("C2", at(2, 9), at(2, 14)),
    ),
    hours=((at(2, 8), at(2, 17)), (at(3, 8), at(3, 17)), (at(4, 8), at(4, 17))),
    finish=at(4, 10),
)
WALL = Rack("Wall rack", 2)


def test_a_piece_stands_between_its_passes_and_until_it_is_inspected() -> None:
    assert standing(PLAN) == [
        (at(2, 12), at(3, 10), "C1"),
        (at(2, 14), at(3, 9), "C2"),
        (at(3, 16), at(4, 10), "C1"),
    ]
    assert standing(replace(PLAN, lying=())) == [], "what never lay on a table takes no place"


def test_each_takes_the_lowest_place_that_is_free() -> None:
    assert placed(PLAN, [WALL]) == (
        StandingShown("C1", at(2, 12), at(3, 10), "Wall rack", 1),
        StandingShown("C2", at(2, 14), at(3, 9), "Wall rack", 2),
        StandingShown("C1", at(3, 16), at(4, 10), "Wall rack", 1),
    )
    assert [each.rack for each in placed(PLAN, [])] == [OFF_THE_TABLES] * 3
    assert [each.rack for each in placed(PLAN, [Rack("Hook", 1)])] == ["Hook", NO_PLACE, "Hook"]


def test_a_day_shows_what_stands_on_it_and_the_words_say_it_too() -> None:
    assert [each.piece for each in on_day(placed(PLAN, [WALL]), date(2026, 3, 3))] == ["C1", "C1", "C2"]
    svg = racks_on(PLAN, [WALL, Rack("Shelf", 3)], date(2026, 3, 3), title="Tuesday")
    root = ElementTree.fromstring(svg)
    told = " ".join(root.itertext())
    for wanted in (
        "Wall rack · 2 places · all in use",
        "Shelf · 3 places · empty all day",
        "Mon 12:00 to 10:00",
        "16:00 to Wed 10:00",
        "Mon 14:00 to 09:00",
    ):
        assert wanted in told, wanted
    assert "Wall rack, place 2: C2, Mon 14:00 to Tue 09:00" in root.attrib["aria-label"]
    sizes = [float(text.attrib["font-size"]) for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert min(sizes) >= 10.5
    assert racks_on(PLAN, [WALL], date(2026, 3, 9)) == ""


def test_without_a_rack_that_is_listed_the_picture_says_where() -> None:
    assert f"{OFF_THE_TABLES} · 2 pieces at most" in racks_on(PLAN, [], date(2026, 3, 2))
    assert f"{NO_PLACE} · 1 piece at most" in racks_on(PLAN, [Rack("Hook", 1)], date(2026, 3, 2))


@pytest.mark.parametrize("places", [0, -1, 10_001])
def test_a_rack_of_no_place_or_too_many_is_refused(places: int) -> None:
    with pytest.raises(Refusal, match="1 to 10,000 places"):
        Rack("Nothing", places)


@given(
    st.lists(st.tuples(st.integers(0, 90), st.integers(1, 60)), min_size=1, max_size=25), st.integers(0, 8)
)
def test_no_place_holds_two_and_none_is_used_in_vain(spans: list[tuple[int, int]], places: int) -> None:
    """As many places are used as stand at once, and there is none without a place while one is free."""
    hour = timedelta(hours=1)
    begin = at(2, 0)
    parts, acts = [], []
    for number, (since, length) in enumerate(spans):
        off = begin + (since + 1) * hour
        parts.append(lies(f"P{number}", begin, off))
        acts.append(act(f"P{number}", 1, off + length * hour - hour / 2, off + length * hour))
    plan = replace(PLAN, lying=tuple(parts), acts=tuple(acts))
    racks = [Rack("A", places)] if places else []
    stands = placed(plan, racks)
    assert len(stands) == len(spans)
    for one in stands:
        for other in stands:
            if one is not other and (one.rack, one.place) == (other.rack, other.place):
                assert one.until <= other.since or other.until <= one.since
    most = max(sum(a.since <= b.since < a.until for a in stands) for b in stands)
    assert len({(each.rack, each.place) for each in stands}) == most
    assert any(each.rack == NO_PLACE for each in stands) == bool(places and most > places)
