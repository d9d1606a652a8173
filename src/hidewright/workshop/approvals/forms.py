"""What is asked for a colour sheet, an agreement, and a link."""

from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone

from hidewright.colour.light.far import NEAR_ENOUGH
from hidewright.workshop.approvals.queries import LIGHTS, USUAL, WAYS, SheetShown
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.frame.signature_forms import SignatureField

DAY = {"format": "%Y-%m-%d", "attrs": {"type": "date"}}


class SheetForm(forms.Form):
    """Which variants are put side by side."""

    ways = forms.MultipleChoiceField(
        label="Side by side",
        choices=[(key, name) for key, (name, _) in WAYS.items()],
        initial=USUAL,
        widget=forms.CheckboxSelectMultiple,
    )
    note = forms.CharField(label="Note for the sheet", max_length=400, required=False)

    def __init__(self, *args: Any, was_known: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not was_known:
            self.fields["ways"].choices = [  # type: ignore[attr-defined]
                (key, name) for key, (name, _) in WAYS.items() if key != "was"
            ]
            self.fields["ways"].initial = [key for key in USUAL if key != "was"]


class HoldForm(forms.Form):
    """When an answer is expected."""

    until = forms.DateField(
        label="Answer expected by",
        initial=lambda: timezone.localdate() + timedelta(days=7),
        widget=forms.DateInput(**DAY),  # type: ignore[arg-type]
        help_text="With none by then they wait on.",
    )


class AgreeForm(forms.Form):
    """Who agreed to which variant, when, and in which light."""

    variant = forms.ChoiceField(label="Which one?", widget=forms.RadioSelect)
    name = forms.CharField(label="Who agrees?", max_length=120)
    day = forms.DateField(label="Day", initial=timezone.localdate, widget=forms.DateInput(**DAY))  # type: ignore[arg-type]
    light = forms.CharField(
        label="In which light?",
        max_length=80,
        widget=forms.TextInput(attrs={"list": "lights"}),
        initial=LIGHTS[0],
    )
    judged_on = forms.ChoiceField(
        label="Judged on",
        choices=[
            ("panel", "the real panel"),
            ("piece", "a piece"),
            ("cup", "a cup"),
            ("screen", "a screen only"),
        ],
    )
    tolerance = NumberField(label="Near enough", min_value=0.05, max_value=10, help_text=NEAR_ENOUGH)
    signature = SignatureField(required=False)
    scan = forms.FileField(
        label="Or a picture of the signed sheet",
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )

    def __init__(self, *args: Any, sheet: SheetShown, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["variant"].choices = [  # type: ignore[attr-defined]
            (str(v.row.pk), f"{v.row.name} ({v.code})") for v in sheet.variants
        ]


class LinkForm(forms.Form):
    """For whom a link is made, and how long it lasts."""

    for_whom = forms.CharField(label="For whom?", max_length=120, required=False)
    days = forms.IntegerField(label="Days it lasts", min_value=1, max_value=90, initial=14)
