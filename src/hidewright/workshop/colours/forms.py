"""A colour typed as an instrument or a letter states it: L*, a*, b* or L*, C*, h, with its light and observer."""

from math import cos, radians, sin
from typing import Any

from django import forms

from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.pigments.values import LIGHT_NAMES

SPACES = (("lab", "L*, a*, b*"), ("lch", "L*, C*, h"))
WIDEST = 150.0
"""a*, b* and C* beyond this are slips."""


class TypedColourForm(forms.Form):
    """The figures of one colour; `lab` in the cleaned data holds them as L*, a*, b*."""

    space = forms.ChoiceField(label="Stated as", choices=SPACES, required=False)
    l = NumberField(label="L*", min_value=0.1, max_value=99.9)  # noqa: E741
    a = NumberField(label="a*, or C*", min_value=-WIDEST, max_value=WIDEST)
    b = NumberField(label="b*, or h in degrees", min_value=-WIDEST, max_value=360)
    light = forms.ChoiceField(label="Light", choices=list(LIGHT_NAMES.items()))
    observer = forms.ChoiceField(label="Observer", choices=[("10", "10°"), ("2", "2°")])

    def clean(self) -> dict[str, Any]:
        """Bring C* and h to a* and b*; refuse what neither can be."""
        told = super().clean() or {}
        if self.errors:
            return told
        lightness, one, two = told["l"], told["a"], told["b"]
        if told["space"] == "lch":
            if one < 0:
                self.add_error("a", "C* is nothing or more.")
            if two < 0:
                self.add_error("b", "The hue is an angle from 0 to 360 degrees.")
            one, two = one * cos(radians(two)), one * sin(radians(two))
        elif two > WIDEST:
            self.add_error("b", f"b* is at most {WIDEST:g}.")
        return {**told, "lab": (lightness, one, two)}
