"""A form that is signed on the screen."""

from typing import Any

from django import forms

from hidewright.charts.signature import LONGEST_TEXT, read_signature
from hidewright.refusals import Refusal


class SignatureField(forms.CharField):
    """What was signed in the field of `parts/sign.html`, as plain strokes; None where nothing was drawn and nothing must be."""

    widget = forms.HiddenInput

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"label": "Signature", "max_length": LONGEST_TEXT, **kwargs})

    def clean(self, value: Any) -> list[list[list[int]]] | None:
        """The strokes as lists; refused in words where they are no signature."""
        text = str(value or "").strip()
        if not self.required and text in ("", "[]"):
            return None
        try:
            return read_signature("" if text == "[]" else text).data()
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal)) from refusal


class SignForm(forms.Form):
    """Who signs, and the signature."""

    name = forms.CharField(label="Name", max_length=120)
    signature = SignatureField()
