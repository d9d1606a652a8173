"""Forms for the rows of the inspection: a part that shows in another position, a colour against what was agreed."""

from typing import Any

from django import forms

from hidewright.safety.finish import GRADES
from hidewright.workshop.colours.models import Reading
from hidewright.workshop.inspection.colour_queries import WAYS, loose_readings
from hidewright.workshop.shop.models import Job

LIST = {"list": "pieces", "autocomplete": "off"}


class HiddenForm(forms.Form):
    """A part that shows in another position only."""

    piece = forms.CharField(label="Piece", max_length=40, widget=forms.TextInput(attrs=LIST))
    part = forms.CharField(label="What shows", max_length=60, help_text="Such as: underside, hinge side.")
    position = forms.CharField(label="When", max_length=80, help_text="Such as: flap up, seat reclined.")


class ColourForm(forms.Form):
    """A colour against what was agreed."""

    piece = forms.CharField(label="Piece", max_length=120, widget=forms.TextInput(attrs=LIST))
    way = forms.ChoiceField(label="How", choices=list(WAYS.items()))
    reading = forms.ModelChoiceField(
        label="Reading of the piece",
        queryset=Reading.objects.none(),
        required=False,
        empty_label="none: by eye",
        help_text="From a photo or an instrument; bring it on the page Colour.",
    )
    grade = forms.ChoiceField(
        label="By eye: grade",
        choices=[("", "choose"), *((grade, grade) for grade in reversed(GRADES))],
        required=False,
        help_text="Grey scale: 5 is no difference.",
    )
    result = forms.ChoiceField(
        label="Result",
        choices=[("", "as the figure says"), ("good", "good"), ("again", "to be done again")],
        required=False,
    )
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, job: Job, sent: Any = None) -> None:
        super().__init__(sent, prefix="colour")
        field = self.fields["reading"]
        field.queryset = Reading.objects.filter(job=job, struck=None)  # type: ignore[attr-defined]
        field.choices = [("", "none: by eye"), *loose_readings(job).items()]  # type: ignore[attr-defined]


def forms_of(job: Job) -> dict[str, forms.Form]:
    """The empty forms, by the names under which the page shows them."""
    return {"hidden_form": HiddenForm(prefix="hidden"), "colour_form": ColourForm(job)}
