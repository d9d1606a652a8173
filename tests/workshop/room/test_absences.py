"""Absences beside the person: one row however long, brought as a list, shown with the weeks, and undone."""

import io
import zipfile
from datetime import date, time, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.workshop.days.weeks_queries import away_words
from hidewright.workshop.front import copy_file
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.absence_actions import add_absence
from hidewright.workshop.room.absence_queries import absence_lines, away_soon, past_absences
from hidewright.workshop.room.models import DayOff
from hidewright.workshop.room.queries import planning_calendar, planning_people
from hidewright.workshop.shop.models import Act, Person
from hidewright.workshop.shop.undo import undo
from workshop.sent_forms import list_form

pytestmark = pytest.mark.django_db


@pytest.fixture
def ana() -> Person:
    room.set_week(None, {day: [(time(8), time(16))] for day in range(5)})
    return add_person("Ana")


def undo_last() -> None:
    undo(Act.objects.filter(undone=None).latest("pk").pk)


def test_half_a_year_is_one_row_beside_the_person_and_one_undo(visitor: Client, ana: Person) -> None:
    first = timezone.localdate() + timedelta(days=10)
    told = {"off-who": str(ana.pk), "off-beside": "1", "off-day": first.isoformat(), "off-note": "child"}
    told |= {"off-last": (first + timedelta(days=180)).isoformat(), "off-hour": "12:00"}
    answer = visitor.post("/days-off/", told)
    assert (answer.status_code, answer["Location"]) == (302, f"/hours/{ana.pk}/")
    row = DayOff.objects.get()
    assert (row.last, row.hour) == (first + timedelta(days=180), time(12))
    for page in (f"/hours/{ana.pk}/", "/tables/"):
        assert "from 12:00 to" in visitor.get(page).content.decode(), page
    person = planning_people()[0]
    assert [person.works_until(first + timedelta(days=n)) for n in (-1, 0, 1, 180, 181)] == [
        1440,
        720,
        0,
        0,
        1440,
    ]
    assert visitor.post(f"/days-off/{row.pk}/remove/", {"off-beside": "1"})["Location"] == f"/hours/{ana.pk}/"
    assert not DayOff.objects.exists()
    undo_last()
    row = DayOff.objects.get()
    assert (row.last, row.hour, row.note) == (first + timedelta(days=180), time(12), "child")


def test_what_is_over_is_listed_apart_and_what_ends_today_is_not_over(ana: Person) -> None:
    today = timezone.localdate()
    day = timedelta(days=1)
    stretches = [(-9, -5), (-4, None), (-3, 0), (0, None), (2, 3)]
    for first, last in stretches:
        add_absence(ana, today + first * day, None if last is None else today + last * day, why=f"{first}")
    add_absence(None, today + day, why="1")
    assert [line.why for line in past_absences(ana)] == ["-4", "-9"]
    assert [line.why for line in absence_lines()] == ["-3", "0", "1", "2"]
    away = away_soon(absence_lines())
    assert away == {ana.pk: "; ".join(line.words for line in absence_lines(ana))}


def test_a_last_day_before_the_first_is_refused_beside_its_person(visitor: Client, ana: Person) -> None:
    told = {"off-who": str(ana.pk), "off-beside": "1", "off-day": "2027-03-09", "off-last": "2027-03-02"}
    answer = visitor.post("/days-off/", told)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "is before the first" in page
    assert "Hours of Ana" in page
    assert not DayOff.objects.exists()


def test_a_second_note_of_the_same_first_day_changes_it_and_undo_gives_the_first_back(ana: Person) -> None:
    add_absence(ana, date(2027, 3, 1), date(2027, 3, 5), why="flu")
    add_absence(ana, date(2027, 3, 1), date(2027, 3, 12), time(10), "worse")
    undo_last()
    row = DayOff.objects.get()
    assert (row.last, row.hour, row.note) == (date(2027, 3, 5), None, "flu")
    undo_last()
    assert not DayOff.objects.exists()


def test_a_shop_that_closes_early_closes_for_all_that_day_only(ana: Person) -> None:
    add_absence(None, date(2027, 3, 1), date(2027, 3, 2), time(12))
    person, calendar = planning_people()[0], planning_calendar(date(2027, 3, 1))
    assert calendar.holidays == {date(2027, 3, 2)}
    assert calendar.stretches(person)[:2] == ((480, 720), (2 * 1440 + 480, 2 * 1440 + 960))


def test_a_list_of_absences_is_taken_and_undone_whole(visitor: Client, ana: Person) -> None:
    add_absence(ana, date(2027, 3, 1), why="course")
    text = "Employee;From;To;From hour;Reason\nana;2027-03-01;2027-03-12;;flu\n;1.4.2027;;12:00;early\n"
    page = visitor.post("/lists/absences/", {"rows": text}, follow=True)
    assert page.status_code == 200, page.content
    form = list_form(page.content.decode()) | {"take": "take"}
    assert visitor.post(page.request["PATH_INFO"], form).status_code == 302
    rows = {row.person: (row.day, row.last, row.hour, row.note) for row in DayOff.objects.all()}
    assert rows == {
        ana: (date(2027, 3, 1), date(2027, 3, 12), None, "flu"),
        None: (date(2027, 4, 1), None, time(12), "early"),
    }
    undo_last()
    row = DayOff.objects.get()
    assert (row.last, row.note) == (None, "course")


def test_a_copy_of_the_shop_brings_absences_and_closings_back_as_they_were(ana: Person) -> None:
    add_absence(ana, date(2026, 3, 9), last=date(2026, 9, 4), hour=time(13, 30), why="child")
    add_absence(None, date(2026, 3, 6), hour=time(12), why="stocktaking")
    before = [DayOff.objects.order_by("pk").values(), planning_people(), planning_calendar(date(2026, 3, 2))]
    file, rows = io.BytesIO(), list(before[0])
    copy_file.write_copy(file)
    copy_file._empty()
    assert not DayOff.objects.exists()
    with zipfile.ZipFile(file) as packed:
        copy_file.put_back(packed)
    assert list(DayOff.objects.order_by("pk").values()) == rows
    assert [planning_people(), planning_calendar(date(2026, 3, 2))] == before[1:]


def test_the_week_says_who_is_away(ana: Person) -> None:
    add_absence(ana, date(2027, 3, 4), date(2027, 3, 9), time(12))
    person = planning_people()[0]
    words = [away_words(person, date(2027, 3, 1) + timedelta(weeks=n)) for n in range(3)]
    assert words == ["Thu from 12:00 to Sun", "Mon to Tue", ""]
