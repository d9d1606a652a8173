"""What is asked at the end of a job."""

from typing import Any

from django import forms
from django.utils import timezone

from hidewright.workshop.frame.signature_forms import SignatureField

DAY = {"format": "%Y-%m-%d", "attrs": {"type": "date"}}


class HandOverForm(forms.Form):
    """Who takes it over, what goes along for touching up, and the signature at the other end."""

    to = forms.CharField(label="Who takes it over?", max_length=120)
    day = forms.DateField(label="Day", initial=timezone.localdate, widget=forms.DateInput(**DAY))  # type: ignore[arg-type]
    kit = forms.MultipleChoiceField(label="Goes along", required=False, widget=forms.CheckboxSelectMultiple)
    note = forms.CharField(label="Note", max_length=400, required=False)
    signature = SignatureField()

    def __init__(self, *args: Any, kit: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kit"].choices = [(each, each) for each in kit]  # type: ignore[attr-defined]
        self.fields["kit"].initial = kit


class StaysForm(forms.Form):
    """Why pieces do not go out now."""

    stays = forms.CharField(label="Stays here, because", max_length=240, required=False)
