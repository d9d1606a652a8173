"""Day sheets and table maps out of a plan."""

from dataclasses import replace
from datetime import date, datetime
from io import BytesIO

import pytest
from pypdf import PdfReader

from hidewright.charts.plan import ActShown, LyingShown, PlanShown
from hidewright.charts.plan_json import plan_from_data, plan_to_data
from hidewright.charts.racks import Rack
from hidewright.charts.tables import TableTop
from hidewright.papers.day_sheet import day_sheet_pdf
from hidewright.papers.from_plan import day_sheet_of, headline, overnight_text, table_maps_of
from hidewright.papers.table_maps import table_maps_pdf
from hidewright.refusals import Refusal


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute)


PLAN = PlanShown(
    tables=(TableTop("Table A", 3.6, 0.9),),
    people=("Ana", "Ben"),
    acts=(
        ActShown(
            "C2:strip", "C2", "top", "Strip", "Ben", at(2, 9), at(2, 10), "Table A", "Table A, 1.0–1.6 m"
        ),
        ActShown(
            "C1:spray",
            "C1",
            "top",
            "Spray",
            "Ana",
            at(2, 8),
            at(2, 9),
            "Table A",
            kind="gun",
            caution="by 10",
        ),
        ActShown("C1:turn", "C1", "top", "Turn", "Ana", at(3, 8), at(3, 9)),
    ),
    lying=(LyingShown("C1", "Table A", 0, 0.6, 0.5, at(2, 9), at(3, 8), "curing"),),
    hours=((at(2, 8), at(2, 12)), (at(2, 13), at(2, 17)), (at(3, 8), at(3, 17))),
    finish=at(3, 9),
    bound=date(2026, 3, 3),
    promised=date(2026, 3, 2),
)
MADE = date(2026, 3, 1)


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_the_sheet_lists_each_person_in_order_with_the_night() -> None:
    sheet = day_sheet_of(PLAN, date(2026, 3, 2), job="Rail car", made_on=MADE, done={"C2:strip": True})
    assert [p.name for p in sheet.people] == ["Ana", "Ben"]
    assert sheet.people[0].hours == "08:00–12:00, 13:00–17:00"
    assert [(i.start, i.done) for p in sheet.people for i in p.items] == [("08:00", False), ("09:00", True)]
    text = text_of(day_sheet_pdf(sheet))
    for wanted in ("Monday 2 March 2026", "Spray", "by 10", "Table A, 1.0–1.6 m", "1 on Table A", "(late)"):
        assert wanted in text, wanted


def test_the_headline_compares_plan_promise_and_bound() -> None:
    told = headline(PLAN, date(2026, 3, 3))
    assert told == (
        "Day 2 of 2. The plan ends on Tue 3 Mar; promised Mon 2 Mar (late); at the very earliest Tue 3 Mar."
    )


def test_nothing_left_wet_nothing_said() -> None:
    assert overnight_text(PLAN, date(2026, 3, 3)) == ""


def test_a_day_without_work_is_refused_with_the_days_that_have_some() -> None:
    with pytest.raises(Refusal, match="Mon 2 Mar, Tue 3 Mar"):
        day_sheet_of(PLAN, date(2026, 3, 9), job="x", made_on=MADE)


def test_maps_of_every_day() -> None:
    mark = PLAN.lying[0].piece
    maps = table_maps_of(PLAN, job="Rail car", made_on=MADE, names={mark: "Armrest"})
    text = text_of(table_maps_pdf(maps))
    assert f"{mark} Armrest" in text
    assert "Monday 2 March" in text
    assert "Tuesday 3 March" in text
    assert "The tables are empty." in text


def test_the_maps_show_what_stands_in_the_racks() -> None:
    """C1 is turned on the Tuesday, off its table: until the turning is done it stands."""
    maps = table_maps_of(PLAN, job="Rail car", made_on=MADE, racks=[Rack("Wall rack", 4)])
    assert [len(day.pictures) for day in maps.days] == [2, 1], (
        "on the Tuesday the tables are empty: the racks alone"
    )
    text = text_of(table_maps_pdf(maps))
    for wanted in (
        "In the racks, from when to when",
        "Wall rack · 4 places · 3 empty all day",
        "08:00 to 09:00",
    ):
        assert wanted in text, wanted


def test_like_acts_one_after_the_other_are_one_line_ticked_when_all_are_done() -> None:
    acts = tuple(
        ActShown(
            f"k{n}",
            f"P{n}",
            "",
            "strip",
            "Ana",
            at(2, 8, 10 * n),
            at(2, 8, 10 * n + 10),
            place=f"T, from {n}.00 m",
        )
        for n in range(3)
    )
    plan = replace(PLAN, acts=acts, people=("Ana",))
    for done in ({"k0": True}, {"k0": True, "k1": True, "k2": True}):
        (item,) = day_sheet_of(plan, date(2026, 3, 2), job="x", made_on=MADE, done=done).people[0].items
        assert (item.start, item.end, item.pieces, item.act) == (
            "08:00",
            "08:30",
            ("P0", "P1", "P2"),
            "Strip",
        )
        assert item.done is (len(done) == 3)
        assert item.place == "T, from 0.00, 1.00, 2.00\u00a0m"
    (item,) = day_sheet_of(plan, date(2026, 3, 2), job="x", made_on=MADE, unit="ft").people[0].items
    assert item.place == "T, from 0.0, 3.3, 6.6\u00a0ft"


def test_the_sheet_tells_each_persons_own_hours_and_who_is_away() -> None:
    """Not the shop's: one comes later, the other is off that day."""
    day = date(2026, 3, 2)
    late = (datetime(2026, 3, 2, 10), datetime(2026, 3, 2, 14))
    other = (datetime(2026, 3, 3, 8), datetime(2026, 3, 3, 12))
    plan = replace(PLAN, own_hours=(("Ana", (late,)), ("Ben", (other,))))
    sheet = day_sheet_of(plan, day, job="Rail car", made_on=MADE)
    assert [person.hours for person in sheet.people] == ["10:00–14:00", "not at work"]
    assert plan_from_data(plan_to_data(plan)) == plan
    old = plan_to_data(plan)
    del old["own_hours"]
    assert plan_from_data(old).own_hours == (), "plans that were kept before are still read"
