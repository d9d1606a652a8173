"""The form of an absence: of one day, or from a day to a day."""

from typing import Any

from django import forms
from django.shortcuts import get_object_or_404

from hidewright.workshop.shop.models import Person


def _day(label: str, **more: Any) -> forms.DateField:
    return forms.DateField(
        label=label, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}), **more
    )


class AbsenceForm(forms.Form):
    """Who is away, from when, until when, and why."""

    who = forms.ChoiceField(label="Who", required=False)
    day = _day("From")
    last = _day("To", required=False, help_text="The last day without work. Empty: only that one day.")
    hour = forms.TimeField(
        label="On the first day from",
        required=False,
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        help_text="Empty: the whole day.",
    )
    note = forms.CharField(label="Why", max_length=80, required=False)
    beside = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, person: Person | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        who = self.fields["who"]
        assert isinstance(who, forms.ChoiceField)
        people = Person.objects.filter(active=True)
        who.choices = [("", "The whole shop"), *((str(p.pk), p.name) for p in people)]
        if person is not None:
            who.choices = [(str(person.pk), person.name)]
            who.widget = forms.HiddenInput()
            self.initial.update(who=str(person.pk), beside=True)

    def person(self) -> Person | None:
        """The person chosen; None means the whole shop."""
        chosen = self.cleaned_data["who"]
        return get_object_or_404(Person, pk=chosen) if chosen else None
