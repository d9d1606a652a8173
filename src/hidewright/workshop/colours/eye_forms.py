"""What a form says of a comparison: the two sides, wet or dry, and what an eye or a photo saw."""

from typing import Any

from django import forms

from hidewright.colour.cups.words import STRENGTHS
from hidewright.colour.reading.stick import Mark
from hidewright.refusals import Refusal
from hidewright.workshop.colours.cup_actions import Against
from hidewright.workshop.colours.eye_queries import sides
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.shelf.models import MixVessel

PAIRS = (
    ("light", "lighter", "darker"),
    ("red", "redder", "greener"),
    ("yellow", "yellower", "bluer"),
    ("clean", "cleaner", "greyer"),
)
STATES = [("dry", "dry"), ("wet", "wet")]


def _choices(one: str, other: str) -> list[tuple[str, str]]:
    said = [(f"{strength}|{word}", f"{strength} {word}") for word in (one, other) for strength in STRENGTHS]
    return [("", "the same"), *said]


class SidesForm(forms.Form):
    """What a cup is held against, and whether both are wet or both dry."""

    against = forms.ChoiceField(label="Held against", required=False)
    sample = forms.CharField(
        label="Which stick or sample", max_length=60, required=False, help_text="Such as: stick of Monday."
    )
    state = forms.ChoiceField(label="Both were", choices=STATES)

    def __init__(self, *args: Any, vessel: MixVessel, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["against"].choices = sides(vessel)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A stick or sample needs a name, since it is known again by it."""
        cleaned = super().clean() or {}
        if cleaned.get("against") == "stick" and not cleaned.get("sample", "").strip():
            self.add_error("sample", "Give it a name, by which it is known again.")
        return cleaned

    def other(self) -> Against:
        """The other side."""
        key = self.cleaned_data.get("against") or "piece"
        if key == "stick":
            return Against(swatch=self.cleaned_data["sample"])
        if key == "piece":
            return Against()
        return Against(MixVessel.objects.get(pk=int(key.removeprefix("v"))))


class EyeForm(SidesForm):
    """What an eye says of the cup against something else."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, one, other in PAIRS:
            self.fields[name] = forms.ChoiceField(
                label=f"{one.capitalize()} or {other}?", required=False, choices=_choices(one, other)
            )
        self.order_fields(["against", "sample", "state", *(name for name, _, _ in PAIRS)])

    def words(self) -> list[tuple[str, str]]:
        """(word, strength) for everything that is not the same."""
        said = [self.cleaned_data[name] for name, _, _ in PAIRS]
        pairs = [value.partition("|") for value in said if value]
        return [(word, strength) for strength, _, word in pairs]


class StickForm(SidesForm):
    """A photo of one stick or card that holds both colours."""

    photo = forms.FileField(
        label="Photo",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png", "capture": "environment"}),
    )
    field_order = ("photo", "against", "sample", "state")


MARKS = ("x1", "y1", "x2", "y2")


class MarksForm(SidesForm):
    """Two marks on a picture, in per cent from its upper left: the first on the cup's colour, the second on the other."""

    picture = forms.SlugField(max_length=64, widget=forms.HiddenInput)
    x1 = NumberField(label="1 across, %", required=False)
    y1 = NumberField(label="1 down, %", required=False)
    x2 = NumberField(label="2 across, %", required=False)
    y2 = NumberField(label="2 down, %", required=False)

    def marks(self) -> tuple[Mark, Mark]:
        """The two marks; refuses what lies beside the picture, or was not marked."""
        values = [self.cleaned_data.get(name) for name in MARKS]
        if any(value is None for value in values):
            raise Refusal(
                "Two marks are needed.", where="mark", remedy="Tap once on each of the two colours."
            )
        x1, y1, x2, y2 = (float(value) / 100 for value in values if value is not None)
        return Mark(x1, y1), Mark(x2, y2)
