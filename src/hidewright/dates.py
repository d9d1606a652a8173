"""Days as people read them: one set of forms for pages, papers and commands."""

from datetime import date, datetime


def show_day(day: date) -> str:
    """ "3 Mar 2026": a form that nobody can read as another day."""
    return f"{day.day} {day:%b %Y}"


def short_day(day: date) -> str:
    """ "Tue 3 Mar": a day of a plan, where the year is plain."""
    return f"{day:%a} {day.day} {day:%b}"


def dated_day(day: date) -> str:
    """ "Tue 3 Mar 2026": a day of a plan, where the year is not plain."""
    return f"{short_day(day)} {day.year}"


def long_day(day: date) -> str:
    """ "Tuesday 3 March 2026"."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def short_moment(moment: datetime) -> str:
    """ "Tue 3 Mar 14:05": a time of a plan, where the year is plain."""
    return f"{short_day(moment)} {moment:%H:%M}"


def show_moment(moment: datetime) -> str:
    """ "3 Mar 2026, 14:05", on the clock of `moment`'s own zone."""
    return f"{show_day(moment)}, {moment:%H:%M}"
