"""Absences from a day to a day: what the calendar leaves of the hours, and how lists write them."""

import itertools
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.planning.problem.absences import Absence, absences_in, absences_of, days_of
from hidewright.planning.problem.calendar import Calendar, Person, Week
from hidewright.refusals import Refusal

MONDAY = date(2026, 3, 2)
WEEK = Week(dict.fromkeys(range(5), ((480, 720), (750, 1020))))


def absence(number: int, length: int, since: int) -> Absence:
    first = MONDAY + timedelta(days=number)
    return Absence(first, first + timedelta(days=length), since)


away = st.builds(absence, st.integers(-5, 18), st.integers(0, 9), st.sampled_from([0, 0, 480, 600, 735, 800]))


@given(st.lists(away, max_size=4))
def test_hours_are_those_of_the_week_without_the_minutes_away(absences: list[Absence]) -> None:
    """Counted minute by minute, apart from the calendar."""
    person = Person("ana", "Ana", WEEK, absences=tuple(absences))
    got = {m for a, b in Calendar(MONDAY, days=14).stretches(person) for m in range(a, b, 15)}
    expected = set()
    for number in range(14):
        day = MONDAY + timedelta(days=number)
        for minute in [m for a, b in WEEK.hours.get(day.weekday(), ()) for m in range(a, b, 15)]:
            gone = any(x.first < day <= x.last or (x.first == day and minute >= x.since) for x in absences)
            if not gone:
                expected.add(number * 1440 + minute)
    assert got == expected


@given(st.lists(away, max_size=4))
def test_days_put_together_again_are_the_same_days(absences: list[Absence]) -> None:
    days = days_of(absences)
    again = absences_of(days.items())
    assert days_of(again) == days
    assert all(b.first - a.last > timedelta(days=1) or b.since for a, b in itertools.pairwise(again))


def test_absences_as_lists_write_them() -> None:
    text = "2026-03-02 + 2026-03-09 to 2026-03-20, 1.4.2026 13:00; 2 May 2026 - 5 May 2026"
    assert [a.words for a in absences_in(text)] == [
        "Mon 2 Mar 2026",
        "Mon 9 Mar to Fri 20 Mar 2026",
        "Wed 1 Apr 2026 from 13:00",
        "Sat 2 May to Tue 5 May 2026",
    ]
    assert absences_in(" ") == ()


@pytest.mark.parametrize(
    "text",
    [
        "3/2/2026",
        "2026-02-30",
        "2026-03-09 to 2026-03-02",
        "2026-03-02 to 2029-03-02",
        "2026-03-02 25:00",
        "soon",
    ],
)
def test_what_is_no_absence_is_refused_at_its_column(text: str) -> None:
    with pytest.raises(Refusal) as refused:
        absences_in(text)
    assert refused.value.where == "off"
    assert refused.value.remedy
