"""Fields that read figures as people write them, on every form."""

from typing import Any

from django import forms

from hidewright.refusals import Refusal
from hidewright.units import read_mass, read_number, read_volume


class NumberField(forms.FloatField):
    """A number: 12.5, 0,5 or 3/8. Where it may lie below nothing, a phone offers the keys with a minus."""

    widget = forms.TextInput

    def __init__(
        self, *, min_value: float | None = None, max_value: float | None = None, **kwargs: Any
    ) -> None:
        self.below_nothing = min_value is None or min_value < 0
        super().__init__(min_value=min_value, max_value=max_value, **kwargs)

    def to_python(self, value: Any) -> Any:
        """The number, or None where nothing was written."""
        if value in self.empty_values:
            return None
        try:
            return read_number(str(value))
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal), code="invalid") from refusal

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """The keys that a phone shows."""
        keys = {} if self.below_nothing else {"inputmode": "decimal"}
        return {**super().widget_attrs(widget), "autocomplete": "off", **keys}


class WeighedField(NumberField):
    """What was read off the balance, in g: a number, or one with its unit, such as 1 1/2 oz."""

    def to_python(self, value: Any) -> Any:
        """Grams, or None where nothing was written."""
        text = str(value).strip().lower()
        if not text.endswith(("g", "oz", "lb")):
            return super().to_python(value)
        try:
            return read_mass(text)
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal), code="invalid") from refusal


class VolumeField(forms.CharField):
    """A volume in mL from “250 mL”, “12 fl oz”, “2 x 5 L” or a bare number of mL.

    Above nothing, or nothing too where `may_be_nothing` (an empty can was counted), and up to 200 L.
    """

    LARGEST = 200_000

    def __init__(self, *, may_be_nothing: bool = False, **kwargs: Any) -> None:
        self.may_be_nothing = may_be_nothing
        super().__init__(**{"max_length": 30, **kwargs})

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """No list of what was typed before."""
        return {**super().widget_attrs(widget), "autocomplete": "off"}

    def clean(self, value: Any) -> float | None:
        """mL, or None where nothing was written and nothing must be."""
        text = super().clean(value)
        if not text:
            return None
        try:
            millilitres = read_volume(text, "mL")
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if millilitres < 0 or millilitres > self.LARGEST or not (millilitres or self.may_be_nothing):
            raise forms.ValidationError("Write a volume above nothing and up to 200 L.")
        return millilitres
