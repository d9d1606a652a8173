"""Nights on which the clocks change, by the zone tables of the machine (IANA: Berlin goes forward on 29 March 2026 and back on 25 October 2026)."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from hidewright.workshop.days.clock_queries import clock_changes


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
    assert "Leave what cures over that night alone 1 h longer" in change.words
