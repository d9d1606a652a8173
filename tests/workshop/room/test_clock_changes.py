"""Nights on which the clocks change, by the zone tables of the machine (IANA: Berlin goes forward on 29 March 2026 and back on 25 October 2026)."""

from datetime import date, datetime, timedelta

import pytest
from django.utils import timezone

from hidewright.workshop.room.clock_queries import clock_changes, missing_times
from hidewright.workshop.room.queries import planning_calendar


def week_from(first: date) -> list[date]:
    return [first + timedelta(days=n) for n in range(7)]


@pytest.mark.parametrize(
    ("zone", "first", "changes"),
    [
        ("Europe/Berlin", date(2026, 3, 26), [(date(2026, 3, 29), -1)]),
        ("Europe/Berlin", date(2026, 10, 20), [(date(2026, 10, 25), 1)]),
        ("America/New_York", date(2026, 3, 5), [(date(2026, 3, 8), -1)]),
        ("Europe/Berlin", date(2026, 6, 1), []),
        ("America/Phoenix", date(2026, 3, 5), []),
    ],
)
def test_a_night_on_which_the_clocks_change_is_named(
    zone: str, first: date, changes: list[tuple[date, float]]
) -> None:
    with timezone.override(zone):
        assert [(c.day, c.hours) for c in clock_changes(week_from(first))] == changes


def test_the_words_say_what_to_do() -> None:
    with timezone.override("Europe/Berlin"):
        (change,) = clock_changes(week_from(date(2026, 3, 26)))
    assert change.words.startswith("In the night to Sun 29 Mar the clocks change: it is 1 h shorter")
    assert "what cures over it is left alone an hour longer by the clock" in change.words


@pytest.mark.parametrize(
    ("zone", "first", "missing"),
    [
        ("Europe/Berlin", date(2026, 3, 26), [(datetime(2026, 3, 29, 2), datetime(2026, 3, 29, 3))]),
        ("America/Chicago", date(2026, 3, 5), [(datetime(2026, 3, 8, 2), datetime(2026, 3, 8, 3))]),
        ("America/Santiago", date(2026, 9, 3), [(datetime(2026, 9, 6, 0), datetime(2026, 9, 6, 1))]),
        (
            "Australia/Lord_Howe",
            date(2026, 10, 1),
            [(datetime(2026, 10, 4, 2), datetime(2026, 10, 4, 2, 30))],
        ),
        ("Europe/Berlin", date(2026, 10, 20), []),
        ("America/Chicago", date(2026, 10, 29), []),
        ("America/Phoenix", date(2026, 3, 5), []),
    ],
)
def test_the_times_that_a_clock_leaves_out(
    zone: str, first: date, missing: list[tuple[datetime, datetime]]
) -> None:
    with timezone.override(zone):
        assert list(missing_times(first, 7)) == missing


def test_the_planners_calendar_knows_them(db: None) -> None:
    with timezone.override("America/Chicago"):
        calendar = planning_calendar(date(2026, 3, 2))
    # Six midnights on from Monday the 2nd, from two to three at night.
    assert calendar.gaps[0] == (6 * 1440 + 120, 6 * 1440 + 180)
