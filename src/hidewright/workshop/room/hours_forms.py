"""The form of a week's hours."""

from datetime import time
from typing import Any

from django import forms

from hidewright.refusals import Refusal
from hidewright.workshop.room.actions import read_shifts

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class WeekForm(forms.Form):
    """The hours of a week, a line a day; a shift over midnight is written on the day on which it begins."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, name in enumerate(WEEKDAYS):
            self.fields[f"day{number}"] = forms.CharField(
                label=name,
                required=False,
                max_length=120,
                widget=forms.TextInput(attrs={"placeholder": "no work", "autocomplete": "off"}),
            )

    def clean(self) -> dict[str, Any]:
        """Read each day's stretches."""
        data = super().clean() or {}
        self.week: dict[int, list[tuple[time, time]]] = {}
        after: dict[int, time] = {}
        for number, name in enumerate(WEEKDAYS):
            try:
                self.week[number], over = read_shifts(data.get(f"day{number}") or "", name)
            except Refusal as refusal:
                self.add_error(f"day{number}", f"{refusal.what} {refusal.remedy}")
                continue
            if over:
                after[(number + 1) % 7] = over
        for number, until in after.items():
            stretches = self.week.setdefault(number, [])
            if stretches and stretches[0][0] < until:
                self.add_error(
                    f"day{number}",
                    f"The shift of {WEEKDAYS[number - 1]} goes on until {until:%H:%M}, and this begins before that. Begin later, or end that shift at 24:00.",
                )
            stretches.insert(0, (time(0), until))
        return data
