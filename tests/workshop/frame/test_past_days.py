"""Days on which something happened, and what fields say at their borders, in plain words."""

from datetime import timedelta

import pytest
from django import forms
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.frame.past_days import LONGEST_AGO, refuse_other_than_past


@pytest.mark.parametrize(
    ("ago", "says"),
    [
        (timedelta(days=-1), "Not yet"),
        (timedelta(0), ""),
        (timedelta(days=400), ""),
        (LONGEST_AGO, ""),
        (LONGEST_AGO + timedelta(days=1), "Look at the year"),
    ],
)
def test_a_day_to_come_and_a_slip_of_the_year_are_refused(ago: timedelta, says: str) -> None:
    day = timezone.localdate() - ago
    if not says:
        refuse_other_than_past(day, "Not yet.")
        return
    with pytest.raises(Refusal, match=says):
        refuse_other_than_past(day, "Not yet.")


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        (NumberField(min_value=0.05, max_value=10), "-1", "At least 0.05."),
        (NumberField(min_value=0.05, max_value=10), "11", "At most 10."),
        (forms.IntegerField(min_value=0, max_value=200), "201", "At most 200."),
        (forms.CharField(max_length=4), "Ślady", "At most 4 letters; these are 5."),
    ],
)
def test_what_lies_outside_is_said_plainly(field: forms.Field, text: str, says: str) -> None:
    with pytest.raises(forms.ValidationError, match=says):
        field.clean(text)
