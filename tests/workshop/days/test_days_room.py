"""Tables, hours and days off: forms that change things, can be undone, and refuse nonsense."""

import re
from datetime import date, time

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from hidewright import demo
from hidewright.planning.problem.calendar import EVERY_NIGHT
from hidewright.planning.problem.csv_in import read_hours, read_people, read_tables
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.routes import Drying
from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, drying_factor
from hidewright.workshop.days import actions as day_steps
from hidewright.workshop.days import queries as gather_days
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.pieces.actions import import_csv as import_pieces
from hidewright.workshop.room import actions as steps
from hidewright.workshop.room.absence_actions import add_absence
from hidewright.workshop.room.drying_queries import planning_drying
from hidewright.workshop.room.models import DayOff, Hours, Storage, WorkTable
from hidewright.workshop.room.queries import (
    planning_calendar,
    planning_people,
    planning_tables,
    pot_life,
    rack_holds,
    room_rules,
    week_of,
)
from hidewright.workshop.shelf.actions import import_csv
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, Person, Shop

AIR = {"warmth": "20", "humidity": "50"}
pytestmark = pytest.mark.django_db


def undo_last() -> None:
    acts.undo(Act.objects.order_by("-id")[0].pk)


def test_a_table_is_added_shown_to_scale_changed_and_taken_away(visitor: Client) -> None:
    answer = visitor.post("/tables/", {"name": "Long table", "length": "3.6", "depth": "0.9"})
    assert answer.status_code == 302
    table = WorkTable.objects.get()
    page = visitor.get("/tables/").content.decode()
    assert "Long table · 3.60 m" in page
    visitor.post(f"/tables/{table.pk}/", {"name": "Long table", "length": "4", "depth": "0.9", "version": 0})
    assert WorkTable.objects.get().length == 4
    late = visitor.post(f"/tables/{table.pk}/", {"name": "x", "length": "5", "depth": "0.9", "version": 0})
    assert late.status_code == 422
    assert "Somebody changed this table" in late.content.decode()
    visitor.post(f"/tables/{table.pk}/remove/")
    assert not WorkTable.objects.filter(active=True).exists()
    undo_last()
    assert WorkTable.objects.filter(active=True).exists()


def test_feet_are_taken_as_feet_in_a_shop_that_uses_them(visitor: Client) -> None:
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    visitor.post("/tables/", {"name": "Bench", "length": "24", "depth": "2"})
    assert WorkTable.objects.get().length == pytest.approx(7.3152)
    assert "24.0 ft" in visitor.get("/tables/").content.decode()


@pytest.mark.parametrize(
    ("length", "depth"),
    [("", "1"), ("x", "1"), ("0", "1"), ("100", "1"), ("3", "-1"), ("nan", "1"), ("inf", "1")],
)
def test_a_table_without_a_sensible_size_is_refused(visitor: Client, length: str, depth: str) -> None:
    answer = visitor.post("/tables/", {"name": "T", "length": length, "depth": depth})
    assert answer.status_code == 422
    assert not WorkTable.objects.exists()


def test_the_same_name_twice_is_refused(visitor: Client) -> None:
    for expected in (302, 422):
        assert visitor.post("/tables/", {"name": "T", "length": "3", "depth": "1"}).status_code == expected


def test_hours_are_read_kept_shown_and_undone(visitor: Client) -> None:
    week = {f"day{n}": "08:00-12:00, 12:30-17:00" for n in range(5)}
    assert visitor.post("/hours/", week).status_code == 302
    assert Hours.objects.count() == 10
    assert week_of(None)[0] == "08:00-12:00, 12:30-17:00"
    assert week_of(None)[6] == ""
    assert visitor.post("/hours/", {"day0": "09:00-10:00"}).status_code == 302
    undo_last()
    assert Hours.objects.count() == 10


@pytest.mark.parametrize(
    "text",
    [
        "8",
        "8-",
        "12-8",
        "8-25",
        "8:3-12",
        "12:00-08:00",
        "08:00-25:00",
        "08:00-12:00, 11:00-13:00",
        "08:00-08:00",
        "mornings",
    ],
)
def test_hours_that_are_none_are_refused(visitor: Client, text: str) -> None:
    answer = visitor.post("/hours/", {"day0": text})
    assert answer.status_code == 422
    assert not Hours.objects.exists()
    with pytest.raises(Refusal):
        steps.read_stretches(text, "Monday")


def test_a_night_shift_goes_on_into_the_next_day_and_comes_back_as_written(visitor: Client) -> None:
    nights = {"day0": "22-6", "day6": "8pm-2am"}
    assert visitor.post("/hours/", nights).status_code == 302
    week = week_of(None)
    assert (week[0], week[1], week[6]) == ("00:00-02:00, 22:00-24:00", "00:00-06:00", "20:00-24:00")
    steps.import_hours("weekday,hours\nMonday,08:00-17:00\n", "key,name\nana,Ana\n")
    visitor.post("/hours/", nights)
    shifts = planning_calendar(date(2026, 3, 2)).stretches(planning_people()[0])
    assert (22 * 60, 30 * 60) in shifts, "one shift of eight hours, without a gap at midnight"
    assert visitor.post("/hours/", {f"day{n}": text for n, text in week.items()}).status_code == 302
    assert week_of(None) == week, "what the page shows can be sent again"


def test_a_shift_that_runs_into_the_next_one_is_refused_in_words(visitor: Client) -> None:
    answer = visitor.post("/hours/", {"day0": "22-6", "day1": "5-9"})
    assert answer.status_code == 422
    assert "The shift of Monday goes on until 06:00" in answer.content.decode()


def test_a_shop_that_never_opens_is_refused(visitor: Client) -> None:
    assert visitor.post("/hours/", {}).status_code == 422


def test_one_day_is_copied_over_the_working_week(visitor: Client) -> None:
    monday = {"day0": "8-12, 12:30-17", "day1": "9-10", "day5": "9-11", "like_monday": "1"}
    assert visitor.post("/hours/", monday).status_code == 302
    week = week_of(None)
    assert {week[number] for number in range(5)} == {"08:00-12:00, 12:30-17:00"}
    assert week[5] == "09:00-11:00"
    assert not week.get(6)


def test_a_person_may_have_hours_of_their_own(visitor: Client) -> None:
    ana = add_person("Ana")
    steps.set_week(None, {0: [(time(8), time(17))]})
    assert week_of(ana)[0] == "08:00-17:00"
    visitor.post(f"/hours/{ana.pk}/", {"day1": "9:00-11:00"})
    assert week_of(ana) == {**dict.fromkeys(range(7), ""), 1: "09:00-11:00"}
    visitor.post(f"/hours/{ana.pk}/", {"as_shop": "1"})
    assert week_of(ana)[0] == "08:00-17:00"


def test_a_day_off_for_one_and_for_all_and_back(visitor: Client) -> None:
    ana = add_person("Ana")
    visitor.post("/days-off/", {"off-who": str(ana.pk), "off-day": "2026-03-03", "off-note": "dentist"})
    visitor.post("/days-off/", {"off-who": "", "off-day": "2026-03-03"})
    visitor.post("/days-off/", {"off-who": "", "off-day": "2026-03-03", "off-note": "holiday"})
    assert DayOff.objects.count() == 2
    row = DayOff.objects.get(person=None)
    assert row.note == "holiday"
    visitor.post(f"/days-off/{row.pk}/remove/")
    assert DayOff.objects.count() == 1
    undo_last()
    assert DayOff.objects.count() == 2


def test_rules_of_the_room_are_changed_shown_and_undone(visitor: Client) -> None:
    assert "the fan runs" in visitor.get("/tables/").content.decode()
    fields = {"guns": "2", "fan_off": "on", "dry_cure": "600", "factor": "1.5", "version": "0", **AIR}
    assert visitor.post("/tables/rules/", fields).status_code == 302
    page = visitor.get("/tables/").content.decode()
    assert "900 min" in page, "as the next plan takes it: 600 min, half as long again"
    assert "the fan is off" in page
    assert planning_drying().cure == 600
    assert planning_drying().factor == 1.5
    assert "1.5 times as long" in page
    assert planning_drying().colour == Drying().colour
    late = visitor.post("/tables/rules/", fields)
    assert late.status_code == 422
    undo_last()
    assert planning_drying() == Drying()


def test_the_fan_goes_off_on_the_evenings_that_are_ticked(visitor: Client) -> None:
    fields = {"guns": "1", "fan_off": "on", "factor": "1", "version": "0", **AIR}
    assert visitor.post("/tables/rules/", {**fields, "fan_nights": ["4", "5"]}).status_code == 302
    assert set(room_rules().fan_off) == {4, 5}
    assert "the fan is off on the nights of Fri, Sat" in visitor.get("/tables/").content.decode()
    form = visitor.get("/tables/rules/").content.decode()
    assert len(re.findall(r'name="fan_nights" value="[45]"[^>]*checked', form)) == 2
    every = {**fields, "version": "1"}
    assert visitor.post("/tables/rules/", every).status_code == 302
    assert set(room_rules().fan_off) == EVERY_NIGHT, "no evening ticked: every one"
    form = visitor.get("/tables/rules/").content.decode()
    assert not re.findall(r'name="fan_nights"[^>]*checked', form)
    del every["fan_off"]
    assert visitor.post("/tables/rules/", {**every, "version": "2", "fan_nights": ["4"]}).status_code == 302
    assert room_rules().fan_off == [], "where the fan runs at night no evening counts"
    assert visitor.post("/tables/rules/", {**fields, "version": "3", "fan_nights": ["9"]}).status_code == 422
    undo_last()
    assert set(room_rules().fan_off) == EVERY_NIGHT


def test_the_air_of_the_room_stretches_drying_in_either_unit(visitor: Client) -> None:
    fields = {"guns": "1", "factor": "1", "version": "0", "warmth": "15", "humidity": "70"}
    assert visitor.post("/tables/rules/", fields).status_code == 302
    damp = planning_drying().factor
    assert damp == pytest.approx(drying_factor(Air(15, 0.7)))
    assert damp > 1.5
    assert "15.0 °C, 70 %" in visitor.get("/tables/").content.decode()
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    assert "59.0 °F, 70 %" in visitor.get("/tables/").content.decode()
    visitor.post("/tables/rules/", {**fields, "version": "1", "warmth": "68", "humidity": "50"})
    assert planning_drying().factor == pytest.approx(1)


@pytest.mark.parametrize(
    "fields",
    [
        {"guns": "0"},
        {"guns": "x"},
        {"guns": "1", "dry_cure": "-5"},
        {"guns": "1", "factor": "0"},
        {"guns": "1", "warmth": "500"},
        {"guns": "1", "humidity": "100"},
        {"guns": "1", "humidity": "0"},
    ],
)
def test_rules_that_cannot_be_are_refused(visitor: Client, fields: dict[str, str]) -> None:
    told = {"factor": "1", "version": "0", **AIR, **fields}
    assert visitor.post("/tables/rules/", told).status_code == 422


def test_a_table_may_be_closed_to_a_material(visitor: Client) -> None:
    visitor.post("/tables/", {"name": "Glass", "length": "3", "depth": "1", "not_for": ["metal"]})
    assert planning_tables()[0].not_for == frozenset({"metal"})
    assert "not for metal" in visitor.get("/tables/").content.decode()
    assert (
        visitor.post("/tables/", {"name": "U", "length": "3", "depth": "1", "not_for": ["x"]}).status_code
        == 422
    )


def test_people_hours_and_holidays_reach_the_planner() -> None:
    ana, ben = add_person("Ana"), add_person("Ben")
    with pytest.raises(Refusal, match="no hours"):
        planning_people()
    steps.set_week(None, {0: [(time(8), time(12)), (time(13), time(17))]})
    steps.set_week(ben, {1: [(time(9), time(10))]})
    add_absence(ana, date(2026, 3, 9))
    add_absence(None, date(2026, 3, 16))
    people = {person.key: person for person in planning_people()}
    assert people[ana.key].week.hours == {0: ((480, 720), (780, 1020))}
    assert people[ben.key].week.hours == {1: ((540, 600),)}
    assert people[ana.key].works_until(date(2026, 3, 9)) == 0
    calendar = planning_calendar(date(2026, 3, 2))
    starts = [calendar.moment(start).date() for start, _ in calendar.stretches(people[ana.key])]
    assert date(2026, 3, 2) in starts
    assert not {date(2026, 3, 9), date(2026, 3, 16)} & set(starts)


def test_what_a_person_does_reaches_the_planner_and_can_be_undone(visitor: Client) -> None:
    ana = add_person("Ana")
    steps.set_week(None, {0: [(time(8), time(12))]})
    assert planning_people()[0].skills is None
    visitor.post(f"/hours/{ana.pk}/skills/", {"kinds": ["strip", "clean"]})
    assert planning_people()[0].skills == frozenset({Kind.STRIP, Kind.CLEAN})
    assert visitor.get(f"/hours/{ana.pk}/").content.decode().count("checked") == 2
    assert visitor.post(f"/hours/{ana.pk}/skills/", {}).status_code == 422
    undo_last()
    assert planning_people()[0].skills is None
    visitor.post(f"/hours/{ana.pk}/skills/", {"kinds": [str(kind) for kind in Kind]})
    assert planning_people()[0].skills is None


def test_the_demonstration_files_are_taken_in() -> None:
    steps.import_tables(demo.text("tables.csv"))
    steps.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    assert {t.key for t in planning_tables()} == {t.key for t in read_tables(demo.text("tables.csv"))}
    weeks = read_hours(demo.text("hours.csv"))
    expected = sorted(read_people(demo.text("people.csv"), weeks), key=lambda person: person.name)
    assert list(planning_people()) == expected


def test_drying_and_pot_life_come_from_the_products_where_the_shop_said_nothing() -> None:
    assert pot_life() == {}
    import_csv(demo.text("products.csv"))
    assert planning_drying().cure == 960
    assert (planning_drying().colour, planning_drying().wiped) == (40, 30)
    assert planning_drying().strip == Drying().strip
    assert pot_life() == {"colour": 480, "clear": 480}
    steps.set_rules(guns=1, fan_off=(), drying={"cure": 700}, version=room_rules().version)
    assert planning_drying().cure == 700


def test_the_database_itself_keeps_a_day_off_once() -> None:
    ana = add_person("Ana")
    for person in (None, ana):
        DayOff.objects.create(person=person, day=date(2026, 3, 3))
        with pytest.raises(IntegrityError), transaction.atomic():
            DayOff.objects.create(person=person, day=date(2026, 3, 3))
    assert DayOff.objects.count() == 2


def test_everything_that_is_entered_about_the_room_reaches_the_planner(visitor: Client, job: Job) -> None:
    """Tables and what may not lie on them, guns, the fan at night, hours, days off, holidays, skills, holds, days of their own, the promise."""
    week = {f"day{n}": "08:00-12:00, 12:30-17:00" for n in range(5)}
    visitor.post("/people/", {"name": "Ana", "credentials": ""})
    visitor.post("/people/", {"name": "Ben", "credentials": ""})
    ana, ben = Person.objects.get(name="Ana"), Person.objects.get(name="Ben")
    for path, told in (
        ("/tables/", {"name": "Hard top", "length": "3", "depth": "0.9", "not_for": ["metal"]}),
        ("/tables/", {"name": "Flat rack", "length": "2", "depth": "0.6"}),
        ("/tables/rules/", {"guns": "3", "fan_off": "on", "factor": "1", "version": "0", **AIR}),
        ("/hours/", week),
        (f"/hours/{ben.pk}/", {"day0": "10:00-14:00", "day1": "10:00-14:00"}),
        (f"/hours/{ben.pk}/skills/", {"kinds": ["strip", "clean"]}),
        ("/days-off/", {"off-who": str(ana.pk), "off-day": "2026-03-04"}),
        ("/days-off/", {"off-who": "", "off-day": "2026-03-06", "off-note": "holiday"}),
    ):
        assert visitor.post(path, told).status_code == 302, (path, told)
    import_pieces(
        job,
        "key,name,group,shape,length,width,thickness,material,condition,sat_on,turned,strip\n"
        "B1,Base,Chair,panel,500,400,,metal,sound,,,\nC1,Seat,Chair,panel,500,400,,leather,sound,,,\n",
    )
    day_steps.hold(job, "C1", "sand", date(2026, 3, 5), "approval")
    day_steps.set_due(job, "B1", date(2026, 3, 20))
    problem = gather_days.problem_of(job)
    assert [(t.name, t.not_for) for t in problem.tables] == [("Flat rack", set()), ("Hard top", {"metal"})]
    assert problem.job("B1").on(problem.tables[1]) is None, "a bare metal base never lies on the hard top"
    assert (problem.guns, problem.fan_off, problem.promised) == (3, EVERY_NIGHT, job.promised)
    people = {person.name: person for person in problem.people}
    assert (people["Ana"].works_until(date(2026, 3, 4)), people["Ana"].works_until(date(2026, 3, 5))) == (
        0,
        1440,
    )
    assert people["Ana"].skills is None
    assert people["Ben"].skills == {Kind.STRIP, Kind.CLEAN}
    # 20 min in the morning and 30 in the evening go into the room and the guns.
    assert people["Ben"].week.hours == {0: ((620, 810),), 1: ((620, 810),)}
    assert problem.calendar.holidays == {date(2026, 3, 6)}
    assert [o.release for o in problem.job("C1").operations if o.kind is Kind.SAND] == [3 * 1440]
    assert problem.job("B1").due == date(2026, 3, 20)


def test_racks_are_listed_counted_and_taken_away(visitor: Client) -> None:
    assert rack_holds() is None
    for name, pieces in (("Wire rack", "12"), ("Shelf", "4")):
        assert visitor.post("/tables/racks/", {"rack-name": name, "rack-pieces": pieces}).status_code == 302
    assert rack_holds() == 16
    assert "<strong>Wire rack</strong> holds 12" in visitor.get("/tables/").content.decode()
    visitor.post(f"/tables/racks/{Storage.objects.get(name='Shelf').pk}/remove/")
    assert rack_holds() == 12
    undo_last()
    assert rack_holds() == 16


@pytest.mark.parametrize(("name", "pieces"), [("", "3"), (" ", "3"), ("R", "0"), ("R", "x"), ("R", "9999")])
def test_a_rack_that_holds_nothing_is_refused(visitor: Client, name: str, pieces: str) -> None:
    assert visitor.post("/tables/racks/", {"rack-name": name, "rack-pieces": pieces}).status_code == 422
    assert rack_holds() is None
    with pytest.raises(Refusal):
        steps.add_storage(name, 0)


def test_undoing_a_second_note_leaves_the_day_off_with_its_first(visitor: Client) -> None:
    for note in ("dentist", "holiday"):
        visitor.post("/days-off/", {"off-who": "", "off-day": "2026-03-03", "off-note": note})
    undo_last()
    assert DayOff.objects.get().note == "dentist"
    acts.undo(Act.objects.filter(undone=None).latest("pk").pk)
    assert not DayOff.objects.exists()
