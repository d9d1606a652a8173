"""Days on which something happened: not one to come, and none whose year is a slip of the finger."""

from datetime import date, timedelta

from django.utils import timezone

from hidewright.refusals import Refusal

LONGEST_AGO = timedelta(days=50 * 366)
"""Longer ago nobody writes down what happened on a job; a year typed wrong looks like that."""


def refuse_other_than_past(day: date, to_come: str, where: str = "Day") -> None:
    """Refuse a day to come in these words, and one so long ago that its year must be a slip."""
    today = timezone.localdate()
    if day > today:
        raise Refusal(to_come, where=where, remedy="Choose today or earlier.")
    if day < today - LONGEST_AGO:
        raise Refusal("This day is more than fifty years ago.", where=where, remedy="Look at the year.")
