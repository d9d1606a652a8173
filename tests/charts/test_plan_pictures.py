"""A plan as pictures: what lies where at a moment, and the whole plan against the clock."""

import json
import re
from dataclasses import replace
from datetime import date, datetime
from xml.etree import ElementTree

import pytest

from hidewright.charts.plan import (
    PAPER_WIDTH,
    ActShown,
    LyingShown,
    PlanShown,
    acts_of,
    clock_chart,
    clock_charts,
    fullest_rack,
    moments_of,
    standing_between,
    tables_at,
)
from hidewright.charts.plan_json import plan_from_data, plan_to_data
from hidewright.charts.tables import PartLying, TableTop, tables_from_above
from hidewright.refusals import Refusal


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute)


PLAN = PlanShown(
    tables=(TableTop("Table A", 3.6, 0.9),),
    people=("Ana", "Ben"),
    acts=(
        ActShown("C1:spray", "C1", "top", "Spray", "Ana", at(2, 8), at(2, 9), "Table A", kind="gun"),
        ActShown("C2:strip", "C2", "top", "Strip", "Ben", at(2, 8), at(2, 10), "Table A"),
        ActShown("C1:turn", "C1", "top", "Turn", "Ana", at(3, 8), at(3, 8, 10), "Table A"),
    ),
    lying=(
        LyingShown("C1", "Table A", 0, 0.6, 0.5, at(2, 8), at(2, 9), "handling"),
        LyingShown("C1", "Table A", 0, 0.6, 0.5, at(2, 9), at(2, 12), "wet"),
        LyingShown("C1", "Table A", 0, 0.6, 0.5, at(2, 12), at(3, 8), "curing"),
    ),
    hours=((at(2, 8), at(2, 17)), (at(3, 8), at(3, 17))),
    finish=at(3, 8, 10),
    promised=date(2026, 3, 3),
)


def label(svg: str) -> str:
    return ElementTree.fromstring(svg).attrib["aria-label"]


def test_the_tables_show_what_lies_there_at_the_moment_and_nothing_else() -> None:
    assert "C1 being worked on" in label(tables_at(PLAN, at(2, 8, 30)))
    assert "C1 wet" in label(tables_at(PLAN, at(2, 9)))
    assert "C1 drying" in label(tables_at(PLAN, at(2, 23)))
    assert "empty" in label(tables_at(PLAN, at(3, 8)))


def test_the_moments_of_a_day_run_from_the_first_act_into_the_night() -> None:
    moments = moments_of(PLAN, date(2026, 3, 2))
    assert moments == sorted(set(moments))
    assert moments[0] >= at(2, 8)
    assert moments[-1] > at(2, 10)
    assert moments_of(PLAN, date(2026, 3, 9)) == []


def test_acts_of_a_day_and_person_in_order() -> None:
    assert [a.key for a in acts_of(PLAN, date(2026, 3, 2))] == ["C1:spray", "C2:strip"]
    assert [a.key for a in acts_of(PLAN, date(2026, 3, 2), "Ben")] == ["C2:strip"]
    assert PLAN.days == [date(2026, 3, 2), date(2026, 3, 3)]


def test_the_chart_names_people_tables_days_and_the_promise() -> None:
    words = " ".join(ElementTree.fromstring(clock_chart(PLAN, PLAN.days).chart).itertext())
    for wanted in ("Ana", "Ben", "Table A", "Mon 2 Mar", "Tue 3 Mar", "promised", "no work"):
        assert wanted in words, wanted
    one = " ".join(ElementTree.fromstring(clock_chart(PLAN, [date(2026, 3, 3)]).chart).itertext())
    assert "Turn" in one
    assert "Spray" not in one


def test_the_whole_plan_has_a_chart_for_each_week() -> None:
    monday = replace(PLAN.acts[0], key="C1:again", start=at(9, 8), end=at(9, 9))
    hours = (*PLAN.hours, (at(9, 8), at(9, 17)))
    charts = clock_charts(replace(PLAN, acts=(*PLAN.acts, monday), hours=hours))
    assert [chart.days for chart in charts] == [(date(2026, 3, 2), date(2026, 3, 3)), (date(2026, 3, 9),)]
    for chart in charts:
        assert float(ElementTree.fromstring(chart.chart).attrib["width"]) <= PAPER_WIDTH
        assert "Table A" in chart.names
    assert "promised" in charts[0].chart


def test_an_empty_day_and_an_act_without_length_are_refused() -> None:
    with pytest.raises(Refusal):
        clock_chart(PLAN, [])
    with pytest.raises(Refusal, match="end after"):
        replace(PLAN.acts[0], end=at(2, 8))


def test_a_plan_goes_through_json_unchanged_and_rubbish_is_refused() -> None:
    assert plan_from_data(json.loads(json.dumps(plan_to_data(PLAN)))) == PLAN
    for rubbish in ({}, {"tables": [{}]}, {**plan_to_data(PLAN), "finish": "soon"}):
        with pytest.raises(Refusal):
            plan_from_data(rubbish)


@pytest.mark.parametrize(
    ("length", "depth", "lines"),
    [
        (0.90, 0.50, ["ST1-seat-left"]),
        (0.60, 0.55, ["ST1-seat-", "left"]),
        (0.45, 0.60, ["ST1-", "seat-", "left"]),
        (0.14, 0.90, ["ST1-seat-left"]),
        (0.06, 0.08, []),
    ],
)
def test_a_mark_is_written_whole_wherever_it_can_be(length: float, depth: float, lines: list[str]) -> None:
    """Two pieces whose marks begin alike must not look alike: a mark is broken at its hyphens before it is shortened."""
    top = TableTop("Long table", 3.0, 1.0)
    part = PartLying("Long table", 0.1, length, depth, "ST1-seat-left", "waiting")
    svg = tables_from_above([top], [part], key=False)
    written = re.findall(r'font-weight="600"[^>]*>([^<]*)<', svg)[1:]
    assert written == lines


def test_what_stands_between_two_passes_is_begun_not_done_and_on_no_table() -> None:
    """C1 is sprayed on the first day and turned on the next; C2 is done on the first."""
    bare = replace(PLAN, lying=())
    evening = at(2, 23)
    assert standing_between(bare, at(2, 7)) == [], "nothing is begun"
    assert standing_between(bare, evening) == ["C1"]
    assert fullest_rack(bare) == (date(2026, 3, 2), ["C1"])
    assert standing_between(bare, at(3, 9)) == [], "what is done stands in no rack"
    on_table = LyingShown("C1", "Table A", 0, 0.6, 0.5, at(2, 9), at(3, 8), "curing")
    assert standing_between(replace(PLAN, lying=(on_table,)), evening) == []
    assert fullest_rack(replace(PLAN, lying=(on_table,))) is None
