"""What is asked after the work."""

from typing import Any

from django import forms
from django.utils import timezone

from hidewright.workshop.account.queries import WHOSE
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.pieces.models import Piece

DAY = {"format": "%Y-%m-%d", "attrs": {"type": "date"}}


class ChargeForm(forms.Form):
    """A line on the account."""

    snag = forms.ModelChoiceField(
        label="For a repair", queryset=Snag.objects.none(), required=False, empty_label="none of them"
    )
    text = forms.CharField(
        label="What for", max_length=160, required=False, help_text="Empty: as the repair says."
    )
    amount = forms.DecimalField(
        label="Money before tax",
        max_digits=10,
        decimal_places=2,
        help_text="With a minus it is taken off.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, snags: list[Snag], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["snag"].queryset = Snag.objects.filter(pk__in=[row.pk for row in snags])  # type: ignore[attr-defined]
        if not snags:
            del self.fields["snag"]


class LessonForm(forms.Form):
    """What a job taught."""

    text = forms.CharField(
        label="What did this job teach?",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="It is shown where the next price is made.",
    )


class ClaimForm(forms.Form):
    """A claim, or damage that came later."""

    what = forms.CharField(label="What is wrong?", max_length=240)
    pieces = forms.ModelMultipleChoiceField(
        label="Which pieces?", queryset=Piece.objects.none(), widget=forms.CheckboxSelectMultiple
    )
    whose = forms.ChoiceField(label="Whose is it?", choices=list(WHOSE.items()))
    reported_by = forms.CharField(label="Who said so?", max_length=120, required=False)
    day = forms.DateField(label="Day", initial=timezone.localdate, widget=forms.DateInput(**DAY))  # type: ignore[arg-type]

    def __init__(self, *args: Any, pieces: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["pieces"].queryset = pieces  # type: ignore[attr-defined]


class SettleForm(forms.Form):
    """How a claim ended."""

    whose = forms.ChoiceField(
        label="Whose was it?", choices=[(key, words) for key, words in WHOSE.items() if key != "open"]
    )
    outcome = forms.CharField(label="How did it end?", max_length=240, required=False)
    day = forms.DateField(label="Day", initial=timezone.localdate, widget=forms.DateInput(**DAY))  # type: ignore[arg-type]
